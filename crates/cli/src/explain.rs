//! `tallyhouse explain`: one house, step by step.

use std::io::{self, Write as _};

use clap::Args;
use tallyhouse_board::House;
use tallyhouse_report::saving::Saver;
use tallyhouse_report::specimen::{Specimen, save_all, subsets_of_house};
use tallyhouse_words::{counted, sentence_start};

use crate::messages;
use crate::one_puzzle::OnePuzzle;
use crate::options::{
    DrawingOptions, Json, OutIfWanted, ReadingOptions, Replacing, Walk, parse_position,
};
use crate::progress::Bar;

/// Explain the subsets of one house, step by step
///
/// Goes through each subset of a house at a quiet position from both sides: the naked side cell by
/// cell, with the digits so far; the hidden side digit by digit, on the grid of digits by places, with
/// the cells so far. Both end in the same eliminations.
///
/// With --out, DIR gets for each subset pictures (SVG, PNG, PDF and CSV): subset-N-naked and
/// subset-N-hidden with a step to a row, and subset-N-board with the split on the board.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse explain puzzles.txt --position 1 --house 'column 3'
  tallyhouse explain puzzles.txt --position 1 --house 'box 1' --show hidden -o hidden
  tallyhouse explain puzzles.txt --position 1 --house 'box 1' --theme print -o figures")]
pub(crate) struct Explain {
    #[command(flatten)]
    puzzle: OnePuzzle,
    /// The quiet position, from 1, as inspect numbers them
    #[arg(long, value_name = "N", value_parser = parse_position)]
    position: u16,
    /// The house: row, column or box and its number, as in 'column 4'
    #[arg(long, value_name = "HOUSE")]
    house: House,
    #[command(flatten)]
    out: OutIfWanted,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    drawing: DrawingOptions,
    #[command(flatten)]
    walk: Walk,
    #[command(flatten)]
    reading: ReadingOptions,
}

impl Explain {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let puzzle = self.puzzle.valid(&self.reading)?;
        let drawing = self.drawing.drawing()?;
        let folder = self.out.begin(&self.replacing)?;
        let options = self.walk.options();
        let subsets = subsets_of_house(&puzzle, &options, self.position, self.house)?;
        let shown = self.drawing.shown();
        if let Some(folder) = folder {
            let views = subsets.iter().zip(1..).flat_map(|(subset, number): (&Specimen, u32)| {
                let name = format!("subset-{number}");
                let [board, _] = subset.views(&name, shown);
                [subset.step_views(&name, shown), vec![board]].concat()
            });
            let views: Vec<_> = views.collect();
            let bar = Bar::new("drawing", "figures", None, quiet);
            save_all(&views, Saver::below(folder.aside()), "", &drawing, &bar)?;
            folder.finish_as("explanation")?;
        }
        if self.json.json {
            let records = subsets.iter().map(|subset| subset.explanation().record());
            return messages::print_json(&records.collect::<Vec<_>>());
        }
        let mut out = io::stdout().lock();
        writeln!(
            out,
            "{} at quiet position {}: {}",
            sentence_start(&self.house.to_string()),
            self.position + 1,
            counted(subsets.len() as u64, "subset", "subsets"),
        )?;
        for subset in &subsets {
            write!(out, "\n{}", subset.explanation().text(shown))?;
        }
        if let Some(folder) = &self.out.out {
            writeln!(out, "\nFigures: {}", folder.display())?;
        }
        Ok(())
    }
}
