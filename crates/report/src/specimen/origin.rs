use std::fmt;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::{Entry, Source};
use tallyhouse_engine::{Course, Order, WalkOptions, WhenStuck};

/// Where the puzzle of a specimen comes from.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Origin {
    /// The name of the source, or how the puzzle was made.
    pub source: String,
    /// The position in the collection: rows of all sources counted from 0, rejected ones included;
    /// of a made puzzle its number under the seed.
    pub number: u64,
    /// The line in the source, counted from 1.
    pub line: Option<u64>,
    /// The label in the source.
    pub label: Option<String>,
    /// How many digits of the solution were given before, because the walk was stuck.
    pub given_digits: u8,
}

impl Origin {
    /// Tells where an entry of some sources stands.
    pub(crate) fn of(entry: &Entry, sources: &[Source]) -> Self {
        Self {
            source: sources[entry.source].name().to_owned(),
            number: entry.number,
            line: Some(entry.line),
            label: entry.label.clone(),
            given_digits: 0,
        }
    }
}

impl fmt::Display for Origin {
    /// Writes `puzzle 17 of a.txt, line 19, labelled 'easy'`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "puzzle {} of {}", self.number, self.source)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(label) = &self.label {
            write!(f, ", labelled '{label}'")?;
        }
        match self.given_digits {
            0 => Ok(()),
            digits => write!(f, ", given digits before: {digits}"),
        }
    }
}

/// Says how puzzles were walked.
pub(super) fn walk_words(walk: &WalkOptions) -> String {
    let order = if walk.order == Order::ladder() {
        "the full ladder".to_owned()
    } else {
        walk.order.to_string()
    };
    let course = match &walk.course {
        Course::Together => "all finds of a look together",
        Course::OneByOne(_) => "one find at a time",
    };
    let stuck = match walk.when_stuck {
        WhenStuck::Stop => "",
        WhenStuck::GiveDigit => ", a digit of the solution given when stuck",
    };
    format!("{order}, {course}{stuck}")
}
