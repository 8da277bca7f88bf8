//! The aggregates of a scan, all integers, so that sums do not depend on their order.

use std::ops::AddAssign;
use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::RejectCounts;
use tallyhouse_engine::{Order, Outcome};

use crate::csv_file::{read_csv, write_csv};
use crate::dataset::Listed;
use crate::layout::{COUNTS, EXPOSURE, MANIFEST};
use crate::{CensusError, Manifest, PuzzleScan, Sink, Totals, manifest};

/// What the manifest calls puzzles that needed no look.
const NO_LOOK: &str = "none";

const COUNTS_HEADER: [&str; 8] =
    ["open", "naked", "hidden", "subsets", "proper", "applied", "positions", "puzzles"];
const EXPOSURE_HEADER: [&str; 2] = ["open", "houses"];

/// A row of `counts.csv`.
type ShapeRow = (u8, u8, u8, u64, u64, u64, u64, u64);

/// How often a shape (an open count and a naked size) was seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ShapeCounts {
    /// Subsets of the shape.
    pub subsets: u64,
    /// Subsets of the shape that are proper on some side.
    pub proper: u64,
    /// Subsets of the shape that the walk applied.
    pub applied: u64,
    /// Quiet positions with at least one proper subset of the shape.
    pub positions: u64,
    /// Puzzles with at least one proper subset of the shape at some quiet position.
    pub puzzles: u64,
}

/// All aggregates of a scan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// What was scanned.
    pub totals: Totals,
    /// Puzzles by the index in the order of the last look that was needed, the last entry for
    /// puzzles that needed none.
    pub hardest: Vec<u64>,
    /// Rejected rows by kind of reason.
    pub rejected: RejectCounts,
    /// Houses by open count, summed over quiet positions.
    pub exposure: [u64; 10],
    /// Shapes by open count and naked size; files hold those that occur.
    #[serde(with = "occurring")]
    shapes: Vec<[ShapeCounts; 10]>,
}

impl Counts {
    /// Starts with nothing counted.
    #[must_use]
    pub fn new(order: &Order) -> Self {
        Self {
            totals: Totals::default(),
            hardest: vec![0; order.looks().len() + 1],
            rejected: RejectCounts::default(),
            exposure: [0; 10],
            shapes: vec![Default::default(); 10],
        }
    }

    /// Starts with nothing counted, for the same order of looks.
    pub(crate) fn of_nothing(&self) -> Self {
        Self {
            totals: Totals::default(),
            hardest: vec![0; self.hardest.len()],
            rejected: RejectCounts::default(),
            exposure: [0; 10],
            shapes: vec![Default::default(); 10],
        }
    }

    /// Returns the counts of a shape; nothing was counted for one that can't be.
    #[must_use]
    pub fn shape(&self, open: u8, naked: u8) -> ShapeCounts {
        let row = self.shapes.get(usize::from(open));
        row.and_then(|row| row.get(usize::from(naked))).copied().unwrap_or_default()
    }

    /// Iterates over the shapes with 2 ≤ open ≤ 9 and 1 ≤ naked < open.
    pub fn shapes(&self) -> impl Iterator<Item = (u8, u8, ShapeCounts)> + '_ {
        (2..=9u8)
            .flat_map(|open| (1..open).map(move |naked| (open, naked)))
            .map(|(open, naked)| (open, naked, self.shape(open, naked)))
    }

    /// Names the looks of an order with the puzzles by the last one that was needed.
    pub(crate) fn hardest_by_name(&self, order: &[String]) -> Vec<(String, u64)> {
        let none = [NO_LOOK.to_owned()];
        order.iter().chain(&none).cloned().zip(self.hardest.iter().copied()).collect()
    }

    /// Adds rejected rows.
    pub fn reject(&mut self, rejected: &RejectCounts) {
        self.totals.rows += rejected.total();
        self.rejected += rejected;
    }

    /// Reads the aggregates of a whole dataset back.
    ///
    /// # Errors
    /// If a file is missing or damaged.
    pub fn of_dataset(folder: &Path) -> Result<Self, CensusError> {
        let manifest = manifest(folder)?;
        Self::read(folder, &manifest, &Listed::of(folder, &manifest)?)
    }

    /// Reads the aggregates of a dataset back from its CSV files and its manifest.
    pub(crate) fn read(
        folder: &Path,
        manifest: &Manifest,
        listed: &Listed,
    ) -> Result<Self, CensusError> {
        let damaged = |reason: &str| CensusError::Damaged {
            path: folder.join(MANIFEST),
            reason: reason.to_owned(),
        };
        let looks = manifest.walk.order.iter().map(String::as_str).chain([NO_LOOK]);
        if !manifest.hardest_look.iter().map(|(look, _)| look.as_str()).eq(looks) {
            return Err(damaged("hardest_look has other looks than the walk"));
        }
        let rejected = RejectCounts::from_named(&manifest.rejected)
            .ok_or_else(|| damaged("it counts rejected rows of an unknown kind"))?;
        let mut counts = Self {
            totals: manifest.totals.clone(),
            hardest: manifest.hardest_look.iter().map(|(_, puzzles)| *puzzles).collect(),
            rejected,
            exposure: [0; 10],
            shapes: vec![Default::default(); 10],
        };
        for (open, houses) in read_csv::<(usize, u64)>(listed, EXPOSURE, &EXPOSURE_HEADER)? {
            if let Some(sum) = counts.exposure.get_mut(open) {
                *sum = houses;
            }
        }
        for row in read_csv::<ShapeRow>(listed, COUNTS, &COUNTS_HEADER)? {
            let (open, naked, _, subsets, proper, applied, positions, puzzles) = row;
            let row = counts.shapes.get_mut(usize::from(open));
            if let Some(shape) = row.and_then(|row| row.get_mut(usize::from(naked))) {
                *shape = ShapeCounts { subsets, proper, applied, positions, puzzles };
            }
        }
        Ok(counts)
    }

    /// Writes `counts.csv` and `exposure.csv`.
    pub(crate) fn write(&self, folder: &Path) -> Result<(), CensusError> {
        let shapes = self.shapes().map(|(open, naked, shape)| -> ShapeRow {
            let ShapeCounts { subsets, proper, applied, positions, puzzles } = shape;
            (open, naked, open - naked, subsets, proper, applied, positions, puzzles)
        });
        write_csv(&folder.join(COUNTS), &COUNTS_HEADER, shapes)?;
        let houses = (2..=9).map(|open| (open, self.exposure[open]));
        write_csv(&folder.join(EXPOSURE), &EXPOSURE_HEADER, houses)
    }
}

