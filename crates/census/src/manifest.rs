//! The manifest: what a dataset is and how it came to be.

use std::collections::BTreeMap;
use std::path::Path;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tallyhouse_board::House;
use tallyhouse_engine::{Course, Look, Order, WalkOptions};
use tallyhouse_stats::Level;
use tallyhouse_storage::{Digest, read_json, read_sealed};

use crate::CensusError;
use crate::layout::{MANIFEST, plan_path};
use crate::schema::SCHEMA_VERSION;
use crate::settings::{Made, PART_SIZE, Tables};

/// What a scan went through.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// Rows read: puzzles and rejected rows.
    pub rows: u64,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Puzzles with a weight or a family.
    pub weighted: u64,
    /// Puzzles that the walk solved.
    pub solved: u64,
    /// Puzzles in which the walk got stuck.
    pub stuck: u64,
    /// Puzzles with at least one quiet position.
    pub puzzles_with_quiet_positions: u64,
    /// Quiet positions.
    pub quiet_positions: u64,
    /// Subsets in quiet positions.
    pub subsets: u64,
    /// Digits given because a walk was stuck.
    pub given_digits: u64,
    /// Clues, summed over puzzles.
    pub clues: u64,
    /// Squares of the number of clues, summed over puzzles.
    pub clues_squared: u64,
}

/// The file `manifest.json`, written last: a dataset with a manifest is whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// [`SCHEMA_VERSION`] of the writer.
    pub schema_version: u32,
    /// The program and its version.
    pub tool: String,
    /// The digest of what the scan was to do, and with which rows: equal for equal scans, however they
    /// were divided.
    pub plan: Digest,
    /// Where the puzzles came from.
    pub collection: CollectionNotes,
    /// The walk.
    pub walk: WalkNotes,
    /// Which tables there are.
    pub tables: Tables,
    /// True if the table of positions holds board states.
    pub keep_states: bool,
    /// How many rows each part covers; of families that are made, how many families.
    pub part_size: u64,
    /// How many parts there are.
    pub parts: u64,
    /// The seed of a generated collection, if known.
    pub seed: Option<u64>,
    /// The confidence level of `shares.csv` and `rates.csv`.
    pub level: Level,
    /// What was scanned.
    pub totals: Totals,
    /// Puzzles by the last look that was needed, in the order of looks; the last entry, named
    /// `none`, for puzzles that needed no look.
    pub hardest_look: Vec<(String, u64)>,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// The list of all other files.
    pub files: FileList,
    /// How long the scan took, all its parts one after the other if they were done by many runs; the only
    /// entry that differs between equal runs, so that no digest covers it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wall_seconds: Option<f64>,
}

/// The file that lists all files of a folder but the manifest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileList {
    /// Its path below the folder.
    pub list: String,
    /// Its length.
    pub bytes: u64,
    /// Its digest.
    pub blake3: Digest,
}

impl Manifest {
    /// Returns the number of the part that a puzzle is in.
    #[must_use]
    pub fn part_of(&self, puzzle: u64) -> u64 {
        let made = self.collection.made.as_ref();
        let numbering = made.map(|made| made.recipe.numbering()).unwrap_or_default();
        numbering.unit(puzzle) / self.part_size.max(1)
    }

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
    /// BLAKE3 over the digests of blocks of 1,000 rows, each row with a line feed; of families that are
    /// made, each is a block.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
    /// How the puzzles were made, if they were made for the scan.
    pub made: Option<Made>,
}

/// Returns the program and its version.
pub(crate) fn tool() -> String {
    concat!("tallyhouse ", env!("CARGO_PKG_VERSION")).to_owned()
}

/// Reads the manifest of a whole dataset.
///
/// # Errors
/// If it is missing, damaged or of another version of the schema.
pub fn manifest(folder: &Path) -> Result<Manifest, CensusError> {
    if folder.is_file() {
        return Err(CensusError::NoRecords {
            path: folder.to_owned(),
            reason: "it is a file, not a dataset; if it holds puzzles, run census on it first"
                .into(),
        });
    }
    read_manifest(folder, None)?.ok_or_else(|| {
        let unfinished = plan_path(folder).is_file();
        let reason = if unfinished {
            "the scan is unfinished: finish it with census --resume, or with --finish if it was planned"
        } else {
            "it has no manifest.json"
        };
        CensusError::NoRecords { path: folder.to_owned(), reason: reason.to_owned() }
    })
}

/// Reads a manifest of a kind, `None` if there is none. Kind and version are read first: others have
/// other fields.
pub(crate) fn read_manifest<T: DeserializeOwned>(
    folder: &Path,
    kind: Option<&str>,
) -> Result<Option<T>, CensusError> {
    let path = folder.join(MANIFEST);
    let Some(manifest) = read_json::<Value>(&path)? else { return Ok(None) };
    if manifest.get("kind").and_then(Value::as_str) != kind {
        let reason = "it is the manifest of something else".to_owned();
        return Err(CensusError::Damaged { path, reason });
    }
    let version = manifest.get("schema_version").and_then(Value::as_u64);
    if version != Some(u64::from(SCHEMA_VERSION)) {
        return Err(CensusError::OtherSchema {
            path: folder.to_owned(),
            found: version.map_or_else(|| "unknown".to_owned(), |version| version.to_string()),
            again: again(&manifest, folder),
        });
    }
    Ok(read_sealed(&path)?)
}

