//! Clusters whose members stand next to each other.

use std::ops::AddAssign;

use serde::{Deserialize, Serialize};

/// Sums over clusters, to which whole clusters are added.
pub trait AddClusters: Default {
    /// What is summed within one cluster.
    type Cluster: Default + for<'a> AddAssign<&'a Self::Cluster>;

    /// Adds a whole cluster.
    fn add_cluster(&mut self, cluster: &Self::Cluster);

    /// Adds other sums.
    fn merge(&mut self, other: Self);
}

/// Sums over units in turn: a family is a cluster, and no unit of another family stands between its
/// units; a unit without a family is a cluster of its own. Runs of units can be summed apart and
/// appended in order: the first and the last family of a run, which others may continue, are kept apart.
///
/// A family that returns after another one would count as two clusters: whoever reads the units sees
/// to it that none does.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(
    deny_unknown_fields,
    bound(
        serialize = "S: Serialize, S::Cluster: Serialize",
        deserialize = "S: Deserialize<'de>, S::Cluster: Deserialize<'de>"
    )
)]
pub struct InTurn<S: AddClusters> {
    /// The clusters that are whole.
    whole: S,
    first: Option<(u64, S::Cluster)>,
    /// The last family, if it isn't the first.
    last: Option<(u64, S::Cluster)>,
}

impl<S: AddClusters> InTurn<S> {
    /// Adds the next unit.
    pub fn add(&mut self, family: Option<u64>, unit: &S::Cluster) {
        match family {
            Some(family) => self.add_to_family(family, unit),
            None => self.whole.add_cluster(unit),
        }
    }

    fn add_to_family(&mut self, family: u64, unit: &S::Cluster) {
        let open = if self.last.is_some() { &mut self.last } else { &mut self.first };
        if let Some((open, cluster)) = open
            && *open == family
        {
            *cluster += unit;
            return;
        }
        let mut cluster = S::Cluster::default();
        cluster += unit;
        let begun = Some((family, cluster));
        if self.first.is_none() {
            self.first = begun;
        } else if let Some((_, ended)) = std::mem::replace(&mut self.last, begun) {
            self.whole.add_cluster(&ended);
        }
    }

    /// Appends the run that follows.
    pub fn append(&mut self, next: Self) {
        self.whole.merge(next.whole);
        for (family, cluster) in [next.first, next.last].into_iter().flatten() {
            self.add_to_family(family, &cluster);
        }
    }

    /// Gives access to the sums for what needs no cluster.
    pub const fn sums_mut(&mut self) -> &mut S {
        &mut self.whole
    }

    /// Ends the last family and returns the sums over all clusters.
    #[must_use]
    pub fn finish(mut self) -> S {
        for (_, cluster) in [self.first, self.last].into_iter().flatten() {
            self.whole.add_cluster(&cluster);
        }
        self.whole
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

    impl AddClusters for All {
        type Cluster = Members;

        fn add_cluster(&mut self, cluster: &Members) {
            self.0.push(cluster.0.clone());
        }

        fn merge(&mut self, other: Self) {
            self.0.extend(other.0);
        }
    }

    fn run(units: &[(Option<u64>, u32)]) -> InTurn<All> {
        let mut run = InTurn::default();
        for &(family, unit) in units {
            run.add(family, &Members(vec![unit]));
        }
        run
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
            prop_assert_eq!(sorted(run(&units)), expected.clone());
            let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.min(units.len())).collect();
            cuts.extend([0, units.len()]);
            cuts.sort_unstable();
            // From the left, and from the right.
            let runs = || cuts.windows(2).map(|ends| run(&units[ends[0]..ends[1]]));
            let mut joined = InTurn::default();
            for next in runs() {
                joined.append(next);
            }
            prop_assert_eq!(sorted(joined), expected.clone());
            let mut joined = InTurn::default();
            for mut earlier in runs().collect::<Vec<_>>().into_iter().rev() {
                earlier.append(joined);
                joined = earlier;
            }
            prop_assert_eq!(sorted(joined), expected);
        }
    }

    #[test]
    fn units_without_a_family_end_none() {
        let units = [(Some(1), 1), (None, 2), (Some(1), 3), (None, 4), (Some(2), 5)];
        assert_eq!(sorted(run(&units)), [vec![1, 3], vec![2], vec![4], vec![5]]);
        let mut joined = run(&units[..2]);
        joined.append(run(&units[2..]));
        assert_eq!(sorted(joined), sorted(run(&units)));
    }
}
