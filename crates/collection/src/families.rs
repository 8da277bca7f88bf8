//! Families that stand together: no row of another family stands between the rows of one.

use std::collections::BTreeMap;

/// Watches the families of rows that are read one by one.
///
/// Families that are numbered in the order in which they come need no memory; others need a little for
/// each gap.
#[derive(Clone, Debug, Default)]
pub struct Families {
    open: Option<u64>,
    /// Those that came before, as ranges: the first with the last.
    closed: BTreeMap<u64, u64>,
}

impl Families {
    /// Takes the family of the next row; `false` if it was left for another one before.
    pub fn take(&mut self, family: u64) -> bool {
        if self.open == Some(family) {
            return true;
        }
        if let Some(left) = self.open.replace(family) {
            self.close(left);
        }
        !self.has(family)
    }

    fn has(&self, family: u64) -> bool {
        self.closed.range(..=family).next_back().is_some_and(|(_, &last)| family <= last)
    }

    fn close(&mut self, family: u64) {
        let mut range = (family, family);
        let before = self.closed.range(..family).next_back().map(|(&first, &last)| (first, last));
        if let Some((first, last)) = before
            && last + 1 == family
        {
            range.0 = first;
        }
        if let Some(last) = family.checked_add(1).and_then(|next| self.closed.remove(&next)) {
            range.1 = last;
        }
        self.closed.insert(range.0, range.1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_family_that_returns_is_noticed() {
        let mut families = Families::default();
        for family in [3, 3, 0, 1, 1, 2, 9, u64::MAX, 8, 7] {
            assert!(families.take(family), "{family}");
        }
        assert_eq!(families.closed, BTreeMap::from([(0, 3), (8, 9), (u64::MAX, u64::MAX)]));
        assert!(families.take(7));
        for family in [3, 9, 2, u64::MAX] {
            assert!(!families.clone().take(family), "{family}");
        }
    }
}
