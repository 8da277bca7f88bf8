//! The three tables of a dataset, column by column, and the rows of one part.

use std::path::{Path, PathBuf};

use polars::prelude::{
    DataType, IntoSeries, ListBuilderTrait, ListPrimitiveChunkedBuilder, PolarsResult, Series,
    UInt16Type,
};
use strum::VariantNames;
use tallyhouse_board::{HouseKind, Puzzle};
use tallyhouse_collection::Weight;
use tallyhouse_engine::{AppliedLook, Order, Outcome, Subset};
use tallyhouse_storage::Written;

use crate::schema::{Table, TableDescription, column, texts, values, words};
use crate::table_file::write_table;
use crate::{CensusError, PositionRecord, PuzzleScan, Sink};

/// What follows the looks among the words of `look_applied`.
const GIVEN: &str = "given digit";

/// A row of the table of puzzles.
pub(crate) struct PuzzleRow {
    number: u64,
    puzzle: Puzzle,
    clues: u8,
    outcome: Outcome,
    quiet_positions: u16,
    hardest: Option<usize>,
    given_digits: u8,
    weight: Option<Weight>,
    family: Option<u64>,
}

/// A row of the table of quiet positions.
pub(crate) struct PositionRow {
    puzzle: u64,
    position: PositionRecord,
}

/// A row of the table of subsets.
pub(crate) struct SubsetRow {
    puzzle: u64,
    position: u16,
    subset: Subset,
    new: bool,
    given_digits: u8,
}

/// One row per puzzle.
pub(crate) static PUZZLES: Table<PuzzleRow> = Table {
    name: NAMES[0],
    row: "puzzle",
    columns: &[
        column("puzzle", "", "row of the collection, from 0", |rows, _| {
            values(rows, |row| int64(row.number))
        }),
        column(
            "line",
            "",
            "the givens, row by row: 81 of `1`–`9` and `.` for a blank",
            |rows, _| texts(rows, |row| Some(row.puzzle.to_string())),
        ),
        column("clues", "cells", "number of givens", |rows, _| values(rows, |row| row.clues)),
        column(
            "outcome",
            "",
            "how the walk ended: `solved`, `stuck` (no look finds anything) or `contradiction` \
             (not for a puzzle with one solution)",
            |rows, _| words(rows, Outcome::VARIANTS, |row| Some(row.outcome as u8)),
        ),
        column("quiet_positions", "positions", "quiet positions of the walk", |rows, _| {
            values(rows, |row| row.quiet_positions)
        }),
        column::<PuzzleRow>(
            "hardest_look",
            "",
            "the look furthest down the order that the walk needed, whether it solved the puzzle \
             or not",
            |rows, looks| words(rows, looks, |row| row.hardest.map(|index| index as u8)),
        )
        .empty("if no look finds anything"),
        column("given_digits", "digits", "digits given because the walk was stuck", |rows, _| {
            values(rows, |row| row.given_digits)
        }),
        // A weight has at most sixteen digits, so a double keeps it to the millionth.
        column("weight", "", "how much the puzzle counts; 1 if not given", |rows, _| {
            values(rows, |row| row.weight.unwrap_or(Weight::ONE).millionths() as f64 / 1e6)
        }),
        column::<PuzzleRow>(
            "family",
            "",
            "puzzles of one family depend on each other",
            |rows, _| values(rows, |row| row.family.map(int64)),
        )
        .empty("if the puzzle stands alone"),
    ],
};

/// One row per quiet position.
pub(crate) static POSITIONS: Table<PositionRow> = Table {
    name: NAMES[1],
    row: "quiet position",
    columns: &[
        column("puzzle", "", "row of the collection, from 0", |rows, _| {
            values(rows, |row| int64(row.puzzle))
        }),
        column("position", "", "number of the quiet position in its puzzle, from 0", |rows, _| {
            values(rows, |row| row.position.number)
        }),
        column("fixed_cells", "cells", "cells with a fixed digit, givens included", |rows, _| {
            values(rows, |row| row.position.fixed_cells)
        }),
        column("candidates_left", "candidates", "candidates of all open cells", |rows, _| {
            values(rows, |row| row.position.candidates_left)
        }),
        column("houses_open_2", "houses", "houses with 2 open cells", |rows, _| houses(rows, 2)),
        column("houses_open_3", "houses", "houses with 3 open cells", |rows, _| houses(rows, 3)),
        column("houses_open_4", "houses", "houses with 4 open cells", |rows, _| houses(rows, 4)),
        column("houses_open_5", "houses", "houses with 5 open cells", |rows, _| houses(rows, 5)),
        column("houses_open_6", "houses", "houses with 6 open cells", |rows, _| houses(rows, 6)),
        column("houses_open_7", "houses", "houses with 7 open cells", |rows, _| houses(rows, 7)),
        column("houses_open_8", "houses", "houses with 8 open cells", |rows, _| houses(rows, 8)),
        column("houses_open_9", "houses", "houses with 9 open cells", |rows, _| houses(rows, 9)),
        column("subsets", "subsets", "subsets recorded here, proper or not", |rows, _| {
            values(rows, |row| row.position.subsets)
        }),
        column::<PositionRow>(
            "look_applied",
            "",
            "the look whose finds the walk applied here, or `given digit`",
            |rows, looks| {
                let words_in_order = [looks, &[GIVEN.to_owned()]].concat();
                words(rows, &words_in_order, |row| match row.position.applied {
                    AppliedLook::Look(index) => Some(index as u8),
                    AppliedLook::Given => Some(looks.len() as u8),
                    AppliedLook::Nothing => None,
                })
            },
        )
        .empty("where the walk ends"),
        column("given_digits", "digits", "digits given before", |rows, _| {
            values(rows, |row| row.position.given_digits)
        }),
        column::<PositionRow>(
            "state",
            "mask",
            "for each of the 81 cells its candidates (bit 0 is the digit 1), or its digit alone \
             and bit 9 if it is fixed",
            |rows, _| states(rows),
        )
        .of_states(),
    ],
};

