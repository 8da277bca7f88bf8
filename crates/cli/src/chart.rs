//! `tallyhouse chart`: draw charts of datasets.

use std::fs;
use std::io::{self, Write};

use anyhow::{Context, ensure};
use tallyhouse_analysis::shape_shares;
use tallyhouse_census::{Counts, manifest};
use tallyhouse_figures::Figure;
use tallyhouse_report::charts;

use crate::args::{Chart, ChartKind};

pub(crate) fn run(chart: &Chart) -> anyhow::Result<()> {
    let first = &chart.datasets[0];
    let several = matches!(chart.kind, ChartKind::Compare | ChartKind::Hardest);
    ensure!(several || chart.datasets.len() == 1, "this chart takes one dataset");
    let name = |folder: &std::path::Path| {
        folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned()
    };
    let (file, figure): (&str, Box<dyn Figure>) = match chart.kind {
        ChartKind::Rates => {
            ("occurrence-rates", Box::new(charts::occurrence_rates(&Counts::of_dataset(first)?)))
        }
        ChartKind::Counts => {
            ("occurrence-counts", Box::new(charts::occurrence_counts(&Counts::of_dataset(first)?)))
        }
        ChartKind::Shapes => {
            ("shapes", Box::new(charts::shapes_by_open(&Counts::of_dataset(first)?)))
        }
        ChartKind::Narrowing => {
            let shapes = [(chart.open, chart.naked)];
            ensure!(
                charts::possible_shapes().any(|shape| shape == shapes[0]),
                "found --open {} --naked {}, expected 4 to 9 open cells and at least 2 on either side",
                chart.open,
                chart.naked
            );
            ("narrowing", Box::new(charts::narrowing(first, &shapes)?))
        }
        ChartKind::Hardest => {
            let all = chart.datasets.iter().map(|d| Ok((name(d), manifest(d)?)));
            (
                "first-needed",
                Box::new(charts::hardest_looks(&all.collect::<anyhow::Result<Vec<_>>>()?)),
            )
        }
        ChartKind::Compare => {
            let all = chart.datasets.iter().map(|folder| {
                let counts = Counts::of_dataset(folder)?;
                Ok((name(folder), counts.totals.puzzles, shape_shares(folder, &counts)?))
            });
            ("comparison", Box::new(charts::comparison(&all.collect::<anyhow::Result<Vec<_>>>()?)))
        }
    };
    let out = &chart.out;
    fs::create_dir_all(out).with_context(|| format!("cannot make {}", out.display()))?;
    charts::save(&*figure, out, file, chart.theme.into(), chart.width.into())?;
    writeln!(io::stdout().lock(), "{}", out.join(format!("{file}.svg")).display())?;
    Ok(())
}