impl Sink for Counts {
    fn puzzle(&mut self, scan: &PuzzleScan) {
        let totals = &mut self.totals;
        totals.rows += 1;
        totals.puzzles += 1;
        totals.weighted += u64::from(scan.entry.weight.is_some() || scan.entry.family.is_some());
        totals.solved += u64::from(scan.outcome == Outcome::Solved);
        totals.stuck += u64::from(scan.outcome == Outcome::Stuck);
        totals.puzzles_with_quiet_positions += u64::from(scan.quiet_positions > 0);
        totals.quiet_positions += u64::from(scan.quiet_positions);
        totals.subsets += scan.subsets.len() as u64;
        totals.given_digits += u64::from(scan.given_digits);
        totals.clues += u64::from(scan.clues);
        totals.clues_squared += u64::from(scan.clues) * u64::from(scan.clues);
        let none = self.hardest.len() - 1;
        self.hardest[scan.hardest.unwrap_or(none)] += 1;
        for position in &scan.positions {
            for (sum, houses) in self.exposure.iter_mut().zip(position.exposure.all()) {
                *sum += u64::from(houses);
            }
        }
        // One bit per shape: which shapes this puzzle and this position have shown already.
        let mut shown_by_puzzle = 0u128;
        let mut shown_by_position = 0u128;
        let mut position = None;
        for (number, subset) in &scan.subsets {
            if position != Some(*number) {
                position = Some(*number);
                shown_by_position = 0;
            }
            let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
            let shape = &mut self.shapes[open][naked];
            shape.subsets += 1;
            shape.applied += u64::from(subset.applied);
            if subset.is_proper() {
                let bit = 1 << (open * 10 + naked);
                shape.proper += 1;
                shape.positions += u64::from(shown_by_position & bit == 0);
                shape.puzzles += u64::from(shown_by_puzzle & bit == 0);
                shown_by_position |= bit;
                shown_by_puzzle |= bit;
            }
        }
    }
}

impl AddAssign<&Self> for Counts {
    fn add_assign(&mut self, other: &Self) {
        let (a, b) = (&mut self.totals, &other.totals);
        a.rows += b.rows;
        a.puzzles += b.puzzles;
        a.weighted += b.weighted;
        a.solved += b.solved;
        a.stuck += b.stuck;
        a.puzzles_with_quiet_positions += b.puzzles_with_quiet_positions;
        a.quiet_positions += b.quiet_positions;
        a.subsets += b.subsets;
        a.given_digits += b.given_digits;
        a.clues += b.clues;
        a.clues_squared += b.clues_squared;
        add_each(&mut self.hardest, &other.hardest);
        self.rejected += &other.rejected;
        add_each(&mut self.exposure, &other.exposure);
        for (a, b) in self.shapes.iter_mut().flatten().zip(other.shapes.iter().flatten()) {
            a.subsets += b.subsets;
            a.proper += b.proper;
            a.applied += b.applied;
            a.positions += b.positions;
            a.puzzles += b.puzzles;
        }
    }
}

fn add_each(sums: &mut [u64], more: &[u64]) {
    for (sum, more) in sums.iter_mut().zip(more) {
        *sum += more;
    }
}

/// Shapes as files hold them: open count, naked size and counts of those that occur.
mod occurring {
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    use super::ShapeCounts;

    type Row = (u8, u8, ShapeCounts);

    pub(super) fn serialize<S: Serializer>(
        shapes: &[[ShapeCounts; 10]],
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        let row = |open, row: &[ShapeCounts; 10]| {
            (0..).zip(*row).map(move |(naked, counts)| (open, naked, counts)).collect::<Vec<Row>>()
        };
        let rows = (0..).zip(shapes).flat_map(|(open, shapes)| row(open, shapes));
        let none = ShapeCounts::default();
        rows.filter(|row| row.2 != none).collect::<Vec<_>>().serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Vec<[ShapeCounts; 10]>, D::Error> {
        let mut shapes = vec![[ShapeCounts::default(); 10]; 10];
        for (open, naked, counts) in Vec::<Row>::deserialize(deserializer)? {
            let shape =
                shapes.get_mut(usize::from(open)).and_then(|row| row.get_mut(usize::from(naked)));
            *shape.ok_or_else(|| D::Error::custom("a shape that no house can have"))? = counts;
        }
        Ok(shapes)
    }
}
