//! Exact sums over clusters, by weight: what shares and rates with their intervals are made of.
//!
//! A cluster is a family, or a puzzle without one. The rows of a family stand together, so only the
//! first and the last family of a part can go on elsewhere; they are kept apart until their parts
//! are joined.

use std::collections::BTreeMap;
use std::ops::AddAssign;
use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::Weight;
use tallyhouse_engine::Outcome;
use tallyhouse_stats::{AddClusters, Clusters, InTurn};

use crate::dataset::Listed;
use crate::layout::SUMS;
use crate::{CensusError, Counts, Manifest, PuzzleScan, Sink};

/// The millionths that a puzzle without a weight weighs.
const MILLION: i128 = Weight::ONE.millionths() as i128;

/// Sums over the clusters of a dataset. All weights are in millionths; positions, houses and subsets
/// weigh as much as their puzzles, each time they are counted.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClusterSums {
    /// Puzzles with a quiet position, of all puzzles.
    pub quiet: Clusters<2>,
    /// Puzzles that the walk solved, of all puzzles.
    pub solved: Clusters<2>,
    /// Houses at quiet positions, by open count.
    houses: BTreeMap<u8, Millionths>,
    /// By shape, those that occur: `open|naked`.
    shapes: BTreeMap<String, ShapeSums>,
}

/// Sums over clusters of what shows a shape.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShapeSums {
    /// Puzzles with at least one proper subset of the shape at a quiet position, of all puzzles.
    pub puzzles: Clusters<2>,
    /// Proper subsets of the shape at quiet positions.
    proper: Millionths,
}

/// A weight, or a sum of weights, in millionths; files hold it as a decimal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(crate) struct Millionths(pub(crate) i128);

impl Millionths {
    pub(crate) fn of(weight: Weight) -> Self {
        Self(weight.millionths().into())
    }
}

impl From<Millionths> for String {
    fn from(weight: Millionths) -> Self {
        weight.0.to_string()
    }
}

impl TryFrom<String> for Millionths {
    type Error = std::num::ParseIntError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse().map(Self)
    }
}

fn key(open: u8, naked: u8) -> String {
    format!("{open}|{naked}")
}

/// What the puzzles of one cluster weigh.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cluster {
    all: Millionths,
    solved: Millionths,
    quiet: Millionths,
    shapes: BTreeMap<String, Millionths>,
}

/// Sums of one part over the puzzles that have a weight or a family. All others follow from the counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PartSums {
    /// What was counted of these puzzles.
    counted: Counts,
    clusters: InTurn<Joined>,
}

/// Sums over whole clusters, each of which says nothing of the shapes that it doesn't show.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Joined {
    all: Clusters<1>,
    sums: ClusterSums,
}

impl AddClusters for Joined {
    type Cluster = Cluster;

    fn add_cluster(&mut self, cluster: &Cluster) {
        let all = cluster.all.0;
        self.all.add([all]);
        self.sums.quiet.add([cluster.quiet.0, all]);
        self.sums.solved.add([cluster.solved.0, all]);
        for (shape, puzzles) in &cluster.shapes {
            let shape = self.sums.shapes.entry(shape.clone()).or_default();
            shape.puzzles.add([puzzles.0, all]);
        }
    }

    fn merge(&mut self, more: Self) {
        self.all += more.all;
        self.sums.quiet += more.sums.quiet;
        self.sums.solved += more.sums.solved;
        add_each(&mut self.sums.houses, &more.sums.houses, |sum, more| sum.0 += more.0);
        add_each(&mut self.sums.shapes, &more.sums.shapes, |sum, more| {
            sum.puzzles += more.puzzles;
            sum.proper.0 += more.proper.0;
        });
    }
}

fn add_each<K: Ord + Clone, V: Default>(
    sums: &mut BTreeMap<K, V>,
    more: &BTreeMap<K, V>,
    add: impl Fn(&mut V, &V),
) {
    more.iter().for_each(|(key, more)| add(sums.entry(key.clone()).or_default(), more));
}

impl AddAssign<&Self> for Cluster {
    fn add_assign(&mut self, more: &Self) {
        self.all.0 += more.all.0;
        self.solved.0 += more.solved.0;
        self.quiet.0 += more.quiet.0;
        add_each(&mut self.shapes, &more.shapes, |sum, more| sum.0 += more.0);
    }
}

impl PartSums {
    pub(crate) fn new(counts: &Counts) -> Self {
        Self { counted: counts.of_nothing(), clusters: InTurn::default() }
    }

    /// Returns the sums if there is anything in them.
    pub(crate) fn if_any(self) -> Option<Self> {
        (self.counted.totals.puzzles > 0).then_some(self)
    }

    /// Appends the next part.
    pub(crate) fn append(&mut self, next: Self) {
        self.counted += &next.counted;
        self.clusters.append(next.clusters);
    }

