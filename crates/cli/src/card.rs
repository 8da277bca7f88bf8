//! `tallyhouse card`: which side to look for, on one page.

use std::io::{self, Write};

use clap::Args;
use tallyhouse_analysis::{Card, NOT_WORTH_IT, judge};
use tallyhouse_figures::{Figure, Width};
use tallyhouse_report::charts::{CARD_FILE, answer_card, card_markdown};
use tallyhouse_report::saving::Saver;
use tallyhouse_storage::NewFolder;

use crate::judge::{load_readers, warn_rejected};
use crate::messages;
use crate::options::{Json, LevelOption, Out, Pictures, Reading, Replacing};
use crate::progress::Bar;
use crate::results;

/// Say which side to look for, on one page
///
/// Weighs the two sides of every split against each other, for every reader and both where looks are made
/// in each house and where they are due. For each open count the card tells what to look for, how many
/// houses show it, what a find costs, and how many puzzles can't be carried as far without it. Where
/// readers disagree, it says that it depends.
///
/// DIR gets card.md, card.csv and the picture as card.svg, card.png and card.pdf; card.json, from
/// which "chart card" draws it in other widths and themes; what it goes by, as judge writes it:
/// verdicts.csv, verdicts.json, juries.csv, counterexamples.csv and left-out.csv; and, if rows were rejected,
/// rejects.csv.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse card puzzles.txt -o card
  tallyhouse card collection --width column --theme print -o card-in-grey")]
pub(crate) struct CardCommand {
    /// Reader that is asked, built in or a file; may be given several times [default: all that are built
    /// in]
    #[arg(long = "reader", value_name = "NAME|FILE")]
    readers: Vec<String>,
    /// Glances for a find above which a look is not worth making
    #[arg(long, value_name = "GLANCES", default_value_t = NOT_WORTH_IT as u64,
          value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    worth: u64,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    pictures: Pictures,
    #[command(flatten)]
    reading: Reading,
}

impl CardCommand {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let (readers, sources) = (load_readers(&self.readers)?, self.reading.sources()?);
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let trial = Card::trial(sources, readers, self.level.get(), folder.aside().to_owned())?;
        let bar = Bar::new("weighing", "puzzles", None, quiet);
        let judged = judge(&trial, &bar);
        drop(bar);
        let (report, folder) = results::unless_all_rejected(folder, judged)?;
        let card = Card::of(&report, self.worth as f64);
        let saver = Saver::below(folder.aside()).printing(self.pictures.print());
        saver.file(CARD_FILE, serde_json::to_string_pretty(&card)?.as_bytes())?;
        saver.file("card.md", card_markdown(&card).as_bytes())?;
        saver.file("card.csv", &card.csv()?)?;
        let width = self.pictures.width_or(Width::Page);
        saver.picture("card", &answer_card(&card).draw(self.pictures.theme, width)?)?;
        folder.finish_as("card")?;
        warn_rejected(&report, &self.out, quiet);
        if self.json.json {
            return messages::print_json(&card);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}\nFiles: {}\n", card_markdown(&card), self.out.out.display())?;
        Ok(())
    }
}
