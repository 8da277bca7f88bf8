//! How often a house shows each shape, by moment and kind of house.

mod alone;
mod slot;
mod sums;
mod tally;

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_stats::{Level, Limits, StatsError};

use alone::Alone;
use slot::Slot;
pub use slot::{HouseKinds, Moment};
pub(crate) use sums::{FinishedRates, Key, RateSums};
use tally::Tally;

use crate::csv_file::{read_csv, write_csv};
use crate::dataset::Listed;
use crate::layout::RATES;
use crate::{CensusError, PuzzleScan, Sink};

/// How often houses show a shape: a row of `rates.csv`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HouseRate {
    /// Which quiet positions count.
    pub moment: Moment,
    /// Which houses count.
    pub house_kind: HouseKinds,
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// Houses of that open count.
    pub houses: u64,
    /// Those of them with at least one proper subset of the shape.
    pub houses_with: u64,
    /// Proper subsets of the shape.
    pub subsets: u64,
    /// The share of houses with one, by weight where puzzles carry weights, and its interval as far as
    /// the data tell it.
    pub share: Limits,
}

const HEADER: [&str; 11] = [
    "moment",
    "house_kind",
    "open",
    "naked",
    "hidden",
    "houses",
    "houses_with",
    "subsets",
    "share",
    "low",
    "high",
];

/// A row as the file has it; numbers with all their digits.
type Row<N> = (Moment, HouseKinds, u8, u8, u8, u64, u64, u64, [N; 3]);

impl HouseRate {
    /// Returns the rate of a shape in houses of all kinds at all quiet positions.
    #[must_use]
    pub fn overall(rates: &[Self], open: u8, naked: u8) -> Option<&Self> {
        let overall = (Moment::Every, HouseKinds::default(), open, naked);
        rates.iter().find(|rate| (rate.moment, rate.house_kind, rate.open, rate.naked) == overall)
    }

    /// Reads the rates of a finished dataset.
    ///
    /// # Errors
    /// If they are missing or damaged.
    pub fn of_dataset(folder: &Path) -> Result<Vec<Self>, CensusError> {
        Self::read(&Listed::of(folder, &crate::manifest(folder)?)?)
    }

    pub(crate) fn read(listed: &Listed) -> Result<Vec<Self>, CensusError> {
        let row = |row: Row<Option<f64>>| {
            let (moment, house_kind, open, naked, _, houses, houses_with, subsets, share) = row;
            let [value, low, high] = share;
            let share = Limits { value, low, high };
            Self { moment, house_kind, open, naked, houses, houses_with, subsets, share }
        };
        Ok(read_csv(listed, RATES, &HEADER)?.into_iter().map(row).collect())
    }

    /// Writes `rates.csv`.
    pub(crate) fn write(rates: &[Self], folder: &Path) -> Result<(), CensusError> {
        let number = |number: Option<f64>| number.map_or_else(String::new, |n| n.to_string());
        let row = |rate: &Self| -> Row<String> {
            let &Self { moment, house_kind, open, naked, houses, houses_with, subsets, share } =
                rate;
            let Limits { value, low, high } = share;
            let numbers = [value, low, high].map(number);
            (moment, house_kind, open, naked, open - naked, houses, houses_with, subsets, numbers)
        };
        write_csv(&folder.join(RATES), &HEADER, rates.iter().map(row))
    }
}

/// Sums up the rates of one part.
#[derive(Default)]
pub(crate) struct RateSink {
    tally: Tally,
    alone: Alone,
    /// What puzzles with a weight or a family show.
    part: PartRates,
}

/// What the rates of a run of puzzles are made of; runs that follow each other are appended. The puzzles of
/// a family stand together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartRates {
    houses: RateSums<Slot>,
    /// Proper subsets.
    subsets: BTreeMap<Slot, u64>,
}

impl RateSink {
    pub(crate) fn finish(self) -> PartRates {
        let Self { alone, mut part, .. } = self;
        part.houses.add_alone(alone.sums(&mut part.subsets));
        part
    }
}

impl Sink for RateSink {
    fn puzzle(&mut self, scan: &PuzzleScan) {
        let Self { tally, alone, part } = self;
        let (weight, family) = (scan.entry.weight, scan.entry.family);
        if weight.is_none() && family.is_none() {
            tally.each(scan, |moments, tally| alone.add(moments, tally));
            return;
        }
        let mut counted = Vec::new();
        tally.each(scan, |moments, tally| {
            for moment in moments.each() {
                for (at, houses) in tally.houses() {
                    counted.push((Slot::new(moment, at), houses));
                }
                for (at, shown, _) in tally.shown() {
                    let slot = Slot::new(moment, at);
                    counted.push((slot, shown.houses));
                    *part.subsets.entry(slot).or_default() += u64::from(shown.subsets);
                }
            }
        });
        part.houses.add(weight, family, &counted);
    }
}

