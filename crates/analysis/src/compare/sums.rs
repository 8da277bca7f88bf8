//! What was counted, over all puzzles.

use std::ops::AddAssign;

use tallyhouse_stats::{AddClusters, Clusters, PairedWeights};

/// A puzzle, where glances are counted in millionths.
const PUZZLE: i128 = 1_000_000;

/// The puzzles of one cluster; all quantities are times their weights.
#[derive(Clone, Debug, Default)]
pub(super) struct Cluster {
    pub(super) weight: i128,
    /// By rulebook.
    pub(super) books: Vec<BookCluster>,
}

/// A rulebook on the puzzles of one cluster.
#[derive(Clone, Debug, Default)]
pub(super) struct BookCluster {
    pub(super) solved: Reach,
    pub(super) reached: Reach,
    /// Millionths of glances, by reader.
    pub(super) readers: Vec<ReaderCluster>,
}

/// What puzzles weigh that a rulebook, and that it and the base bring so far.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Reach {
    pub(super) here: i128,
    pub(super) both: i128,
}

/// What a reader spends on the puzzles of one cluster.
#[derive(Clone, Debug, Default)]
pub(super) struct ReaderCluster {
    /// By look.
    pub(super) looks: Vec<i128>,
    /// On the puzzles that this rulebook and the base solve, under each of them.
    pub(super) where_both_solve: [i128; 2],
}

impl ReaderCluster {
    fn total(&self) -> i128 {
        self.looks.iter().sum()
    }
}

impl AddAssign for Reach {
    fn add_assign(&mut self, other: Self) {
        self.here += other.here;
        self.both += other.both;
    }
}

impl AddAssign<&Self> for Cluster {
    fn add_assign(&mut self, other: &Self) {
        self.weight += other.weight;
        if self.books.is_empty() {
            self.books.clone_from(&other.books);
            return;
        }
        for (mine, theirs) in self.books.iter_mut().zip(&other.books) {
            mine.solved += theirs.solved;
            mine.reached += theirs.reached;
            for (mine, theirs) in mine.readers.iter_mut().zip(&theirs.readers) {
                mine.looks.iter_mut().zip(&theirs.looks).for_each(|(sum, more)| *sum += more);
                for (sum, more) in mine.where_both_solve.iter_mut().zip(theirs.where_both_solve) {
                    *sum += more;
                }
            }
        }
    }
}

/// Sums over clusters.
#[derive(Debug, Default)]
pub(super) struct CompareSums {
    pub(super) clusters: u64,
    /// By rulebook.
    pub(super) books: Vec<BookSums>,
}

/// Sums of one rulebook.
#[derive(Clone, Debug, Default)]
pub(super) struct BookSums {
    pub(super) solved: ReachSums,
    pub(super) reached: ReachSums,
    /// By reader.
    pub(super) readers: Vec<ReaderSums>,
}

/// How far a rulebook gets, and how far beside the base.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ReachSums {
    /// What puzzles weigh that get so far, and all.
    pub(super) share: Clusters<2>,
    pub(super) pairs: PairedWeights,
}

/// What a reader spends under a rulebook.
#[derive(Clone, Debug, Default)]
pub(super) struct ReaderSums {
    /// Glances under this rulebook and under the base, and puzzles.
    pub(super) costs: Clusters<3>,
    /// The same for the puzzles that both solve.
    pub(super) where_both_solve: Clusters<3>,
    /// By look: its glances, all glances, and puzzles.
    pub(super) looks: Vec<Clusters<3>>,
}

impl ReachSums {
    fn add(&mut self, here: Reach, base: Reach, all: i128) {
        self.share.add([here.here, all]);
        self.pairs.add([here.both, here.here - here.both, base.here - here.both, all]);
    }
}

impl AddAssign for ReachSums {
    fn add_assign(&mut self, other: Self) {
        self.share += other.share;
        self.pairs += other.pairs;
    }
}

impl BookSums {
    fn add(&mut self, here: &BookCluster, base: &BookCluster, weight: i128) {
        self.solved.add(here.solved, base.solved, weight);
        self.reached.add(here.reached, base.reached, weight);
        self.readers.resize_with(here.readers.len(), ReaderSums::default);
        let puzzles = PUZZLE * weight;
        for ((sums, here_of), base_of) in
            self.readers.iter_mut().zip(&here.readers).zip(&base.readers)
        {
            let total = here_of.total();
            sums.costs.add([total, base_of.total(), puzzles]);
            sums.looks.resize_with(here_of.looks.len(), Clusters::default);
            for (look, cost) in sums.looks.iter_mut().zip(&here_of.looks) {
                look.add([*cost, total, puzzles]);
            }
            if here.solved.both > 0 {
                let [cost, of_base] = here_of.where_both_solve;
                sums.where_both_solve.add([cost, of_base, PUZZLE * here.solved.both]);
            }
        }
    }
}

impl AddAssign<&Self> for BookSums {
    fn add_assign(&mut self, other: &Self) {
        self.solved += other.solved;
        self.reached += other.reached;
        for (mine, theirs) in self.readers.iter_mut().zip(&other.readers) {
            mine.costs += theirs.costs;
            mine.where_both_solve += theirs.where_both_solve;
            mine.looks.iter_mut().zip(&theirs.looks).for_each(|(sum, more)| *sum += *more);
        }
    }
}

impl AddClusters for CompareSums {
    type Cluster = Cluster;

    fn add_cluster(&mut self, cluster: &Cluster) {
        self.clusters += 1;
        self.books.resize_with(cluster.books.len(), BookSums::default);
        let Some(base) = cluster.books.first() else { return };
        for (sums, here) in self.books.iter_mut().zip(&cluster.books) {
            sums.add(here, base, cluster.weight);
        }
    }

    fn merge(&mut self, other: Self) {
        self.clusters += other.clusters;
        if self.books.is_empty() {
            self.books = other.books;
            return;
        }
        self.books.iter_mut().zip(&other.books).for_each(|(mine, theirs)| *mine += theirs);
    }
}
