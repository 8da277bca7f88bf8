//! The items of a worksheet that were timed, and what a look at each goes through.

use std::collections::BTreeMap;

use tallyhouse_board::{House, Puzzle};
use tallyhouse_census::Scanner;
use tallyhouse_collection::Entry;
use tallyhouse_engine::effort::{LookCounts, look_to_the_end, make_looks};
use tallyhouse_engine::{Look, Position, WalkOptions};

use super::rows::{self, wrong};
use crate::FileError;

/// What to do if the file is not as it should be.
const ADVICE: &str = "take items.csv as worksheet wrote it";

/// An item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Item {
    /// A whole board, whose time says nothing of one look.
    Board,
    /// One look in one house.
    House(Exercise),
}

/// One look in one house.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Exercise {
    /// The look that is asked for.
    pub(super) look: Look,
    /// Where: the puzzle, its quiet position, from 0, and the house.
    pub(super) place: (Puzzle, u16, House),
    /// What the look goes through up to its find; `None` if there is nothing to find.
    pub(super) to_find: Option<LookCounts>,
    /// What it goes through if nothing is found.
    pub(super) to_end: LookCounts,
}

/// The items of one worksheet.
#[derive(Debug)]
pub(super) struct Items {
    /// The file.
    pub(super) file: String,
    by_number: BTreeMap<u64, Item>,
}

/// An exercise before its board is known.
struct Asked {
    line: usize,
    look: Look,
    place: (Puzzle, u16, House),
}

impl Items {
    /// Reads the file that came with a worksheet.
    ///
    /// # Errors
    /// [`FileError`] with the line of what is wrong.
    pub(super) fn read(file: &str) -> Result<Self, FileError> {
        let columns = ["item", "kind", "puzzle", "position", "house", "look"];
        let rows = rows::read(file, columns, ADVICE)?;
        let mut asked = BTreeMap::new();
        for row in rows {
            let line = row.line;
            let error = |what: String| wrong(file, line, format!("{what}; {ADVICE}"));
            let fields = row.fields.map_err(error)?;
            let (number, exercise) = item(line, &fields).map_err(error)?;
            if asked.insert(number, exercise).is_some() {
                return Err(error(format!("found item {number} again")));
            }
        }
        if asked.is_empty() {
            return Err(wrong(file, 1, format!("found no item; {ADVICE}")));
        }
        let by_number = exercises(file, asked)?;
        Ok(Self { file: file.to_owned(), by_number })
    }

    /// Returns the item of a number.
    pub(super) fn get(&self, number: u64) -> Option<&Item> {
        self.by_number.get(&number)
    }

    /// Returns how many there are.
    pub(super) fn len(&self) -> usize {
        self.by_number.len()
    }
}

/// Reads an item; none for a whole board.
fn item(line: usize, fields: &[String; 6]) -> Result<(u64, Option<Asked>), String> {
    let [number, kind, puzzle, position, house, look] = fields;
    let number = number
        .parse()
        .map_err(|_| format!("item: found '{}', expected a number", number.escape_debug()))?;
    match kind.as_str() {
        "board" => return Ok((number, None)),
        "house" => {}
        found => {
            return Err(format!("kind: found '{}', expected house or board", found.escape_debug()));
        }
    }
    let puzzle: Puzzle = puzzle.parse().map_err(|error| format!("puzzle: {error}"))?;
    let at = position.parse::<u16>().ok().and_then(|number| number.checked_sub(1));
    let at = at.ok_or_else(|| {
        format!("position: found '{}', expected a number from 1", position.escape_debug())
    })?;
    let house = house.parse().map_err(|error| format!("house: {error}"))?;
    let look: Look = look.parse().map_err(|error| format!("look: {error}"))?;
    if look.is_single() || look.size().is_none() {
        return Err(format!("look: found {look}, expected one for subsets"));
    }
    Ok((number, Some(Asked { line, look, place: (puzzle, at, house) })))
}

/// Walks the puzzles and makes the looks.
fn exercises(
    file: &str,
    asked: BTreeMap<u64, Option<Asked>>,
) -> Result<BTreeMap<u64, Item>, FileError> {
    let entry = |asked: &Asked| Ok(Entry::new(0, asked.place.0));
    let block = asked.values().flatten().map(entry).collect();
    let mut scanner = Scanner::new(&WalkOptions::default(), true);
    let mut scans = scanner.scan(block).into_iter();
    let mut made = BTreeMap::new();
    for (number, asked) in asked {
        let Some(Asked { line, look, place }) = asked else {
            made.insert(number, Item::Board);
            continue;
        };
        let error = |what: String| wrong(file, line, format!("{what}; {ADVICE}"));
        let scan = scans.next().unwrap_or_else(|| unreachable!("each puzzle is scanned"));
        let scan = scan.map_err(|reject| error(format!("puzzle: {}", reject.reason)))?;
        let record = scan.positions.get(usize::from(place.1));
        let position = record.and_then(|record| record.states.as_deref()).ok_or_else(|| {
            let (wanted, there) = (place.1 + 1, scan.positions.len());
            error(format!("position: found {wanted}, but the puzzle has {there} quiet positions"))
        })?;
        let position = Position::from_states(position).map_err(|what| error(what.to_string()))?;
        let exercise = Exercise::new(&position, look, place);
        let exercise = exercise
            .ok_or_else(|| error(format!("look: {look} does not fit into {} there", place.2)))?;
        made.insert(number, Item::House(exercise));
    }
    Ok(made)
}

impl Exercise {
    /// Makes the look; `None` if there is no room for it.
    fn new(position: &Position, look: Look, place: (Puzzle, u16, House)) -> Option<Self> {
        let to_end = look_to_the_end(position, place.2, look);
        let mut to_find = None;
        make_looks(position, place.2, [look], |_, counts, found| {
            to_find = found.map(|_| counts);
        });
        (to_end.open > 0).then_some(Self { look, place, to_find, to_end })
    }
}
