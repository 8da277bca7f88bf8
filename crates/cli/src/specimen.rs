//! `tallyhouse specimen`: find positions that show a split, and draw them.

use std::fs;
use std::io::{self, Write};

use anyhow::Context;
use tallyhouse_census::write_file;
use tallyhouse_report::specimen::{
    Found, Puzzles, find, find_by_making, gallery, write_csv, write_json,
};

use crate::args::Specimen;
use crate::progress::{self, ScanBar};
use tallyhouse_report::numbers::grouped;

pub(crate) fn run(specimen: &Specimen, quiet: bool) -> anyhow::Result<()> {
    let wanted = specimen.wanted();
    wanted.check()?;
    let sources = specimen.sources()?;
    let bar = progress::bar("searching", None, quiet);
    let hears = ScanBar(bar.clone());
    if specimen.gallery {
        let puzzles = match sources {
            Some(sources) => Puzzles::Sources(sources),
            None => Puzzles::Made { seed: specimen.seed, count: specimen.limit },
        };
        let result = gallery(&puzzles, &wanted, &hears);
        bar.finish_and_clear();
        let gallery = result?;
        gallery.write_gallery(&specimen.out)?;
        let missing: Vec<String> = gallery.missing().iter().map(ToString::to_string).collect();
        let mut out = io::stdout().lock();
        writeln!(
            out,
            "A gallery of {} shapes from {} puzzles: {}",
            gallery.specimens.len(),
            grouped(gallery.examined.puzzles),
            specimen.out.join("gallery.html").display()
        )?;
        if !missing.is_empty() {
            writeln!(out, "Not seen in them: {}", missing.join(", "))?;
        }
        return Ok(());
    }
    let result = match sources {
        Some(sources) => find(&Puzzles::Sources(sources), &wanted, specimen.most, &hears),
        None => find_by_making(specimen.seed, &wanted, specimen.most, specimen.limit, &hears),
    };
    bar.finish_and_clear();
    let found = result?;
    write(&found, specimen)?;
    if specimen.json {
        let json = fs::read_to_string(specimen.out.join("specimens.json"))?;
        write!(io::stdout().lock(), "{json}")?;
        return Ok(());
    }
    tell(&found, specimen)
}

fn write(found: &Found, specimen: &Specimen) -> anyhow::Result<()> {
    let out = &specimen.out;
    fs::create_dir(out).with_context(|| format!("cannot make {}", out.display()))?;
    fs::create_dir(out.join("figures"))?;
    for (number, one) in (1..).zip(&found.specimens) {
        one.write_figures(&out.join("figures"), &format!("specimen-{number}"))?;
    }
    write_file(&out.join("specimens.csv"), |writer| write_csv(&found.specimens, writer))?;
    write_file(&out.join("specimens.json"), |writer| {
        write_json(&found.specimens, &found.examined, writer)
    })?;
    Ok(())
}

fn tell(found: &Found, specimen: &Specimen) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "{} specimens in {} puzzles, clearest first",
        found.specimens.len(),
        grouped(found.examined.puzzles)
    )?;
    for (number, one) in (1..).zip(&found.specimens) {
        writeln!(
            out,
            "\n{number}. {}\n   {}, score {}",
            one.description(),
            one.origin,
            one.score()
        )?;
        writeln!(out, "   {}", one.puzzle)?;
    }
    writeln!(out, "\nFigures: {}", specimen.out.join("figures").display())?;
    Ok(())
}
