//! Rebuilding the positions of a dataset: from kept states, or by walking the puzzles again.

use polars::prelude::{Int64Type, UInt16Type};
use tallyhouse_board::Puzzle;
use tallyhouse_collection::Entry;
use tallyhouse_engine::Position;

use crate::table_file::TableFile;
use crate::tables::{POSITIONS, PUZZLES};
use crate::{CensusError, Dataset, Scanner};

/// The puzzles and positions of one part.
pub struct Boards<'a> {
    dataset: &'a Dataset,
    puzzles: TableFile,
    /// The positions of the puzzles in the collection, rising.
    numbers: Vec<u64>,
    states: Option<States>,
}

struct States {
    positions: TableFile,
    /// Puzzle and number of the quiet position, rising.
    keys: Vec<(u64, u16)>,
}

impl Dataset {
    /// Opens the boards of a part.
    ///
    /// # Errors
    /// If a table is missing or damaged.
    pub fn boards(&self, part: u64) -> Result<Boards<'_>, CensusError> {
        Boards::open(self, part)
    }
}

impl<'a> Boards<'a> {
    fn open(dataset: &'a Dataset, part: u64) -> Result<Self, CensusError> {
        let puzzles = dataset.table(&PUZZLES, part, &["puzzle", "line"])?;
        let numbers = rows(&puzzles)?;
        if !numbers.is_sorted() {
            return Err(puzzles.damaged("the puzzles are not in order"));
        }
        let states =
            if dataset.manifest().keep_states { Some(States::open(dataset, part)?) } else { None };
        Ok(Self { dataset, puzzles, numbers, states })
    }

    /// Rebuilds quiet positions, each given by its puzzle's position in the collection and its
    /// number in the walk.
    ///
    /// # Errors
    /// If the tables have no such puzzle or position.
    pub fn rebuild(&self, wanted: &[(u64, u16)]) -> Result<Vec<(Puzzle, Position)>, CensusError> {
        let puzzle = |&(number, _): &(u64, u16)| {
            let wrong = |what: &str| self.puzzles.damaged(format!("puzzle {number} {what}"));
            let row = self.numbers.binary_search(&number).map_err(|_| wrong("is missing"))?;
            let line = self.puzzles.text("line", row)?.unwrap_or_default();
            line.parse().map_err(|error| wrong(&format!("can't be read: {error}")))
        };
        let puzzles: Vec<Puzzle> = wanted.iter().map(puzzle).collect::<Result<_, _>>()?;
        let positions = match &self.states {
            Some(states) => {
                wanted.iter().map(|key| states.position(*key)).collect::<Result<Vec<_>, _>>()?
            }
            None => self.walk(wanted, &puzzles)?,
        };
        Ok(puzzles.into_iter().zip(positions).collect())
    }

    fn walk(
        &self,
        wanted: &[(u64, u16)],
        puzzles: &[Puzzle],
    ) -> Result<Vec<Position>, CensusError> {
        let entries = wanted
            .iter()
            .zip(puzzles)
            .map(|(&(number, _), &puzzle)| Ok(Entry::new(number, puzzle)));
        let mut scanner = Scanner::new(self.dataset.walk(), true);
        let walked =
            scanner.scan(entries.collect()).into_iter().zip(wanted).map(|(scan, &(number, at))| {
                let wrong = |what: String| self.puzzles.damaged(format!("puzzle {number} {what}"));
                let scan =
                    scan.map_err(|reject| wrong(format!("is not valid: {}", reject.reason)))?;
                let record = scan.positions.get(usize::from(at));
                let states = record.and_then(|record| record.states.as_deref());
                let states = states.ok_or_else(|| wrong(format!("has no quiet position {at}")))?;
                Position::from_states(states)
                    .map_err(|error| wrong(format!("has no board: {error}")))
            });
        walked.collect()
    }
}

/// Reads the column of puzzles.
fn rows(table: &TableFile) -> Result<Vec<u64>, CensusError> {
    Ok(table.numbers::<Int64Type>("puzzle")?.into_iter().map(i64::cast_unsigned).collect())
}

impl States {
    fn open(dataset: &Dataset, part: u64) -> Result<Self, CensusError> {
        let positions = dataset.table(&POSITIONS, part, &["puzzle", "position", "state"])?;
        let numbers = positions.numbers::<UInt16Type>("position")?;
        let keys: Vec<(u64, u16)> = rows(&positions)?.into_iter().zip(numbers).collect();
        if !keys.is_sorted() {
            return Err(positions.damaged("the positions are not in order"));
        }
        Ok(Self { positions, keys })
    }

    fn position(&self, key: (u64, u16)) -> Result<Position, CensusError> {
        let (number, at) = key;
        let wrong = |what: String| {
            self.positions.damaged(format!("quiet position {at} of puzzle {number} {what}"))
        };
        let row = self.keys.binary_search(&key).map_err(|_| wrong("is missing".to_owned()))?;
        let states = self.positions.list_of_u16s("state", row)?;
        let found = states.len();
        let states: [u16; 81] = states
            .try_into()
            .map_err(|_| wrong(format!("has the state of {found} cells, expected 81")))?;
        Position::from_states(&states).map_err(|error| wrong(format!("has no board: {error}")))
    }
}