/// One row per subset at a quiet position.
pub(crate) static SUBSETS: Table<SubsetRow> = Table {
    name: NAMES[2],
    row: "subset at a quiet position",
    columns: &[
        column("puzzle", "", "row of the collection, from 0", |rows, _| {
            values(rows, |row| int64(row.puzzle))
        }),
        column("position", "", "number of the quiet position in its puzzle, from 0", |rows, _| {
            values(rows, |row| row.position)
        }),
        column("house_kind", "", "`row`, `column` or `box`", |rows, _| {
            let kinds = HouseKind::ALL.map(HouseKind::name);
            words(rows, &kinds, |row| Some(row.subset.house.kind() as u8))
        }),
        column(
            "house",
            "",
            "number of the house in its kind, 1–9: rows from the top, columns from the left, boxes \
             row by row",
            |rows, _| values(rows, |row| row.subset.house.number()),
        ),
        column("open", "cells", "open cells of the house, 2–9", |rows, _| {
            values(rows, |row| row.subset.open)
        }),
        column(
            "naked",
            "cells",
            "size k of the naked side: k cells with k candidates between them",
            |rows, _| values(rows, |row| row.subset.naked),
        ),
        column("hidden", "cells", "size of the hidden side: `open` − `naked`", |rows, _| {
            values(rows, |row| row.subset.hidden())
        }),
        column(
            "live_open",
            "cells",
            "`open` without the cells of settled blocks (subsets already worked out that remove \
             nothing)",
            |rows, _| values(rows, |row| row.subset.live_open),
        ),
        column("live_naked", "cells", "`naked` without cells of settled blocks", |rows, _| {
            values(rows, |row| row.subset.live_naked)
        }),
        column("live_hidden", "cells", "`live_open` − `live_naked`", |rows, _| {
            values(rows, |row| row.subset.live_hidden())
        }),
        column(
            "cells",
            "mask",
            "cells of the naked side: bit 0 is the first place of the house (rows from the left, \
             columns from the top, boxes row by row)",
            |rows, _| values(rows, |row| row.subset.cells.bits()),
        ),
        column(
            "digits",
            "mask",
            "candidates of the naked side: bit 0 is the digit 1",
            |rows, _| values(rows, |row| row.subset.digits.bits()),
        ),
        column("eliminations", "candidates", "candidates that it removes, from 1", |rows, _| {
            values(rows, |row| row.subset.eliminations)
        }),
        column(
            "naked_proper",
            "",
            "no smaller tight set (cells that have just as many candidates between them) lies in \
             the naked side",
            |rows, _| values(rows, |row| row.subset.naked_proper),
        ),
        column(
            "hidden_proper",
            "",
            "no smaller hidden subset lies in the hidden side",
            |rows, _| values(rows, |row| row.subset.hidden_proper),
        ),
        column("applied", "", "the walk applied it at this position", |rows, _| {
            values(rows, |row| row.subset.applied)
        }),
        column(
            "new",
            "",
            "the same split (house and cells of the naked side) was not recorded at the quiet \
             position before; all are new at the first",
            |rows, _| values(rows, |row| row.new),
        ),
        column("given_digits", "digits", "digits given before", |rows, _| {
            values(rows, |row| row.given_digits)
        }),
    ],
};

/// The names of the three tables; each is a folder of the dataset.
pub(crate) const NAMES: [&str; 3] = ["puzzles", "positions", "subsets"];

/// Describes the tables of a dataset, column by column.
#[must_use]
pub fn schema() -> [TableDescription; 3] {
    [PUZZLES.description(), POSITIONS.description(), SUBSETS.description()]
}

/// Returns a number as the tables have it; none is beyond 2⁶³.
fn int64(number: u64) -> i64 {
    number.cast_signed()
}

fn houses(rows: &[PositionRow], open: usize) -> PolarsResult<Series> {
    values(rows, |row| row.position.exposure.of_open(open))
}

fn states(rows: &[PositionRow]) -> PolarsResult<Series> {
    // The type of the values is named, so that a part without positions has the column too.
    let mut lists = ListPrimitiveChunkedBuilder::<UInt16Type>::new(
        "".into(),
        rows.len(),
        81 * rows.len(),
        DataType::UInt16,
    );
    for row in rows {
        lists.append_opt_slice(row.position.states.as_ref().map(|states| &states[..]));
    }
    Ok(lists.finish().into_series())
}

