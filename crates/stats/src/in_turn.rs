//! Clusters whose members stand next to each other.

use std::collections::HashSet;
use std::ops::AddAssign;

use crate::StatsError;

/// Sums over clusters, to which whole clusters are added.
pub trait ClusterSums: Default {
    /// What is summed within one cluster.
    type Cluster: Default + for<'a> AddAssign<&'a Self::Cluster>;

    /// Adds a whole cluster.
    fn close(&mut self, cluster: &Self::Cluster);

    /// Adds other sums.
    fn merge(&mut self, other: Self);
}

/// Sums over units in turn: a family is a cluster, and its units stand next to each other; a unit
/// without a family is a cluster of its own. Runs of units can be summed apart and appended in order;
/// only the first and the last family of a run are kept open, and no more than their numbers of the
/// others.
#[derive(Debug, Default)]
pub struct InTurn<S: ClusterSums> {
    /// The family of the first unit, which an earlier run may have begun.
    first: Option<(u64, S::Cluster)>,
    /// Whether anything else came after the first family.
    first_is_over: bool,
    sums: S,
    /// The family of the last unit, if it isn't the first.
    last: Option<(u64, S::Cluster)>,
    over: HashSet<u64>,
}

impl<S: ClusterSums> InTurn<S> {
    /// Adds the next unit.
    ///
    /// # Errors
    /// If its family returns after others.
    pub fn add(&mut self, family: Option<u64>, unit: &S::Cluster) -> Result<(), StatsError> {
        let Some(family) = family else {
            self.end_family();
            self.sums.close(unit);
            return Ok(());
        };
        self.open(family, unit, false)
    }

    /// Appends the run that follows.
    ///
    /// # Errors
    /// If a family returns after others.
    pub fn append(&mut self, next: Self) -> Result<(), StatsError> {
        let Self { first, first_is_over, sums, last, over } = next;
        let begun = first.as_ref().map(|(family, _)| *family);
        match first {
            Some((family, cluster)) => self.open(family, &cluster, first_is_over)?,
            None if first_is_over => self.end_family(),
            None => return Ok(()),
        }
        self.sums.merge(sums);
        for family in over.into_iter().filter(|family| Some(*family) != begun) {
            if !self.over.insert(family) {
                return Err(StatsError::FamilyReturns(family));
            }
        }
        last.map_or(Ok(()), |(family, cluster)| self.open(family, &cluster, false))
    }

    /// Ends the last family and returns the sums over all clusters.
    #[must_use]
    pub fn finish(mut self) -> S {
        for (_, cluster) in [self.first.take(), self.last.take()].into_iter().flatten() {
            self.sums.close(&cluster);
        }
        self.sums
    }

    /// Adds to the family that is open, or opens this one.
    fn open(&mut self, family: u64, unit: &S::Cluster, is_over: bool) -> Result<(), StatsError> {
        let is_new = self.first.is_none() && !self.first_is_over;
        let place = if is_new || !self.first_is_over { &mut self.first } else { &mut self.last };
        match place {
            Some((open, cluster)) if *open == family => *cluster += unit,
            _ => {
                if !is_new {
                    self.end_family();
                }
                if self.over.contains(&family) {
                    return Err(StatsError::FamilyReturns(family));
                }
                let mut cluster = S::Cluster::default();
                cluster += unit;
                let place = if is_new { &mut self.first } else { &mut self.last };
                *place = Some((family, cluster));
            }
        }
        if is_over {
            self.end_family();
        }
        Ok(())
    }

    fn end_family(&mut self) {
        if !self.first_is_over {
            self.first_is_over = true;
            self.over.extend(self.first.as_ref().map(|(family, _)| *family));
        } else if let Some((family, cluster)) = self.last.take() {
            self.sums.close(&cluster);
            self.over.insert(family);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The clusters as they come, sorted.
    #[derive(Debug, Default, PartialEq)]
    struct All(Vec<Vec<u32>>);

    #[derive(Debug, Default)]
    struct Members(Vec<u32>);

    impl AddAssign<&Self> for Members {
        fn add_assign(&mut self, other: &Self) {
            self.0.extend(&other.0);
        }
    }

    impl ClusterSums for All {
        type Cluster = Members;

        fn close(&mut self, cluster: &Members) {
            self.0.push(cluster.0.clone());
        }

        fn merge(&mut self, other: Self) {
            self.0.extend(other.0);
        }
    }

    fn run(units: &[(Option<u64>, u32)]) -> Result<InTurn<All>, StatsError> {
        let mut run = InTurn::default();
        for &(family, unit) in units {
            run.add(family, &Members(vec![unit]))?;
        }
        Ok(run)
    }

    fn sorted(run: InTurn<All>) -> Vec<Vec<u32>> {
        let mut all = run.finish().0;
        all.sort();
        all
    }

    proptest! {
        #[test]
        fn runs_join_to_what_one_pass_gives(
            // Lengths of families; 0 for a unit without one.
            lengths in prop::collection::vec(0usize..4, 0..12),
            cuts in prop::collection::vec(0usize..40, 0..4),
        ) {
            let (mut units, mut expected, mut number) = (Vec::new(), Vec::new(), 0);
            for (family, &length) in (0u64..).zip(&lengths) {
                let members: Vec<u32> = (number..).take(length.max(1)).collect();
                number += members.len() as u32;
                let family = (length > 0).then_some(family);
                units.extend(members.iter().map(|&unit| (family, unit)));
                expected.push(members);
            }
            prop_assert_eq!(sorted(run(&units).unwrap()), expected.clone());
            let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.min(units.len())).collect();
            cuts.extend([0, units.len()]);
            cuts.sort_unstable();
            // From the left, and from the right.
            let runs = || cuts.windows(2).map(|ends| run(&units[ends[0]..ends[1]]).unwrap());
            let mut joined = InTurn::default();
            for next in runs() {
                joined.append(next).unwrap();
            }
            prop_assert_eq!(sorted(joined), expected.clone());
            let mut joined = InTurn::default();
            for mut earlier in runs().collect::<Vec<_>>().into_iter().rev() {
                earlier.append(joined).unwrap();
                joined = earlier;
            }
            prop_assert_eq!(sorted(joined), expected);
        }
    }

    #[test]
    fn a_family_that_returns_is_refused() {
        let (one, two) = ((Some(1), 0), (Some(2), 0));
        let returns = StatsError::FamilyReturns(1);
        assert_eq!(run(&[one, two, one]).unwrap_err(), returns);
        assert_eq!(run(&[one, (None, 0), one]).unwrap_err(), returns);
        for (first, second) in [
            (&[one, two][..], &[one][..]),
            (&[one, (None, 0)], &[one]),
            (&[one], &[two, one]),
            (&[one, two], &[two, one, two]),
            (&[(None, 0), one, two], &[(None, 0), one, (None, 0)]),
        ] {
            let joined = run(second).and_then(|second| {
                let mut run = run(first)?;
                run.append(second).map(|()| run)
            });
            assert!(joined.is_err(), "{first:?} {second:?}");
        }
    }
}
