//! The points that no other point beats in both measures.

/// A point in two measures and what stands behind it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Point<T> {
    /// Less is better; finite.
    pub(super) cost: f64,
    /// More is better.
    pub(super) reached: u64,
    pub(super) item: T,
}

impl<T> Point<T> {
    /// Tests if this point is no worse in both measures and better in one.
    pub(super) fn dominates<U>(&self, other: &Point<U>) -> bool {
        self.cost <= other.cost
            && self.reached >= other.reached
            && (self.cost < other.cost || self.reached > other.reached)
    }
}

/// Non-dominated points, by rising cost and so by rising reach, no two alike in both.
#[derive(Clone, Debug)]
pub(super) struct Archive<T> {
    points: Vec<Point<T>>,
}

impl<T> Archive<T> {
    pub(super) const fn new() -> Self {
        Self { points: Vec::new() }
    }

    pub(super) fn points(&self) -> &[Point<T>] {
        &self.points
    }

    /// Returns the cheapest point that reaches at least so much.
    pub(super) fn at_least(&self, reached: u64) -> Option<&Point<T>> {
        self.points.get(self.points.partition_point(|point| point.reached < reached))
    }

    /// Takes a point in unless one of the archive dominates it, and drops those that it dominates.
    /// Of two alike in both measures the one that comes first by `simpler` stays. Returns if it is in.
    pub(super) fn insert<K: Ord>(&mut self, point: Point<T>, simpler: impl Fn(&T) -> K) -> bool {
        let stays = |old: &Point<T>| {
            old.dominates(&point)
                || (old.cost == point.cost
                    && old.reached == point.reached
                    && simpler(&old.item) <= simpler(&point.item))
        };
        if self.points.iter().any(stays) {
            return false;
        }
        self.points.retain(|old| {
            !point.dominates(old) && (old.cost, old.reached) != (point.cost, point.reached)
        });
        let place = self.points.partition_point(|old| old.cost < point.cost);
        self.points.insert(place, point);
        true
    }

    /// Returns the indices of at most `count` points spread over the archive, rising.
    ///
    /// The point that reaches most comes first, then the cheapest, then always the one farthest from
    /// those chosen, with both measures scaled to the archive's range.
    pub(super) fn spread(&self, count: usize) -> Vec<usize> {
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else {
            return Vec::new();
        };
        let scale = |range: f64| if range > 0.0 { range } else { 1.0 };
        let costs = scale(last.cost - first.cost);
        let reaches = scale(last.reached as f64 - first.reached as f64);
        let distance = |a: usize, b: usize| {
            let (a, b) = (&self.points[a], &self.points[b]);
            ((a.cost - b.cost) / costs).hypot((a.reached as f64 - b.reached as f64) / reaches)
        };
        let mut chosen: Vec<usize> = [self.points.len() - 1, 0].into_iter().take(count).collect();
        chosen.dedup();
        while chosen.len() < count.min(self.points.len()) {
            let gap = |index: usize| {
                chosen.iter().map(|&other| distance(index, other)).fold(f64::INFINITY, f64::min)
            };
            let farthest = (0..self.points.len())
                .filter(|index| !chosen.contains(index))
                .rev()
                .max_by(|&a, &b| gap(a).total_cmp(&gap(b)));
            chosen.extend(farthest);
        }
        chosen.sort_unstable();
        chosen
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;

    fn archive_of(points: &[(u32, u64)]) -> Archive<usize> {
        let mut archive = Archive::new();
        for (item, &(cost, reached)) in points.iter().enumerate() {
            archive.insert(Point { cost: cost.into(), reached, item }, |&item| item);
        }
        archive
    }

    fn measures(archive: &Archive<usize>) -> Vec<(u32, u64)> {
        archive.points().iter().map(|point| (point.cost as u32, point.reached)).collect()
    }

    #[test]
    fn of_points_alike_the_simpler_stays() {
        let mut archive = Archive::new();
        for item in ["longer", "long", "longest"] {
            archive.insert(Point { cost: 1.0, reached: 1, item }, |item| item.len());
        }
        assert_eq!(archive.points(), [Point { cost: 1.0, reached: 1, item: "long" }]);
    }

    #[test]
    fn a_spread_holds_the_ends_and_the_widest_gaps() {
        let archive = archive_of(&[(0, 0), (1, 1), (2, 2), (50, 50), (99, 99), (100, 100)]);
        assert_eq!(archive.spread(1), [5]);
        assert_eq!(archive.spread(2), [0, 5]);
        assert_eq!(archive.spread(3), [0, 3, 5]);
        assert_eq!(archive.spread(4), [0, 2, 3, 5]);
        assert_eq!(archive.spread(9), [0, 1, 2, 3, 4, 5]);
        assert!(archive_of(&[]).spread(3).is_empty());
        assert_eq!(archive_of(&[(4, 4)]).spread(3), [0]);
    }

    proptest! {
        #[test]
        fn the_archive_holds_exactly_the_undominated_points(
            points in vec((0u32..12, 0u64..12), 0..40),
        ) {
            let mut expected: Vec<(u32, u64)> = points
                .iter()
                .copied()
                .filter(|&(cost, reached)| !points.iter().any(|&(other_cost, other_reached)| {
                    other_cost <= cost
                        && other_reached >= reached
                        && (other_cost, other_reached) != (cost, reached)
                }))
                .collect();
            expected.sort_unstable();
            expected.dedup();
            prop_assert_eq!(measures(&archive_of(&points)), expected);
        }

        #[test]
        fn the_order_of_arrival_does_not_matter(
            (points, shuffled) in vec((0u32..12, 0u64..12), 0..40)
                .prop_flat_map(|points| (Just(points.clone()), Just(points).prop_shuffle())),
        ) {
            prop_assert_eq!(measures(&archive_of(&points)), measures(&archive_of(&shuffled)));
        }

        #[test]
        fn a_spread_is_rising_and_of_the_size_asked_for(
            points in vec((0u32..50, 0u64..50), 1..40), count in 1usize..15,
        ) {
            let archive = archive_of(&points);
            let spread = archive.spread(count);
            prop_assert_eq!(spread.len(), count.min(archive.points().len()));
            prop_assert!(spread.is_sorted_by(|a, b| a < b));
            prop_assert!(spread.contains(&(archive.points().len() - 1)));
        }
    }
}
