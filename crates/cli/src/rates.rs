//! `tallyhouse rates`: own questions to a dataset.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tallyhouse_analysis::{number_field, to_csv};
use tallyhouse_census::{Answer, AnswerRow, Dataset, Per, Question};
use tallyhouse_storage::write_file;
use tallyhouse_words::{count, list, share_within};

use crate::options::{Json, LevelOption, OutIfWanted, Replacing, choice};
use crate::{messages, usage};

/// Ask a dataset how often something shows
///
/// Counts houses, quiet positions or puzzles, and those of them (hits) that have at least one recorded
/// subset as asked for. Prints hits, what they are among, the share and its interval, with puzzles or
/// their families as independent units, by weight where puzzles carry weights.
///
/// Columns are those of the dataset's tables. Those of puzzles (as clues, outcome), of positions (as
/// position, fixed_cells, given_digits, look_applied), and open and house_kind say which houses are
/// counted; all others (as naked, hidden, applied, new, eliminations) only which are hits. Per position,
/// those of puzzles and positions say what is counted, per puzzle those of puzzles alone; all others say
/// what is a hit. proper is true of subsets that are proper on either side; without it all recorded
/// subsets count. moment is every (all quiet positions, as without it), first (the first of each
/// puzzle) or moving (where the walk goes on).
///
/// Where hits are few, a share has no lower end. DIR gets rates.csv.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse rates census --by open,naked --where \"proper = true\"
  tallyhouse rates census --by house_kind --where \"open >= 7 and naked = 5 and moment = first\"
  tallyhouse rates census --by clues --per puzzle --where \"proper = true and hidden = 3\" -o by-clues")]
pub(crate) struct Rates {
    /// A dataset of census with tables
    #[arg(value_name = "DATASET")]
    dataset: PathBuf,
    /// Columns whose values have rows of their own
    #[arg(long, value_name = "COLUMN,...", value_delimiter = ',')]
    by: Vec<String>,
    /// Conditions joined by and: each a column, one of = != < <= > >=, and a value; none stands for no
    /// value
    #[arg(
        long = "where",
        value_name = "EXPRESSION",
        default_value = "",
        hide_default_value = true
    )]
    conditions: String,
    /// What is counted
    #[arg(long, value_parser = choice::<Per>(), default_value_t, value_name = "WHAT")]
    per: Per,
    #[command(flatten)]
    out: OutIfWanted,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
}

/// A row: the contract of `--json`.
#[derive(Serialize)]
struct Row<'a> {
    /// The columns of `--by` with their values.
    by: std::collections::BTreeMap<&'a str, &'a str>,
    per: &'static str,
    hits: u64,
    of: u64,
    share: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    moment: &'static str,
    population: &'a str,
}

impl Rates {
    pub(crate) fn run(&self) -> anyhow::Result<()> {
        let dataset = Dataset::open(&self.dataset)?;
        let question = Question::new(&dataset, self.per, &self.by, &self.conditions);
        let question = question.map_err(usage::wrong)?;
        let folder = self.out.begin(&self.replacing)?;
        let level = self.level.get();
        let answer = question.ask(&dataset, level)?;
        let population = dataset.population();
        if let Some(folder) = folder {
            save(&answer, &population, folder.aside())?;
            folder.finish_as("rates")?;
        }
        if self.json.json {
            let row = |row| Row::new(&answer, row, &population);
            return messages::print_json(&answer.rows.iter().map(row).collect::<Vec<_>>());
        }
        let mut out = io::stdout().lock();
        let [one, many] = [answer.per.words().0, answer.per.words().1];
        writeln!(
            out,
            "Hits: {many} with at least one subset that was asked for, of all {many} counted."
        )?;
        for (names, says) in [(&answer.counted, "what is counted"), (&answer.hits, "what is a hit")]
        {
            if !names.is_empty() {
                writeln!(
                    out,
                    "{} {} {says}.",
                    list(names),
                    if names.len() > 1 { "say" } else { "says" }
                )?;
            }
        }
        if answer.weighted {
            writeln!(out, "Hits and {many} count each {one} alike; shares are by weight.")?;
        }
        write!(out, "\n{}", table(&answer, &population, &level.to_string()))?;
        if let Some(out_folder) = &self.out.out {
            writeln!(out, "\nFiles: {}", out_folder.display())?;
        }
        Ok(())
    }
}

impl<'a> Row<'a> {
    fn new(answer: &'a Answer, row: &'a AnswerRow, population: &'a str) -> Self {
        let by = answer.by.iter().map(String::as_str);
        Self {
            by: by.zip(row.values.iter().map(String::as_str)).collect(),
            per: answer.per.name(),
            hits: row.hits,
            of: row.of,
            share: row.share.value,
            low: row.share.low,
            high: row.share.high,
            moment: answer.moment.name(),
            population,
        }
    }
}

fn save(answer: &Answer, population: &str, out: &Path) -> anyhow::Result<()> {
    let names = answer.by.iter().map(String::as_str);
    let fixed = ["per", "hits", "of", "share", "low", "high", "moment", "population"];
    let header: Vec<&str> = names.chain(fixed).collect();
    let rows = answer.rows.iter().map(|row| {
        let share = row.share;
        let numbers = [share.value, share.low, share.high].map(number_field);
        let counts = (answer.per.name(), row.hits, row.of);
        (&row.values, counts, numbers, answer.moment.name(), population)
    });
    let csv = to_csv(&header.join(","), rows)?;
    Ok(write_file(&out.join("rates.csv"), |writer| writer.write_all(&csv)).map(drop)?)
}

/// Writes the rows beneath each other.
fn table(answer: &Answer, population: &str, level: &str) -> String {
    let mut rows = vec![answer.by.clone()];
    let share = format!("share ({level} interval)");
    let columns = ["hits", answer.per.words().1, &share, "moment", "population"];
    rows[0].extend(columns.map(str::to_owned));
    for row in &answer.rows {
        let share = share_within(row.share.value, row.share.low, row.share.high);
        let cells = [count(row.hits), count(row.of), share];
        let place = [answer.moment.in_words().to_owned(), population.to_owned()];
        rows.push(row.values.iter().cloned().chain(cells).chain(place).collect());
    }
    let width =
        |at: usize| rows.iter().map(|row| row[at].chars().count()).max().unwrap_or_default();
    let widths: Vec<usize> = (0..rows[0].len()).map(width).collect();
    let words = widths.len() - 2;
    let line = |row: &Vec<String>| {
        let cell = |(at, cell): (usize, &String)| {
            let width = widths[at];
            if at < words { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
        };
        let cells: Vec<String> = row.iter().enumerate().map(cell).collect();
        format!("  {}\n", cells.join("  ").trim_end())
    };
    rows.iter().map(line).collect()
}
