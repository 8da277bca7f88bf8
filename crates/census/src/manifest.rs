//! The manifest: what a dataset is and how it came to be.

use serde::{Deserialize, Serialize};
use strum::VariantArray;
use tallyhouse_board::House;
use tallyhouse_engine::{Course, CourseKind, Look, Order, WalkOptions, WhenStuck};

use crate::Totals;

/// The version of the tables, the CSV headers and the manifest.
pub const SCHEMA_VERSION: u32 = 2;

/// The file `manifest.json`, written last: a dataset with a manifest is whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// [`SCHEMA_VERSION`] of the writer.
    pub schema_version: u32,
    /// The program and its version.
    pub tool: String,
    /// Where the puzzles came from.
    pub collection: CollectionNotes,
    /// The walk.
    pub walk: WalkNotes,
    /// `all` or `none`.
    pub tables: String,
    /// True if the table of positions holds board states.
    pub keep_states: bool,
    /// How many rows each part covers.
    pub part_size: u64,
    /// How many parts there are.
    pub parts: u64,
    /// The seed of a generated collection, if known.
    pub seed: Option<u64>,
    /// The slice of the collection that was scanned, as in `2/4`; null for all of it.
    pub shard: Option<String>,
    /// What was scanned.
    pub totals: Totals,
    /// Puzzles by the last look that was needed, in the order of looks; the last entry, named
    /// `none`, for puzzles that needed no look.
    pub hardest_look: Vec<(String, u64)>,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// How long the scan took; the only entry that differs between equal runs.
    pub wall_seconds: f64,
}

impl Manifest {
    /// Returns the number of rejected rows.
    #[must_use]
    pub fn rejected_rows(&self) -> u64 {
        self.rejected.iter().map(|(_, rows)| rows).sum()
    }
}

/// Where the puzzles came from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CollectionNotes {
    /// The sources as named on the command line.
    pub sources: Vec<String>,
    /// BLAKE3 over the text of all rows, each followed by a line feed.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
}

/// The walk in words that can be read back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WalkNotes {
    /// The looks, first look first.
    pub order: Vec<String>,
    /// `together` or `one-by-one`.
    pub course: String,
    /// The order of houses of a one-by-one walk; empty otherwise.
    pub houses: Vec<String>,
    /// `stop` or `give-digit`.
    pub when_stuck: String,
}

impl From<&WalkOptions> for WalkNotes {
    fn from(options: &WalkOptions) -> Self {
        let houses = match &options.course {
            Course::Together => &[][..],
            Course::OneByOne(houses) => houses,
        };
        Self {
            order: options.order.looks().iter().map(ToString::to_string).collect(),
            course: CourseKind::from(&options.course).to_string(),
            houses: houses.iter().map(ToString::to_string).collect(),
            when_stuck: options.when_stuck.to_string(),
        }
    }
}

/// A walk in words that this program does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place} of the walk is '{found}': expected {expected}")]
pub struct UnknownWalk {
    place: &'static str,
    found: String,
    expected: String,
}

impl WalkNotes {
    /// Reads the walk back.
    ///
    /// # Errors
    /// If a look, a house, the course or what happens when stuck is not known.
    pub fn options(&self) -> Result<WalkOptions, UnknownWalk> {
        let unknown = |place, found: &str, expected: &str| UnknownWalk {
            place,
            found: found.to_owned(),
            expected: expected.to_owned(),
        };
        let look = |text: &String| {
            text.parse::<Look>().map_err(|_| unknown("a look", text, "a look as in 'naked 2'"))
        };
        let house = |text: &String| {
            let known = House::all().find(|house| house.to_string() == *text);
            known.ok_or_else(|| unknown("a house", text, "a house as in 'row 4'"))
        };
        let looks = self.order.iter().map(look).collect::<Result<_, _>>()?;
        let order = Order::new(looks)
            .map_err(|error| unknown("the order", &error.to_string(), "looks, each once"))?;
        let course = match self.course.parse() {
            Ok(CourseKind::Together) => Course::Together,
            Ok(CourseKind::OneByOne) => {
                Course::OneByOne(self.houses.iter().map(house).collect::<Result<_, _>>()?)
            }
            Err(_) => return Err(unknown("the course", &self.course, &names::<CourseKind>())),
        };
        let when_stuck = self
            .when_stuck
            .parse()
            .map_err(|_| unknown("when_stuck", &self.when_stuck, &names::<WhenStuck>()))?;
        Ok(WalkOptions { order, course, when_stuck })
    }
}

/// Lists the names of a choice.
fn names<T: VariantArray + Copy + Into<&'static str>>() -> String {
    let names: Vec<&str> = T::VARIANTS.iter().map(|&value| value.into()).collect();
    names.join(" or ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn walks_can_be_read_back_and_unknown_ones_are_named() {
        let houses: Vec<House> = House::all().rev().collect();
        let narrow = Order::new(vec!["naked 4 open 8..9".parse().unwrap()]).unwrap();
        let walks = [
            WalkOptions::default(),
            WalkOptions { course: Course::OneByOne(houses), ..WalkOptions::default() },
            WalkOptions {
                order: Order::ladder().with_intersections(),
                when_stuck: WhenStuck::GiveDigit,
                ..WalkOptions::default()
            },
            WalkOptions { order: narrow, ..WalkOptions::default() },
        ];
        for walk in walks {
            assert_eq!(WalkNotes::from(&walk).options(), Ok(walk));
        }
        let unknown = |change: fn(&mut WalkNotes)| {
            let mut notes = WalkNotes::from(&WalkOptions::default());
            change(&mut notes);
            notes.options().unwrap_err().to_string()
        };
        let look = unknown(|notes| notes.order[0] = "bare 2".to_owned());
        assert_eq!(look, "a look of the walk is 'bare 2': expected a look as in 'naked 2'");
        assert!(unknown(|notes| notes.order.clear()).starts_with("the order of the walk"));
        assert!(unknown(|notes| notes.course = "apart".to_owned()).contains("'apart'"));
        assert!(unknown(|notes| notes.when_stuck = "guess".to_owned()).contains("'guess'"));
        let house = unknown(|notes| {
            notes.course = "one-by-one".to_owned();
            notes.houses = vec!["row 10".to_owned()];
        });
        assert!(house.contains("'row 10'"), "{house}");
    }
}