    /// Ends with the last part, and takes the puzzles without weight and family from the counts of all.
    pub(crate) fn finish(self, counts: &Counts) -> ClusterSums {
        self.clusters.finish().with_all_others(counts, &self.counted)
    }
}

impl Sink for PartSums {
    fn puzzle(&mut self, scan: &PuzzleScan) {
        let (weight, family) = (scan.entry.weight, scan.entry.family);
        if weight.is_none() && family.is_none() {
            return;
        }
        self.counted.puzzle(scan);
        let weight = i128::from(weight.unwrap_or(Weight::ONE).millionths());
        let if_so = |holds: bool| Millionths(if holds { weight } else { 0 });
        let mut cluster = Cluster {
            all: Millionths(weight),
            solved: if_so(scan.outcome == Outcome::Solved),
            quiet: if_so(scan.quiet_positions > 0),
            shapes: BTreeMap::new(),
        };
        let sums = &mut self.clusters.sums_mut().sums;
        for position in &scan.positions {
            for (open, houses) in (0..).zip(position.exposure.all()).skip(2) {
                if houses > 0 {
                    sums.houses.entry(open).or_default().0 += weight * i128::from(houses);
                }
            }
        }
        let mut found: [[u32; 10]; 10] = Default::default();
        for (_, subset) in scan.subsets.iter().filter(|(_, subset)| subset.is_proper()) {
            found[usize::from(subset.open)][usize::from(subset.naked)] += 1;
        }
        for (open, row) in (0..).zip(&found) {
            for (naked, &proper) in (0..).zip(row).filter(|(_, proper)| **proper > 0) {
                let shape = key(open, naked);
                cluster.shapes.insert(shape.clone(), Millionths(weight));
                sums.shapes.entry(shape).or_default().proper.0 += weight * i128::from(proper);
            }
        }
        self.clusters.add(family, &cluster);
    }
}

impl Joined {
    /// Adds the puzzles without weight and family: those in the counts of all that were not counted here.
    fn with_all_others(self, counts: &Counts, counted: &Counts) -> ClusterSums {
        let Self { mut all, mut sums } = self;
        let (totals, weighted) = (&counts.totals, &counted.totals);
        let alone = |puzzles: u64, of_these: u64| puzzles.saturating_sub(of_these);
        let puzzles = alone(totals.puzzles, weighted.puzzles);
        let add_alone = |sums: &mut Clusters<2>, hits: u64| {
            sums.add_times([MILLION, MILLION], hits);
            sums.add_times([0, MILLION], puzzles.saturating_sub(hits));
        };
        let quiet =
            alone(totals.puzzles_with_quiet_positions, weighted.puzzles_with_quiet_positions);
        add_alone(&mut sums.quiet, quiet);
        add_alone(&mut sums.solved, alone(totals.solved, weighted.solved));
        all.add_times([MILLION], puzzles);
        for open in 2..=9 {
            let at = usize::from(open);
            let houses = alone(counts.exposure[at], counted.exposure[at]);
            sums.houses.entry(open).or_default().0 += MILLION * i128::from(houses);
        }
        for (open, naked, found) in counts.shapes() {
            let of_these = counted.shape(open, naked);
            let shape = sums.shapes.entry(key(open, naked)).or_default();
            let hits = alone(found.puzzles, of_these.puzzles);
            shape.puzzles.add_times([MILLION, MILLION], hits);
            shape.proper.0 += MILLION * i128::from(alone(found.proper, of_these.proper));
            shape.puzzles = shape.puzzles.among(&all);
        }
        sums
    }
}

impl ClusterSums {
    /// Takes puzzles that count alike and stand alone.
    #[must_use]
    pub fn of_counts(counts: &Counts) -> Self {
        Joined::default().with_all_others(counts, &counts.of_nothing())
    }

    /// Returns what houses of an open count weigh, in millionths.
    #[must_use]
    pub fn houses(&self, open: u8) -> i128 {
        self.houses.get(&open).copied().unwrap_or_default().0
    }

    /// Returns what was summed up of a shape.
    #[must_use]
    pub fn shape(&self, open: u8, naked: u8) -> ShapeSums {
        self.shapes.get(&key(open, naked)).copied().unwrap_or_default()
    }

    /// Reads the sums of a whole dataset; `None` if no puzzle has a weight or a family.
    ///
    /// # Errors
    /// If they are missing or damaged.
    pub fn of_dataset(folder: &Path) -> Result<Option<Self>, CensusError> {
        let manifest = crate::manifest(folder)?;
        Self::read(folder, &manifest, &Listed::of(folder, &manifest)?)
    }

    pub(crate) fn read(
        folder: &Path,
        manifest: &Manifest,
        listed: &Listed,
    ) -> Result<Option<Self>, CensusError> {
        if manifest.totals.weighted == 0 {
            return Ok(None);
        }
        let path = folder.join(SUMS);
        let sums = serde_json::from_slice(&listed.read(SUMS)?);
        sums.map(Some).map_err(|error| CensusError::Damaged { path, reason: error.to_string() })
    }
}

