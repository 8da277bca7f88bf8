//! One puzzle, typed or from a file.

use std::path::PathBuf;
use std::slice;

use anyhow::{Context, bail, ensure};
use clap::Args;
use tallyhouse_board::Puzzle;
use tallyhouse_collection::{Rows, validity};

use crate::options::ReadingOptions;
use crate::usage;

/// Where the puzzle is.
#[derive(Debug, Args)]
pub(crate) struct OnePuzzle {
    /// A puzzle of 81 characters (1-9 for givens, . or 0 for blanks), or a file with puzzles, of which
    /// the first is taken; - for standard input
    #[arg(value_name = "PUZZLE")]
    puzzle: PathBuf,
    /// Take the puzzle on this line of the file, from 1
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    line: Option<u64>,
}

impl OnePuzzle {
    /// Returns the puzzle if it has exactly one solution.
    pub(crate) fn valid(&self, reading: &ReadingOptions) -> anyhow::Result<Puzzle> {
        let puzzle = self.puzzle(reading)?;
        match validity(&puzzle) {
            Ok(()) => Ok(puzzle),
            Err(reason) => bail!("not a valid puzzle: {reason}"),
        }
    }

    /// Returns the puzzle that is typed or read.
    fn puzzle(&self, reading: &ReadingOptions) -> anyhow::Result<Puzzle> {
        if self.puzzle.as_os_str() == "-" || self.puzzle.exists() {
            return self.read(reading);
        }
        usage::expect(
            self.line.is_none() && !reading.is_used(),
            format!(
                "--line, --format and --column go with a file: found '{}'",
                self.puzzle.display()
            ),
        )?;
        let typed = self.puzzle.to_string_lossy();
        typed.parse().with_context(|| format!("'{typed}' is neither a file nor a puzzle"))
    }

    /// Reads the puzzle from a file.
    fn read(&self, reading: &ReadingOptions) -> anyhow::Result<Puzzle> {
        let name = self.puzzle.display();
        let mut rows = Rows::open(reading.sources(slice::from_ref(&self.puzzle))?)?;
        let is_wanted = |line| self.line.is_none_or(|wanted| wanted == line);
        loop {
            let block = rows.block(1000)?;
            ensure!(
                !block.is_empty(),
                "{name} has no puzzle{}",
                self.line.map(|line| format!(" on line {line}")).unwrap_or_default()
            );
            for row in block {
                match row {
                    Ok(entry) if is_wanted(entry.line) => return Ok(entry.puzzle),
                    Err(reject) if is_wanted(reject.line) => {
                        bail!("{name}, line {}: {}", reject.line, reject.reason);
                    }
                    _ => {}
                }
            }
        }
    }
}
