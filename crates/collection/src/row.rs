use std::borrow::Cow;

use tallyhouse_board::{ParsePuzzleError, Puzzle};
use tallyhouse_words::shown;

use crate::entry::{EntryText, unmarked, words};
use crate::layout::{Layout, first_token, is_token_end};
use crate::weight::parse_digits;
use crate::{Entry, Reason, Reject, RowError, Weight};

/// One row before its puzzle is read: what becomes an [`Entry`] or a [`Reject`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Row {
    /// Its position in the collection.
    pub(crate) number: u64,
    /// The index of its source.
    pub(crate) source: usize,
    /// Its first line in the source, counted from 1; of a grid with a frame the line of the first row.
    pub(crate) line: u64,
    /// A line as it stands, label included, without surrounding white space; a readable grid or
    /// field as 81 characters; another grid or field as it stands, its lines joined by `⏎`.
    pub(crate) text: String,
    layout: Layout,
    /// As it is shown.
    label: Option<String>,
    weight: Option<Weight>,
    pub(crate) family: Option<u64>,
    /// What is wrong with the row besides the text of its puzzle.
    defect: Option<Box<RowError>>,
}

impl Row {
    /// Takes one line of text; number and source are set later.
    pub(crate) fn from_line(line: u64, text: String) -> Self {
        let mut row = Self::bare(line, text, Layout::Line);
        let label = row.text[first_token(&row.text).len()..].trim_start_matches(is_token_end);
        if !label.is_empty() {
            let label = label.to_owned();
            row.set_label(&label);
        }
        row
    }

    /// Takes a text that has no label in it.
    pub(crate) fn bare(line: u64, text: String, layout: Layout) -> Self {
        let (label, weight, family, defect) = (None, None, None, None);
        Self { number: 0, source: 0, line, text, layout, label, weight, family, defect }
    }

    pub(crate) fn too_long(line: u64, text: String) -> Self {
        let defect = Some(Box::new(RowError::TooLong));
        Self { defect, ..Self::bare(line, text, Layout::Line) }
    }

    /// Takes the label, and out of it weight and family.
    pub(crate) fn set_label(&mut self, label: &str) {
        let mut rest = String::new();
        for (gap, word) in words(label) {
            if let Some(weight) = word.strip_prefix("weight=") {
                self.set_weight(weight);
            } else if let Some(family) = word.strip_prefix("family=") {
                self.set_family(family);
            } else {
                if !rest.is_empty() {
                    rest.push_str(gap);
                }
                rest.push_str(unmarked(word));
            }
        }
        self.set_bare_label(&rest);
    }

    /// Takes a label in which nothing else is to be found.
    pub(crate) fn set_bare_label(&mut self, label: &str) {
        self.label = (!label.is_empty()).then(|| shown(label).into_owned());
    }

    pub(crate) fn set_weight(&mut self, text: &str) {
        match text.parse() {
            _ if self.weight.is_some() => self.set_defect(RowError::Twice("weight")),
            Ok(weight) => self.weight = Some(weight),
            Err(error) => self.set_defect(RowError::Weight(error)),
        }
    }

    pub(crate) fn set_family(&mut self, text: &str) {
        match parse_digits(text) {
            _ if self.family.is_some() => self.set_defect(RowError::Twice("family")),
            // Tables keep it in 64 bits with a sign.
            Some(family) if i64::try_from(family).is_ok() => self.family = Some(family),
            _ => self.set_defect(RowError::Family(text.to_owned())),
        }
    }

    /// Sets what is wrong, if nothing was wrong so far.
    pub(crate) fn set_defect(&mut self, defect: RowError) {
        self.defect.get_or_insert_with(|| Box::new(defect));
    }

    /// Reads the puzzle: in a line everything up to the first white space or comma.
    pub(crate) fn into_entry(self) -> Result<Entry, Reject> {
        match self.puzzle() {
            Ok(puzzle) => {
                let Self { number, source, line, text, layout, label, weight, family, .. } = self;
                Ok(Entry { number, puzzle, label, weight, family, source, line, text, layout })
            }
            Err(error) => {
                let Self { source, line, text, layout, label, .. } = self;
                let label = label.filter(|_| layout != Layout::Line);
                Err(Reject { source, line, text, label, reason: Reason::Unreadable(error) })
            }
        }
    }

    /// Tells what is wrong with the row, its weight and family included; with its puzzle first.
    fn puzzle(&self) -> Result<Puzzle, RowError> {
        match &self.defect {
            None => Ok(self.parse()?),
            Some(defect) => match **defect {
                RowError::Weight(_) | RowError::Family(_) | RowError::Twice(_) => {
                    self.parse()?;
                    Err((**defect).clone())
                }
                _ => Err((**defect).clone()),
            },
        }
    }

    fn parse(&self) -> Result<Puzzle, ParsePuzzleError> {
        match self.layout {
            Layout::Line => first_token(&self.text).parse(),
            Layout::Grid | Layout::Field => self.text.parse(),
        }
    }

    /// Returns the row as one line of text, label, weight and family included.
    pub(crate) fn as_line(&self) -> Cow<'_, str> {
        let extras = self.label.is_some() || self.weight.is_some() || self.family.is_some();
        if self.layout == Layout::Line || !extras {
            return Cow::Borrowed(&self.text);
        }
        let (label, weight, family) = (self.label.as_deref(), self.weight, self.family);
        Cow::Owned(EntryText { grid: &self.text, label, weight, family }.to_string())
    }
}