impl ShapeSums {
    /// Returns what the proper subsets weigh, in millionths.
    #[must_use]
    pub const fn proper(&self) -> i128 {
        self.proper.0
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::{Entry, MinimalByDeletion, Silent, Source};
    use tallyhouse_engine::WalkOptions;

    use super::*;
    use crate::{Scanner, Settings, Tables};

    /// Puzzles with and without weights and families; some families go over parts, one over three.
    fn entries() -> Vec<Entry> {
        let puzzles = MinimalByDeletion { seed: 9 }.puzzles(0..3400);
        let entry = |(number, puzzle): (u64, _)| {
            let mut entry = Entry::new(number, puzzle);
            let weight = 1 + 999_999_999_999_999 * (number % 3) / 2;
            entry.weight = (number % 5 > 0).then(|| Weight::from_millionths(weight).unwrap());
            entry.family = match number {
                980..1003 => Some(7),
                1003..3020 => (number % 4 > 0).then_some(900),
                // Others stand between the rows of families, and none at all.
                3020.. => (number % 2 > 0).then_some(number / 6),
                _ => (number % 3 > 0).then_some(1000 + number / 9),
            };
            entry
        };
        (0..).zip(puzzles).map(entry).collect()
    }

    #[derive(Default)]
    struct Expected {
        all: i128,
        solved: i128,
        quiet: i128,
        puzzles: [[i128; 10]; 10],
    }

    #[test]
    fn sums_are_those_of_each_cluster_wherever_parts_end() {
        let entries = entries();
        let mut clusters: BTreeMap<(bool, u64), Expected> = BTreeMap::new();
        let (mut houses, mut proper) = ([0; 10], [[0; 10]; 10]);
        let walk = WalkOptions::default();
        for scan in Scanner::new(&walk, false).scan(entries.iter().cloned().map(Ok).collect()) {
            let scan = scan.unwrap();
            let weight = scan.entry.millionths();
            let cluster = (scan.entry.family.is_some(), scan.entry.number);
            let cluster = scan.entry.family.map_or(cluster, |family| (true, family));
            let sums = clusters.entry(cluster).or_default();
            sums.all += weight;
            sums.solved += if scan.outcome == Outcome::Solved { weight } else { 0 };
            sums.quiet += if scan.positions.is_empty() { 0 } else { weight };
            for position in &scan.positions {
                let exposed = houses.iter_mut().zip(position.exposure.all()).skip(2);
                exposed.for_each(|(sum, exposed)| *sum += weight * i128::from(exposed));
            }
            let mut shown = [[0; 10]; 10];
            for (_, subset) in scan.subsets.iter().filter(|(_, subset)| subset.is_proper()) {
                let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
                proper[open][naked] += weight;
                shown[open][naked] = weight;
            }
            for (sum, shown) in sums.puzzles.iter_mut().flatten().zip(shown.iter().flatten()) {
                *sum += shown;
            }
        }
        let of = |quantity: &dyn Fn(&Expected) -> i128| {
            let mut sums = Clusters::default();
            clusters.values().for_each(|cluster| sums.add([quantity(cluster), cluster.all]));
            sums
        };
        let folder = tempfile::tempdir().unwrap();
        let lines: String = entries.iter().map(|entry| format!("{entry}\n")).collect();
        for (part_size, tables) in [(1000, Tables::None), (2000, Tables::All), (5000, Tables::None)]
        {
            let source = Source::memory("in.txt", lines.as_bytes());
            let out = folder.path().join(part_size.to_string());
            let settings =
                Settings { part_size, tables, ..Settings::new(vec![source], out.clone()) };
            crate::run(&settings, &Silent).unwrap();
            let found = ClusterSums::of_dataset(&out).unwrap().unwrap();
            assert_eq!(found.quiet, of(&|cluster| cluster.quiet));
            assert_eq!(found.solved, of(&|cluster| cluster.solved));
            for open in 2..10u8 {
                assert_eq!(found.houses(open), houses[usize::from(open)]);
                for naked in 1..open {
                    let at = (usize::from(open), usize::from(naked));
                    let shape = found.shape(open, naked);
                    assert_eq!(shape.puzzles, of(&|cluster| cluster.puzzles[at.0][at.1]));
                    assert_eq!(shape.proper(), proper[at.0][at.1]);
                }
            }
        }
    }

    #[test]
    fn without_weights_there_are_no_sums() {
        let folder = tempfile::tempdir().unwrap();
        let line = MinimalByDeletion { seed: 9 }.puzzle(0).to_string();
        let source = Source::memory("in.txt", line.into_bytes());
        let settings = Settings::new(vec![source], folder.path().join("census"));
        crate::run(&settings, &Silent).unwrap();
        assert_eq!(ClusterSums::of_dataset(&settings.out).unwrap(), None);
    }
}
