//! Specimens as CSV and JSON.

use serde::Serialize;
use tallyhouse_analysis::to_csv;

use super::{Examined, Specimen, WEIGHTS, Weights, cell_words};

/// A specimen as one row of a table: the columns of `specimens.csv`, in their order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Record {
    /// Open cells of the house.
    pub open: u8,
    /// Size of the naked side.
    pub naked: u8,
    /// Size of the hidden side.
    pub hidden: u8,
    /// `row`, `column` or `box`.
    pub house_kind: &'static str,
    /// The number of the house in its kind, 1 to 9.
    pub house: u8,
    /// Cells of the naked side, separated by spaces.
    pub naked_cells: String,
    /// Digits of the naked side.
    pub naked_digits: String,
    /// Cells of the hidden side, separated by spaces.
    pub hidden_cells: String,
    /// Digits of the hidden side.
    pub hidden_digits: String,
    /// Cells with the digits that leave them, as in `r4c5:38 r4c9:3`.
    pub removed: String,
    /// Open cells outside settled blocks.
    pub live_open: u8,
    /// Cells of the naked side outside settled blocks.
    pub live_naked: u8,
    /// Cells of the hidden side outside settled blocks.
    pub live_hidden: u8,
    /// If no smaller tight set lies inside the naked side.
    pub naked_proper: bool,
    /// If no smaller hidden set lies inside the hidden side.
    pub hidden_proper: bool,
    /// The score.
    pub score: i32,
    /// Other subsets in the position.
    pub other_subsets: u16,
    /// Candidates removed.
    pub eliminations: u8,
    /// Candidates in the open cells of the house.
    pub candidates_to_read: u8,
    /// If nothing easier is in the position.
    pub nothing_easier: bool,
    /// If the eliminations lead to a placement at once.
    pub leads_to_placement: bool,
    /// The source.
    pub source: String,
    /// The position in the collection, from 0.
    pub puzzle: u64,
    /// The line in the source, from 1; empty for made puzzles.
    pub source_line: Option<u64>,
    /// The label in the source.
    pub label: Option<String>,
    /// The number of the quiet position in the walk, from 0.
    pub position: u16,
    /// The givens, 81 characters.
    pub line: String,
    /// The board state: 81 masks separated by spaces; candidates of an open cell (bit 0 for digit
    /// 1), for a fixed cell its digit and bit 9.
    pub states: String,
    /// The description.
    pub description: String,
}

impl From<&Specimen> for Record {
    fn from(specimen: &Specimen) -> Self {
        let Specimen { origin, subset, parts, .. } = specimen;
        let split = specimen.split();
        let removed = split.eliminations.iter();
        let removed: Vec<String> =
            removed.map(|(cell, digits)| format!("{cell}:{digits}")).collect();
        Self {
            open: subset.open,
            naked: subset.naked,
            hidden: subset.hidden(),
            house_kind: subset.house.kind().name(),
            house: subset.house.number(),
            naked_cells: cell_words(split.naked.iter()).join(" "),
            naked_digits: split.naked_digits.to_string(),
            hidden_cells: cell_words(split.hidden.iter()).join(" "),
            hidden_digits: split.hidden_digits.to_string(),
            removed: removed.join(" "),
            live_open: subset.live_open,
            live_naked: subset.live_naked,
            live_hidden: subset.live_hidden(),
            naked_proper: subset.naked_proper,
            hidden_proper: subset.hidden_proper,
            score: parts.score(),
            other_subsets: parts.other_subsets,
            eliminations: parts.eliminations,
            candidates_to_read: parts.candidates_to_read,
            nothing_easier: parts.nothing_easier,
            leads_to_placement: parts.leads_to_placement,
            source: origin.source.clone(),
            puzzle: origin.number,
            source_line: origin.line,
            label: origin.label.clone(),
            position: specimen.quiet_position,
            line: specimen.puzzle.to_string(),
            states: specimen.position.states().map(|state| state.to_string()).join(" "),
            description: specimen.words(),
        }
    }
}

impl Record {
    /// The names of the columns.
    pub const HEADER: &str = "\
        open,naked,hidden,house_kind,house,naked_cells,naked_digits,hidden_cells,hidden_digits,\
        removed,live_open,live_naked,live_hidden,naked_proper,hidden_proper,score,\
        other_subsets,eliminations,candidates_to_read,nothing_easier,leads_to_placement,source,\
        puzzle,source_line,label,position,line,states,description";
}

/// Writes specimens as CSV, one [`Record`] a row, with a header.
///
/// # Errors
/// If a record does not fit the header.
pub fn csv(specimens: &[Specimen]) -> Result<Vec<u8>, csv::Error> {
    to_csv(Record::HEADER, specimens.iter().map(Record::from))
}

/// Writes specimens as JSON: what was examined, the weights of the score, and the records.
///
/// # Errors
/// If something has no form in JSON.
pub fn json(specimens: &[Specimen], examined: &Examined) -> Result<String, serde_json::Error> {
    #[derive(Serialize)]
    struct Document<'a> {
        tool: &'static str,
        examined: &'a Examined,
        weights: Weights,
        specimens: Vec<Record>,
    }
    let document = Document {
        tool: concat!("tallyhouse ", env!("CARGO_PKG_VERSION")),
        examined,
        weights: WEIGHTS,
        specimens: specimens.iter().map(Record::from).collect(),
    };
    Ok(serde_json::to_string_pretty(&document)? + "\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_header_stands_alone_and_names_each_field() {
        let text = String::from_utf8(csv(&[]).unwrap()).unwrap();
        assert_eq!(text, format!("{}\n", Record::HEADER));
        let specimen = crate::specimen::tests::pair_and_triple();
        let mut by_field = csv::Writer::from_writer(Vec::new());
        by_field.serialize(Record::from(&specimen)).unwrap();
        assert_eq!(by_field.into_inner().unwrap(), csv(&[specimen]).unwrap());
    }
}