impl Manifest {
    /// Returns the command that makes the dataset again.
    pub(crate) fn again(&self, folder: &Path) -> String {
        again(&serde_json::to_value(self).unwrap_or_default(), folder)
    }
}

/// Returns the command that makes a folder again, as far as its manifest tells.
fn again(manifest: &Value, folder: &Path) -> String {
    let command = if manifest.get("kind").is_some() { "collect" } else { "census" };
    let text = |value: &Value| value.as_str().map(str::to_owned);
    let list = |value: &Value| value.as_array().map(|list| list.iter().filter_map(text).collect());
    let sources = manifest.pointer("/collection/sources").or(manifest.get("sources"));
    let sources: Vec<String> = sources.and_then(list).unwrap_or_default();
    let mut words = vec!["tallyhouse".to_owned(), command.to_owned()];
    let made = manifest.pointer("/collection/made").cloned();
    match made.and_then(|made| serde_json::from_value::<Made>(made).ok()) {
        Some(Made { recipe, count }) => words.push(recipe.census_options(count)),
        None => words.extend(sources.iter().map(|source| quoted(source))),
    }
    words.extend(["--out".to_owned(), quoted(&folder.display().to_string())]);
    let ladder: Vec<String> = Order::ladder().looks().iter().map(ToString::to_string).collect();
    let order: Option<Vec<String>> = manifest.pointer("/walk/order").and_then(list);
    if let Some(order) = order.filter(|order| *order != ladder) {
        words.extend(["--looks".to_owned(), quoted(&order.join(", "))]);
    }
    let of_walk = WalkOptions::default().choices().into_iter();
    let of_walk = of_walk.map(|(choice, usual)| (format!("/walk/{choice}"), choice, usual));
    for (pointer, choice, usual) in of_walk.chain([("/tables".to_owned(), "tables", "all")]) {
        let chosen = manifest.pointer(&pointer).and_then(Value::as_str);
        let chosen = chosen.filter(|&chosen| chosen != usual);
        let option = choice.replace('_', "-");
        words.extend(chosen.map(|chosen| format!("--{option} {}", chosen.replace(' ', "-"))));
    }
    if manifest.get("keep_states") == Some(&Value::Bool(true)) {
        words.push("--keep-states".to_owned());
    }
    let rows = manifest.get("part_size").and_then(Value::as_u64);
    words.extend(rows.filter(|&rows| rows != PART_SIZE).map(|rows| format!("--part-size {rows}")));
    words.join(" ")
}

/// Writes a word as a shell reads it.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

/// The walk in words that can be read back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WalkNotes {
    /// The looks, first look first.
    pub order: Vec<String>,
    /// The order of houses of a one-by-one walk; empty otherwise.
    pub houses: Vec<String>,
    /// All that is chosen beside them: see [`WalkOptions::choices`].
    #[serde(flatten)]
    pub choices: BTreeMap<String, String>,
}

impl From<&WalkOptions> for WalkNotes {
    fn from(options: &WalkOptions) -> Self {
        let houses = match &options.course {
            Course::Together => &[][..],
            Course::OneByOne(houses) => houses,
        };
        Self {
            order: options.order.looks().iter().map(ToString::to_string).collect(),
            houses: houses.iter().map(ToString::to_string).collect(),
            choices: owned(options.choices()),
        }
    }
}

/// A walk in words that this program does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct UnknownWalk(String);

impl WalkNotes {
    /// Reads the walk back.
    ///
    /// # Errors
    /// If a look, a house or a choice is not known, or a choice is missing.
    pub fn options(&self) -> Result<WalkOptions, UnknownWalk> {
        let unknown = |place, found: &str, expected: &str| {
            UnknownWalk(format!("{place} of the walk is '{found}': expected {expected}"))
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
        let mut options = WalkOptions { order, ..WalkOptions::default() };
        for (choice, name) in &self.choices {
            options.choose(choice, name).map_err(|error| UnknownWalk(error.to_string()))?;
        }
        if let Some(missing) = options.choices().keys().find(|c| !self.choices.contains_key(**c)) {
            return Err(UnknownWalk(format!("the walk does not say its {missing}")));
        }
        if let Course::OneByOne(houses) = &mut options.course {
            *houses = self.houses.iter().map(house).collect::<Result<_, _>>()?;
        }
        Ok(options)
    }
}

fn owned(choices: BTreeMap<&str, &str>) -> BTreeMap<String, String> {
    choices.into_iter().map(|(choice, name)| (choice.to_owned(), name.to_owned())).collect()
}

#[cfg(test)]
mod tests {
    use tallyhouse_engine::WhenStuck;

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
        fn choose(notes: &mut WalkNotes, choice: &str, name: &str) {
            notes.choices.insert(choice.to_owned(), name.to_owned());
        }
        let course = unknown(|notes| choose(notes, "course", "apart"));
        assert_eq!(course, "'apart' is no course: expected together or one-by-one");
        assert!(unknown(|notes| choose(notes, "when_stuck", "guess")).contains("'guess'"));
        let choice = unknown(|notes| choose(notes, "speed", "slow"));
        assert_eq!(choice, "'speed' is no choice: expected course or when_stuck");
        let missing = unknown(|notes| notes.choices.clear());
        assert_eq!(missing, "the walk does not say its course");
        let house = unknown(|notes| {
            choose(notes, "course", "one-by-one");
            notes.houses = vec!["row 10".to_owned()];
        });
        assert!(house.contains("'row 10'"), "{house}");
    }
}
