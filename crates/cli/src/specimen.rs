//! `tallyhouse specimen`: find positions that show a split, and draw them.

use std::fs;
use std::io::{self, Write};

use anyhow::bail;
use indicatif::ProgressBar;
use tallyhouse_census::{NewFolder, RejectsList};
use tallyhouse_engine::WalkOptions;
use tallyhouse_report::numbers::grouped;
use tallyhouse_report::specimen::{
    Examined, Found, Gallery, Hearing, Puzzles, SpecimenError, Wanted, find, find_by_making,
    gallery,
};

use crate::args::Specimen;
use crate::messages;
use crate::progress::{self, ScanBar};

pub(crate) fn run(specimen: &Specimen, quiet: bool) -> anyhow::Result<()> {
    let wanted = specimen.wanted();
    wanted.check()?;
    let puzzles = specimen.puzzles()?;
    let folder = NewFolder::begin(&specimen.out)?;
    if let (Some(Puzzles::Dataset(dataset)), false) = (&puzzles, quiet)
        && *dataset.walk() != WalkOptions::default()
    {
        eprintln!(
            "note: the quiet positions are those of the dataset's own walk; that nothing easier is in \
             them is judged by the full ladder"
        );
    }
    let mut rejects = RejectsList::in_folder(folder.aside());
    let bar = progress::bar("searching", None, quiet);
    let outcome = search(specimen, puzzles, &wanted, &bar, &mut rejects);
    bar.finish_and_clear();
    rejects.finish()?;
    let outcome = match outcome {
        Err(error @ SpecimenError::AllRejected { .. }) => {
            // The list of rejected rows is all there is, and it is not to be lost.
            folder.finish()?;
            let list = specimen.out.join(RejectsList::FILE_NAME);
            bail!("{error}; all are listed in {}", list.display());
        }
        outcome => outcome?,
    };
    let bar = progress::units_bar("drawing", "figures", None, quiet);
    let written = outcome.write(&folder, specimen, &ScanBar(bar.clone()));
    bar.finish_and_clear();
    written?;
    let lists_rejects = folder.aside().join(RejectsList::FILE_NAME).exists();
    folder.finish()?;
    if lists_rejects && !quiet {
        tell_rejects(outcome.examined(), specimen);
    }
    if specimen.json {
        let json = fs::read_to_string(specimen.out.join("specimens.json"))?;
        write!(io::stdout().lock(), "{json}")?;
        return Ok(());
    }
    outcome.tell(&mut io::stdout().lock(), specimen, &wanted)?;
    Ok(())
}

enum Outcome {
    List(Found),
    Page(Gallery),
}

fn search(
    specimen: &Specimen,
    puzzles: Option<Puzzles>,
    wanted: &Wanted,
    bar: &ProgressBar,
    rejects: &mut RejectsList,
) -> Result<Outcome, SpecimenError> {
    let progress = ScanBar(bar.clone());
    let most = specimen.most as usize;
    let hearing = Hearing { progress: &progress, rejects: Some(rejects) };
    let (seed, limit) = (specimen.seed, specimen.limit);
    Ok(match (puzzles, specimen.gallery) {
        (None, false) => {
            Outcome::List(find_by_making(seed, wanted, most, limit, hearing.progress)?)
        }
        (None, true) => {
            Outcome::Page(gallery(&Puzzles::Made { seed, count: limit }, wanted, hearing)?)
        }
        (Some(puzzles), false) => Outcome::List(find(&puzzles, wanted, most, hearing)?),
        (Some(puzzles), true) => Outcome::Page(gallery(&puzzles, wanted, hearing)?),
    })
}

impl Outcome {
    const fn examined(&self) -> &Examined {
        match self {
            Self::List(found) => &found.examined,
            Self::Page(gallery) => &gallery.examined,
        }
    }

    fn write(
        &self,
        folder: &NewFolder,
        specimen: &Specimen,
        progress: &ScanBar,
    ) -> Result<(), SpecimenError> {
        let drawing = specimen.drawing.drawing();
        match self {
            Self::List(found) => found.write(folder.aside(), &drawing, progress),
            Self::Page(gallery) => gallery.write(folder.aside(), &drawing, progress),
        }
    }

    fn tell(&self, out: &mut dyn Write, specimen: &Specimen, wanted: &Wanted) -> io::Result<()> {
        let puzzles = grouped(self.examined().puzzles);
        match self {
            Self::List(found) if found.specimens.is_empty() => {
                tell_nothing(out, &puzzles, specimen, wanted)
            }
            Self::Page(gallery) if gallery.specimens.is_empty() => {
                tell_nothing(out, &puzzles, specimen, wanted)
            }
            Self::List(found) => tell_list(found, out, &puzzles, specimen),
            Self::Page(gallery) => tell_page(gallery, out, &puzzles, specimen),
        }
    }
}

fn tell_list(
    found: &Found,
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
) -> io::Result<()> {
    match found.specimens.len() {
        1 => writeln!(out, "1 specimen in {puzzles} puzzles")?,
        count => writeln!(out, "{count} specimens in {puzzles} puzzles, clearest first")?,
    }
    for (number, one) in (1..).zip(&found.specimens) {
        writeln!(out, "\n{number}. {}", one.description())?;
        writeln!(
            out,
            "   {}; inspect --position {}; score {}",
            one.origin,
            u32::from(one.quiet_position) + 1,
            one.score()
        )?;
        writeln!(out, "   {}", one.puzzle)?;
    }
    writeln!(out, "\nFigures: {}", specimen.out.join("figures").display())
}

fn tell_page(
    gallery: &Gallery,
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
) -> io::Result<()> {
    let shapes = gallery.specimens.len();
    let page = specimen.out.join("gallery.html");
    writeln!(out, "A gallery of {shapes} shapes from {puzzles} puzzles: {}", page.display())?;
    let missing: Vec<String> = gallery.missing().iter().map(ToString::to_string).collect();
    if missing.is_empty() {
        return Ok(());
    }
    writeln!(out, "Not seen in them: {}", missing.join(", "))
}

fn tell_nothing(
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
    wanted: &Wanted,
) -> io::Result<()> {
    writeln!(out, "No specimen in {puzzles} puzzles. Wanted: {wanted}.")?;
    let advice =
        if specimen.is_made() { "a larger --limit or another --seed" } else { "more puzzles" };
    let narrow = if *wanted == Wanted::default() { "" } else { ", or wish for less" };
    writeln!(out, "What may help: {advice}{narrow}.")
}

fn tell_rejects(examined: &Examined, specimen: &Specimen) {
    messages::warn(&format!(
        "{} of {} rows rejected; first: {}; all are listed in {}",
        grouped(examined.rejected),
        grouped(examined.puzzles + examined.rejected),
        examined.first_reject.as_deref().unwrap_or("unknown"),
        specimen.out.join(RejectsList::FILE_NAME).display()
    ));
}
