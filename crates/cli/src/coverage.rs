//! `tallyhouse coverage`: what a rulebook looks for, without any data.

use std::io::{self, Write};

use clap::Args;
use serde::Serialize;

use crate::judge::load_rulebooks;
use crate::messages;
use crate::options::Json;

/// Show what a rulebook looks for, without any data
///
/// Says for each open count and naked size which looks of the rulebook find the split and on which
/// side, and which splits no look finds.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  tallyhouse coverage short-list")]
pub(crate) struct Coverage {
    /// Rulebooks, built in or files
    #[arg(required = true, value_name = "NAME|FILE")]
    rulebooks: Vec<String>,
    #[command(flatten)]
    json: Json,
}

/// The coverage of a rulebook: the contract of `--json`.
#[derive(Serialize)]
struct Covered<'a> {
    rulebook: &'a str,
    coverage: tallyhouse_analysis::Coverage,
}

impl Coverage {
    pub(crate) fn run(&self) -> anyhow::Result<()> {
        let rulebooks = load_rulebooks(&self.rulebooks)?;
        let covered = |order| tallyhouse_analysis::Coverage::of(order);
        if self.json.json {
            let all = rulebooks
                .iter()
                .map(|book| Covered { rulebook: book.name(), coverage: covered(book.order()) });
            return messages::print_json(&all.collect::<Vec<_>>());
        }
        let mut out = io::stdout().lock();
        for (number, book) in rulebooks.iter().enumerate() {
            let gap = if number > 0 { "\n" } else { "" };
            write!(out, "{gap}{} ({})\n{}", book.title(), book.source(), covered(book.order()))?;
        }
        Ok(())
    }
}
