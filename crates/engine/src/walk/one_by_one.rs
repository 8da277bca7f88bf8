use tallyhouse_board::House;

use crate::marks::{HouseMarks, Marks};
use crate::{Contradiction, Find, Look, Position};

/// What is counted of the looks of a walk.
pub(crate) trait Count: Copy + Default {
    /// Counts one look in one house, which ended at this find.
    fn of_look(marks: &HouseMarks, look: Look, found: Option<&Find>) -> Self;

    fn add(&mut self, other: Self);
}

/// Counts nothing.
impl Count for () {
    fn of_look(_: &HouseMarks, _: Look, _: Option<&Find>) -> Self {}

    fn add(&mut self, (): Self) {}
}

/// Makes looks as a person does: in order, each in the houses as listed, up to the first find.
pub(crate) struct OneByOne<'a, C> {
    looks: &'a [Look],
    houses: &'a [House],
    /// What each look counted, by house index, where it failed and the house has not changed since.
    failed: Vec<[Option<C>; House::COUNT]>,
}

impl<'a, C: Count> OneByOne<'a, C> {
    pub(crate) fn new(looks: &'a [Look], houses: &'a [House]) -> Self {
        Self { looks, houses, failed: vec![[None; House::COUNT]; looks.len()] }
    }

    /// Makes looks until one finds something; returns its index and the find. `made` is told of each
    /// look: its index, what was counted, and whether it found something.
    ///
    /// # Errors
    /// If there are looks for subsets and a house has more cells than candidates for them.
    pub(crate) fn find(
        &mut self,
        position: &Position,
        marks: &Marks,
        mut made: impl FnMut(usize, C, bool),
    ) -> Result<Option<(usize, Find)>, Contradiction> {
        let looks = self.looks;
        for (index, &look) in looks.iter().enumerate() {
            if look.is_for_subsets() {
                marks.check()?;
            }
            let (count, find) = self.make(index, look, position, marks);
            made(index, count, find.is_some());
            if let Some(find) = find {
                return Ok(Some((index, find)));
            }
        }
        Ok(None)
    }

    /// Makes one look in the houses, up to the first find.
    fn make(
        &mut self,
        index: usize,
        look: Look,
        position: &Position,
        marks: &Marks,
    ) -> (C, Option<Find>) {
        let mut count = C::default();
        for &house in self.houses {
            let failed = &mut self.failed[index][house.index()];
            if let Some(known) = failed {
                count.add(*known);
                continue;
            }
            let mut find = marks.of(house).find(look, position);
            let of_look = C::of_look(marks.of(house), look, find.as_ref());
            count.add(of_look);
            if let Some(Find::Subset(subset)) = &mut find {
                subset.applied = true;
            }
            if find.is_some() {
                return (count, find);
            }
            // Holds for intersections too: where no digit is newly confined, the other houses, which
            // only lose candidates, offer nothing new to remove.
            *failed = Some(of_look);
        }
        (count, None)
    }

    /// Forgets where looks failed in houses that have changed.
    pub(crate) fn forget(&mut self, changed: &[House]) {
        for failed in &mut self.failed {
            for house in changed {
                failed[house.index()] = None;
            }
        }
    }
}
