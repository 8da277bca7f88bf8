//! The rows that people filled in, checked against the worksheet.

use std::collections::BTreeMap;

use serde::Serialize;
use tallyhouse_collection::Rejects;
use tallyhouse_engine::Look;

use super::items::{Exercise, Item, Items};
use super::rows::{self, Row, wrong};
use crate::AnalysisError;

const COLUMNS: [&str; 5] = ["person", "item", "look", "seconds", "found"];

/// What to do if a column is missing.
const ADVICE: &str = "name the columns person,item,look,seconds,found in the first line";

/// How a search ended, as people write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    Yes,
    No,
}

/// One look of one person that can be used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Time {
    pub(super) seconds: f64,
    pub(super) found: Found,
}

/// Rows that are as they should be but say nothing of one look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// The form was not filled in: neither seconds nor how it ended.
    pub blank: u64,
    /// The search was given up.
    pub gave_up: u64,
    /// The item is a whole board.
    pub whole_boards: u64,
    /// Something was found where there is nothing.
    pub found_nothing_there: u64,
}

/// What people filled in.
#[derive(Debug, Default)]
pub(super) struct Times {
    /// All rows.
    pub(super) rows: u64,
    /// Rows that are not as they should be.
    pub(super) rejected: u64,
    pub(super) left_out: LeftOut,
    /// By person, by item.
    pub(super) by_person: BTreeMap<u64, BTreeMap<u64, Time>>,
}

/// A row of the form that nobody filled in.
fn is_blank([_, _, _, seconds, found]: &[String; 5]) -> bool {
    seconds.is_empty() && found.is_empty()
}

/// A row that was read: who, what, and the time if it is to be used.
struct Entry {
    person: u64,
    item: u64,
    ending: Result<Time, Unused>,
}

#[derive(Clone, Copy)]
enum Unused {
    GaveUp,
    WholeBoard,
    FoundNothingThere,
}

impl Times {
    /// Reads times; rows that are not as they should be go to `rejects`.
    ///
    /// # Errors
    /// If the file can't be read, lacks a column or names people, or rejects can't be written.
    pub(super) fn read(
        file: &str,
        items: &Items,
        rejects: &mut Rejects,
    ) -> Result<Self, AnalysisError> {
        let rows = rows::read(file, COLUMNS, ADVICE)?;
        Self::of(file, rows, items, rejects)
    }

    fn of(
        file: &str,
        rows: Vec<Row<5>>,
        items: &Items,
        rejects: &mut Rejects,
    ) -> Result<Self, AnalysisError> {
        if let Some(row) = rows.iter().find(|row| names_someone(row)) {
            let what = "person: found letters, expected a number; number the people, and keep the \
                        list of who is who to yourself";
            return Err(wrong(file, row.line, what).into());
        }
        let mut times = Self::default();
        let mut seen = BTreeMap::new();
        for Row { line, text, fields, .. } in rows {
            times.rows += 1;
            if fields.as_ref().is_ok_and(is_blank) {
                times.left_out.blank += 1;
                continue;
            }
            let entry = fields.and_then(|fields| entry(&fields, items)).and_then(|entry| {
                let Entry { person, item, .. } = entry;
                match seen.insert((person, item), line) {
                    Some(before) => Err(format!(
                        "item: person {person} has item {item} on line {before} already, expected \
                         it once"
                    )),
                    None => Ok(entry),
                }
            });
            match entry {
                Ok(entry) => times.take(entry),
                Err(reason) => {
                    times.rejected += 1;
                    rejects.list(file, line as u64, &text, &reason)?;
                }
            }
        }
        Ok(times)
    }

    fn take(&mut self, Entry { person, item, ending }: Entry) {
        match ending {
            Ok(time) => {
                self.by_person.entry(person).or_default().insert(item, time);
            }
            Err(Unused::GaveUp) => self.left_out.gave_up += 1,
            Err(Unused::WholeBoard) => self.left_out.whole_boards += 1,
            Err(Unused::FoundNothingThere) => self.left_out.found_nothing_there += 1,
        }
    }
}

/// Tests if a row has letters where a number of a person is to stand.
fn names_someone(row: &Row<5>) -> bool {
    row.first.chars().any(char::is_alphabetic)
}

fn entry(fields: &[String; 5], items: &Items) -> Result<Entry, String> {
    let [person, item, look, seconds, found] = fields;
    let found_text = |text: &str| text.escape_debug().to_string();
    let person = person.parse::<u64>().ok().filter(|&person| person > 0).ok_or_else(|| {
        format!("person: found '{}', expected a number from 1", found_text(person))
    })?;
    let number = item.parse::<u64>().ok();
    let (item, exercise) =
        number.and_then(|number| Some((number, items.get(number)?))).ok_or_else(|| {
            format!(
                "item: found '{}', expected one of the {} items of {}",
                found_text(item),
                items.len(),
                items.file
            )
        })?;
    let ending = match found.to_ascii_lowercase().as_str() {
        "gave-up" => return Ok(Entry { person, item, ending: Err(Unused::GaveUp) }),
        "yes" => Found::Yes,
        "no" => Found::No,
        _ => {
            let found = found_text(found);
            return Err(format!("found: found '{found}', expected yes, no or gave-up"));
        }
    };
    // Where a semicolon or a tab stands between fields, a comma may stand in numbers.
    let parsed = seconds.replace(',', ".").parse::<f64>().ok();
    let seconds = parsed.filter(|&time| time > 0.0 && time.is_finite()).ok_or_else(|| {
        format!("seconds: found '{}', expected a number above 0", found_text(seconds))
    })?;
    let exercise = match exercise {
        Item::Board => return Ok(Entry { person, item, ending: Err(Unused::WholeBoard) }),
        Item::House(exercise) => exercise,
    };
    if look.parse::<Look>() != Ok(exercise.look) {
        let (found, asked) = (found_text(look), exercise.look);
        return Err(format!("look: found '{found}', but item {item} asks for {asked}"));
    }
    let ending = match (ending, exercise) {
        (Found::Yes, Exercise { to_find: None, .. }) => Err(Unused::FoundNothingThere),
        (found, _) => Ok(Time { seconds, found }),
    };
    Ok(Entry { person, item, ending })
}
