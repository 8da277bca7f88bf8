use std::fmt::{self, Write};

use tallyhouse_board::Puzzle;

use crate::layout::{Layout, first_token, is_token_end};
use crate::{Reason, Reject, Weight};

/// One puzzle as it travels, from the row it was read from to the last table.
///
/// Its text form is the line of a collection: the givens, the label, `weight=` and `family=`. What
/// is read from that line is the same entry again, whatever the label says.
///
/// ```
/// use tallyhouse_collection::{Entry, Rows, Source};
///
/// let grid = "53..7....6..195....98....6.8...6...34..8.3..17...2...6.6....28....419..5....8..79";
/// let table = format!("puzzle,label,family\n{grid},not weight=2,7\n");
/// let mut rows = Rows::open(vec![Source::memory("in.csv", table.into_bytes())])?;
/// let entry: Entry = rows.block(1)?.remove(0).expect("it is a puzzle");
/// assert_eq!((entry.label.as_deref(), entry.weight), (Some("not weight=2"), None));
/// assert_eq!(entry.to_string(), format!(r"{grid} not \weight=2 family=7"));
/// # Ok::<(), tallyhouse_collection::ReadError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The position in the collection: rows counted from 0, rejected ones included.
    pub number: u64,
    /// The givens.
    pub puzzle: Puzzle,
    /// The label, without weight and family: what follows the puzzle in its line, stands as a title
    /// above the grid, or in the column `label` or `name`.
    pub label: Option<String>,
    /// How much the puzzle counts, if that is given: `weight=DECIMAL` in a line or a title, or the
    /// column `weight`.
    pub weight: Option<Weight>,
    /// The family of puzzles that depend on each other, if it has one: `family=INTEGER` in a line or
    /// a title, or the column `family`.
    pub family: Option<u64>,
    /// The index of its source.
    pub source: usize,
    /// Its first line in the source, counted from 1; of a grid with a frame the line of the first
    /// row.
    pub line: u64,
    /// What stands in the source.
    pub(crate) text: String,
    /// How it stands there.
    pub(crate) layout: Layout,
}

impl Entry {
    /// Makes the entry of a puzzle that was not read from a source.
    #[must_use]
    pub fn new(number: u64, puzzle: Puzzle) -> Self {
        let (label, weight, family) = (None, None, None);
        let (source, line, text, layout) = (0, 0, String::new(), Layout::Line);
        Self { number, puzzle, label, weight, family, source, line, text, layout }
    }

    /// Returns how much the puzzle counts, in millionths; one without a weight counts as one.
    #[must_use]
    pub fn millionths(&self) -> i128 {
        self.weight.unwrap_or(Weight::ONE).millionths().into()
    }

    /// Returns a line as it stands in its source, label included, and a grid or field as 81
    /// characters; nothing for a puzzle that was not read.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Rejects the entry.
    #[must_use]
    pub fn reject(&self, reason: Reason) -> Reject {
        let label = self.label.as_ref().filter(|_| self.layout != Layout::Line).cloned();
        Reject { source: self.source, line: self.line, text: self.text.clone(), label, reason }
    }
}

impl fmt::Display for Entry {
    /// Writes the text form. A precision sets the number of decimals of the weight.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { puzzle, label, weight, family, .. } = self;
        EntryText { grid: puzzle, label: label.as_deref(), weight: *weight, family: *family }.fmt(f)
    }
}

/// The text form of an entry that lies in parts.
#[derive(Clone, Copy)]
pub struct EntryText<'a> {
    /// 81 characters.
    pub grid: &'a dyn fmt::Display,
    /// The label.
    pub label: Option<&'a str>,
    /// The weight.
    pub weight: Option<Weight>,
    /// The family.
    pub family: Option<u64>,
}

impl fmt::Display for EntryText<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.grid)?;
        if let Some(label) = self.label {
            f.write_char(' ')?;
            write_label(f, label)?;
        }
        match (self.weight, f.precision()) {
            (Some(weight), Some(decimals)) => write!(f, " weight={weight:.decimals$}")?,
            (Some(weight), None) => write!(f, " weight={weight}")?,
            (None, _) => {}
        }
        self.family.map_or(Ok(()), |family| write!(f, " family={family}"))
    }
}

/// Writes a label so that no word of it is taken for a weight or a family: such a word gets a
/// backslash, and one more if it begins with some.
fn write_label(f: &mut fmt::Formatter<'_>, label: &str) -> fmt::Result {
    if !label.contains("weight=") && !label.contains("family=") {
        return f.write_str(label);
    }
    words(label).try_for_each(|(gap, word)| {
        let mark = if is_tag(word.trim_start_matches('\\')) { "\\" } else { "" };
        write!(f, "{gap}{mark}{word}")
    })
}

/// Takes the backslash off that keeps a word of a label from being a weight or a family.
pub(crate) fn unmarked(word: &str) -> &str {
    let plain = word.strip_prefix('\\');
    plain.filter(|plain| is_tag(plain.trim_start_matches('\\'))).unwrap_or(word)
}

fn is_tag(word: &str) -> bool {
    word.starts_with("weight=") || word.starts_with("family=")
}

/// Cuts a label into its words, each with what parts it from the one before.
pub(crate) fn words(mut label: &str) -> impl Iterator<Item = (&str, &str)> {
    std::iter::from_fn(move || {
        if label.is_empty() {
            return None;
        }
        let start = label.find(|c| !is_token_end(c)).unwrap_or(label.len());
        let (gap, from_word) = label.split_at(start);
        let (word, rest) = from_word.split_at(first_token(from_word).len());
        label = rest;
        Some((gap, word))
    })
}

/// Rows that stand next to each other: puzzles, and those that are none.
pub type Block = Vec<Result<Entry, Reject>>;