/// The rows of one part.
pub(crate) struct PartTables {
    looks: Vec<String>,
    keep_states: bool,
    puzzles: Vec<PuzzleRow>,
    positions: Vec<PositionRow>,
    subsets: Vec<SubsetRow>,
}

impl PartTables {
    pub(crate) fn new(order: &Order, keep_states: bool) -> Self {
        let looks = order.looks().iter().map(ToString::to_string).collect();
        let (puzzles, positions, subsets) = (Vec::new(), Vec::new(), Vec::new());
        Self { looks, keep_states, puzzles, positions, subsets }
    }

    /// Writes the part's file of each table.
    pub(crate) fn write(
        self,
        folder: &Path,
        file_name: &str,
    ) -> Result<Vec<(PathBuf, Written)>, CensusError> {
        let Self { looks, keep_states, puzzles, positions, subsets } = self;
        let path = |table: &str| folder.join(table).join(file_name);
        let frames = [
            (PUZZLES.name, PUZZLES.frame(&puzzles, &looks, keep_states)),
            (POSITIONS.name, POSITIONS.frame(&positions, &looks, keep_states)),
            (SUBSETS.name, SUBSETS.frame(&subsets, &looks, keep_states)),
        ];
        let write = |(table, frame)| Ok((path(table), write_table(&path(table), frame)?));
        frames.into_iter().map(write).collect()
    }
}

impl Sink for PartTables {
    fn puzzle(&mut self, scan: &PuzzleScan) {
        let puzzle = scan.entry.number;
        self.puzzles.push(PuzzleRow {
            number: puzzle,
            puzzle: scan.entry.puzzle,
            clues: scan.clues,
            outcome: scan.outcome,
            quiet_positions: scan.quiet_positions,
            hardest: scan.hardest,
            given_digits: scan.given_digits,
            weight: scan.entry.weight,
            family: scan.entry.family,
        });
        self.positions.extend(
            scan.positions
                .iter()
                .map(|position| PositionRow { puzzle, position: position.clone() }),
        );
        let mut before = Before::of(&scan.subsets);
        self.subsets.extend(scan.subsets.iter().map(|&(position, subset)| SubsetRow {
            puzzle,
            position,
            subset,
            new: !before.has(position, &subset),
            given_digits: scan.positions[usize::from(position)].given_digits,
        }));
    }
}

/// Tells of each subset of a puzzle in turn whether the quiet position before had the same split.
struct Before<'a> {
    /// The subsets from the first on that may be that of a later one: they are in the order of
    /// positions, houses and cells, so one pass goes ahead of the other.
    rest: &'a [(u16, Subset)],
}

impl<'a> Before<'a> {
    const fn of(subsets: &'a [(u16, Subset)]) -> Self {
        Self { rest: subsets }
    }

    fn has(&mut self, position: u16, subset: &Subset) -> bool {
        let key = |position, subset: &Subset| (position, subset.house, subset.cells.bits());
        let Some(before) = position.checked_sub(1) else { return false };
        let wanted = key(before, subset);
        while let Some(((at, first), rest)) = self.rest.split_first()
            && key(*at, first) < wanted
        {
            self.rest = rest;
        }
        self.rest.first().is_some_and(|(at, first)| key(*at, first) == wanted)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use tallyhouse_board::House;
    use tallyhouse_collection::{Entry, MinimalByDeletion};
    use tallyhouse_engine::{Course, WalkOptions, WhenStuck};

    use super::*;
    use crate::Scanner;

    /// A row is new if its house and cells were not among those of the position before.
    #[test]
    fn new_subsets_were_not_recorded_at_the_position_before() {
        let backwards = WalkOptions {
            course: Course::OneByOne(House::all().rev().collect()),
            when_stuck: WhenStuck::GiveDigit,
            ..WalkOptions::default()
        };
        let (mut new, mut old) = (0, 0);
        for walk in [WalkOptions::default(), backwards] {
            let mut tables = PartTables::new(&walk.order, false);
            let puzzles = MinimalByDeletion { seed: 12 }.puzzles(0..300);
            let entries = (0..).zip(puzzles).map(|(number, puzzle)| Ok(Entry::new(number, puzzle)));
            for scan in Scanner::new(&walk, false).scan(entries.collect()) {
                tables.puzzle(scan.unwrap());
            }
            let key = |row: &SubsetRow, position: u16| {
                (row.puzzle, position, row.subset.house, row.subset.cells.bits())
            };
            let recorded: HashSet<_> =
                tables.subsets.iter().map(|row| key(row, row.position)).collect();
            for row in &tables.subsets {
                let before = row.position.checked_sub(1);
                let is_old = before.is_some_and(|before| recorded.contains(&key(row, before)));
                assert_eq!(row.new, !is_old);
                if is_old { old += 1 } else { new += 1 }
            }
        }
        assert!(new > 500 && old > 500, "{new} {old}");
    }
}
