//! Verdicts as a table of marks.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_figures::{Heading, VerdictRow, VerdictTable};
use tallyhouse_storage::MANIFEST;
use tallyhouse_words::{Outcome, counted, list, sentence_start};

use super::folder::{check, read_json};
use super::words;
use crate::ReportError;

/// What came out for some claims in one population, on one walk or several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VerdictsOf {
    /// The population.
    pub population: String,
    /// How many puzzles were asked.
    pub puzzles: u64,
    /// How many independent units these are: families, and puzzles without one.
    pub units: u64,
    /// The walks.
    pub walks: Vec<String>,
    /// What the claims say.
    pub claims: Vec<String>,
    /// By walk and claim.
    pub verdicts: Vec<Vec<Outcome>>,
}

/// What is read of a verdict.
#[derive(Deserialize)]
struct Row {
    statement: String,
    decision: Outcome,
    population: String,
    puzzles: u64,
    all_units: u64,
}

impl VerdictsOf {
    /// Reads the verdicts of a trial from its folder.
    ///
    /// # Errors
    /// If the folder holds no whole trial.
    pub fn of_trial(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        let rows: Vec<Row> = read_json(folder, "verdicts.json")?;
        let manifest: serde_json::Value = read_json(folder, MANIFEST)?;
        Ok(Self {
            population: rows.first().map_or_else(String::new, |row| row.population.clone()),
            puzzles: rows.first().map_or(0, |row| row.puzzles),
            units: rows.first().map_or(0, |row| row.all_units),
            walks: vec![manifest["walk"].as_str().unwrap_or("together").replace('-', " ")],
            claims: rows.iter().map(|row| row.statement.clone()).collect(),
            verdicts: vec![rows.iter().map(|row| row.decision).collect()],
        })
    }
}

/// Draws verdicts; none without a claim.
#[must_use]
pub fn verdict_table(of: &VerdictsOf) -> Option<VerdictTable> {
    let row = |(index, claim): (usize, &String)| VerdictRow {
        label: claim.clone(),
        verdicts: of.verdicts.iter().map(|walk| walk[index]).collect(),
    };
    let rows: Vec<VerdictRow> = of.claims.iter().enumerate().map(row).collect();
    let puzzles = words::puzzles_in(of.puzzles, of.units);
    (!rows.is_empty()).then(|| VerdictTable {
        heading: Heading {
            title: title(of),
            subtitle: format!(
                "{}: verdicts from {puzzles}, by the way they were walked.",
                sentence_start(&of.population)
            ),
            notes: Vec::new(),
            alt: alt(of),
        },
        columns: of.walks.clone(),
        rows,
    })
}

/// How many claims hold on every walk.
fn title(of: &VerdictsOf) -> String {
    let holds = |verdict: Outcome| matches!(verdict, Outcome::Supported | Outcome::CertainlyTrue);
    let always = (0..of.claims.len()).filter(|&claim| of.verdicts.iter().all(|w| holds(w[claim])));
    let claims = counted(of.claims.len() as u64, "claim", "claims");
    let walks = if of.walks.len() > 1 { " on every walk" } else { "" };
    match always.count() {
        0 => format!("None of {claims} holds{walks}"),
        1 => format!("1 of {claims} holds{walks}"),
        many => format!("{many} of {claims} hold{walks}"),
    }
}

fn alt(of: &VerdictsOf) -> String {
    let claim = |(index, claim): (usize, &String)| {
        let verdicts = of.verdicts.iter().zip(&of.walks);
        let words = verdicts.map(|(verdicts, walk)| format!("{} {walk}", verdicts[index].word()));
        format!("“{claim}”: {}", list(words))
    };
    let claims: Vec<String> = of.claims.iter().enumerate().map(claim).collect();
    format!("Verdicts by claim and walk: {}.", claims.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_title_counts_what_holds_on_every_walk() {
        use Outcome::{CertainlyTrue, Depends, Refuted, Supported};
        let of = VerdictsOf {
            population: "puzzles by hand".to_owned(),
            puzzles: 10,
            units: 10,
            walks: vec!["together".to_owned(), "one by one".to_owned()],
            claims: ["a", "b", "c"].map(str::to_owned).into(),
            verdicts: vec![
                vec![Supported, Refuted, CertainlyTrue],
                vec![Supported, Refuted, Depends],
            ],
        };
        let table = verdict_table(&of).unwrap();
        assert_eq!(table.heading.title, "1 of 3 claims holds on every walk");
        let alt = "“a”: supported together and supported one by one; “b”: refuted together";
        assert!(table.heading.alt.contains(alt), "{}", table.heading.alt);
        assert!(table.heading.subtitle.starts_with("Puzzles by hand: verdicts from 10 puzzles"));
        assert_eq!(table.rows[2].verdicts, [Outcome::CertainlyTrue, Outcome::Depends]);
        let of = VerdictsOf { units: 4, ..of };
        let subtitle = verdict_table(&of).unwrap().heading.subtitle;
        assert!(subtitle.contains("from 10 puzzles in 4 families,"), "{subtitle}");
    }
}