impl PartRates {
    /// Counts the puzzles of a run.
    #[must_use]
    pub fn of_scans<'a>(scans: impl IntoIterator<Item = &'a PuzzleScan>) -> Self {
        let mut sink = RateSink::default();
        scans.into_iter().for_each(|scan| sink.puzzle(scan));
        sink.finish()
    }

    /// Appends the next part.
    pub fn append(&mut self, next: Self) {
        self.houses.append(next.houses);
        for (slot, subsets) in next.subsets {
            *self.subsets.entry(slot).or_default() += subsets;
        }
    }

    /// Ends with the last part and returns the rate of each shape with 2 ≤ open ≤ 9.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn finish(self, level: Level) -> Result<Vec<HouseRate>, StatsError> {
        let houses = self.houses.finish();
        let rate = |slot: Slot| {
            Ok(HouseRate {
                moment: slot.moment(),
                house_kind: slot.house_kind(),
                open: slot.open(),
                naked: slot.naked(),
                houses: houses.trials(slot),
                houses_with: houses.hits(slot),
                subsets: self.subsets.get(&slot).copied().unwrap_or_default(),
                share: houses.rate(slot).share(level)?,
            })
        };
        Slot::shapes().map(rate).collect()
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::{DigitSet, House, PlaceSet};
    use tallyhouse_collection::{Entry, MinimalByDeletion};
    use tallyhouse_engine::{AppliedLook, Outcome, Subset};

    use super::*;
    use crate::PositionRecord;

    /// A subset of four open cells, two and two, in a house.
    fn subset(house: House, proper: bool) -> Subset {
        Subset {
            house,
            open: 4,
            naked: 2,
            live_open: 4,
            live_naked: 2,
            cells: PlaceSet::from_bits_truncate(3),
            digits: DigitSet::from_bits_truncate(3),
            eliminations: 1,
            naked_proper: proper,
            hidden_proper: false,
            applied: proper,
        }
    }

    /// A position with so many rows, columns and boxes that have four open cells.
    fn position(number: u16, houses: [u8; 3], applied: AppliedLook) -> PositionRecord {
        let by_open = |houses| {
            let mut by_open = [0; 10];
            (by_open[4], by_open[0]) = (houses, 9 - houses);
            by_open
        };
        PositionRecord {
            number,
            given_digits: 0,
            fixed_cells: 60,
            candidates_left: 50,
            exposure: houses.map(by_open).into(),
            subsets: 0,
            applied,
            states: None,
        }
    }

    fn scan(positions: Vec<PositionRecord>, subsets: Vec<(u16, Subset)>) -> PuzzleScan {
        PuzzleScan {
            entry: Entry::new(0, MinimalByDeletion { seed: 1 }.puzzle(0)),
            clues: 24,
            outcome: Outcome::Stuck,
            quiet_positions: positions.len() as u16,
            hardest: None,
            given_digits: 0,
            positions,
            subsets,
        }
    }

    /// Three puzzles counted by hand: one gets stuck at its third position, one at its first, and one has
    /// no quiet position at all.
    #[test]
    fn houses_and_what_they_show_are_counted_by_moment_and_kind() {
        let [row, box_] = [House::row(0), House::box_(4)];
        let look = AppliedLook::Look(2);
        let long = scan(
            vec![
                position(0, [3, 1, 2], look),
                position(1, [2, 0, 2], look),
                position(2, [2, 0, 1], AppliedLook::Nothing),
            ],
            vec![
                // The same house twice at the first position, another house beside it.
                (0, subset(row, true)),
                (0, subset(row, true)),
                (0, subset(box_, true)),
                (1, subset(row, true)),
                // Neither side is proper: this is no hit.
                (1, subset(box_, false)),
                // Where the walk ends.
                (2, subset(box_, true)),
            ],
        );
        let short = scan(vec![position(0, [4, 4, 4], AppliedLook::Nothing)], Vec::new());
        let mut sink = RateSink::default();
        for scan in [long, short, scan(Vec::new(), Vec::new())] {
            sink.puzzle(&scan);
        }
        let rates = sink.finish().finish(Level::default()).unwrap();
        assert_eq!(rates.len(), 3 * 4 * 36);
        let found = |moment, kind: usize| {
            let house_kind = HouseKinds::EACH[kind];
            let of = |rate: &&HouseRate| (rate.moment, rate.house_kind) == (moment, house_kind);
            let shape = |rate: &&HouseRate| (rate.open, rate.naked) == (4, 2);
            let rate = rates.iter().filter(of).find(shape).unwrap();
            [rate.houses, rate.houses_with, rate.subsets]
        };
        let all = |moment| [0, 1, 2, 3].map(|kind| found(moment, kind));
        assert_eq!(all(Moment::Every), [[25, 4, 5], [11, 2, 3], [5, 0, 0], [9, 2, 2]]);
        assert_eq!(all(Moment::First), [[18, 2, 3], [7, 1, 2], [5, 0, 0], [6, 1, 1]]);
        assert_eq!(all(Moment::Moving), [[10, 3, 4], [5, 2, 3], [1, 0, 0], [4, 1, 1]]);
        let others: u64 =
            rates.iter().filter(|r| (r.open, r.naked) != (4, 2)).map(|r| r.subsets).sum();
        assert_eq!(others, 0);
        // Few hits: one end alone. Hits in 1 of 2 puzzles, 4 at most; 12.5 houses a puzzle.
        let every = rates.iter().find(|rate| (rate.open, rate.naked) == (4, 2)).unwrap();
        assert_eq!((every.share.value, every.share.low), (Some(4.0 / 25.0), None));
        // Clopper and Pearson's limit for 1 of 2 is the root of 0.975; four times that is beyond 12.5
        // houses by no means.
        let high = 0.975f64.sqrt() * 4.0 / 12.5;
        assert!((every.share.high.unwrap() - high).abs() < 1e-9);
    }
}
