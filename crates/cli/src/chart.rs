//! `tallyhouse chart`: draw charts of datasets.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use anyhow::{Context, ensure};
use tallyhouse_analysis::{look_shares, paired_costs, shape_shares};
use tallyhouse_census::{Counts, Progress, manifest};
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_figures::Figure;
use tallyhouse_report::ChartKind;
use tallyhouse_report::charts::{self, ChartError, Needed};
use tallyhouse_report::study::{FirstPuzzles, first_puzzles};

use crate::args::Chart;

/// A chart is quick, or its work is told of elsewhere.
struct Silent;

impl Progress for Silent {
    fn advance(&self, _: u64) {}

    fn expect(&self, _: u64) {}
}

pub(crate) fn run(chart: &Chart) -> anyhow::Result<()> {
    let first = &chart.datasets[0];
    let several = matches!(chart.kind, ChartKind::Compare | ChartKind::First | ChartKind::Hardest);
    ensure!(several || chart.datasets.len() == 1, "this chart takes one dataset");
    ensure!(
        charts::possible_shapes().any(|shape| shape == (chart.open, chart.naked)),
        "found --open {} --naked {}, expected 4 to 9 open cells and at least 2 on either side",
        chart.open,
        chart.naked
    );
    let last = |folder: &Path| folder.file_name().unwrap_or(folder.as_os_str()).to_owned();
    let name = |folder: &Path| {
        let alike = chart.datasets.iter().filter(|other| last(other) == last(folder)).count();
        // Folders of one name are told apart by where they are.
        if alike > 1 {
            folder.display().to_string()
        } else {
            last(folder).to_string_lossy().into_owned()
        }
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
            ("narrowing", Box::new(charts::narrowing(first, &shapes)?))
        }
        ChartKind::Missed => {
            let left = charts::LeftShapes::of_trial(first)?;
            let chart =
                charts::missed(&left).context("no rulebook of this trial leaves a subset")?;
            ("missed", Box::new(chart))
        }
        ChartKind::Frontier => {
            let orders = charts::SearchedOrders::of_folder(first)?;
            ("frontier", Box::new(charts::frontier(&orders)))
        }
        ChartKind::Clues => {
            let source = tallyhouse_census::source_of(first)?;
            let description = tallyhouse_analysis::describe(vec![source], &Silent)?;
            ("clues", Box::new(charts::clues(&description, &name(first))))
        }
        ChartKind::Effort => {
            let source = tallyhouse_census::source_of(first)?;
            let FirstPuzzles { puzzles, alike } = first_puzzles(&[source], chart.puzzles)?;
            if !alike {
                return Err(ChartError::Weighted(first.clone()).into());
            }
            let shapes = [(chart.open, chart.naked)];
            let costs =
                paired_costs(&puzzles, &shapes, &WalkOptions::default(), &GlanceWeights::default());
            let drawn = charts::paired(&costs[0], puzzles.len() as u64);
            ("effort", Box::new(drawn.context("no house of these puzzles holds such a split")?))
        }
        ChartKind::First | ChartKind::Hardest => {
            let all = chart.datasets.iter().map(|folder| {
                let counts = Counts::of_dataset(folder)?;
                Ok((name(folder), look_shares(folder, &manifest(folder)?, &counts)?))
            });
            let all = all.collect::<anyhow::Result<Vec<_>>>()?;
            let (file, needed) = match chart.kind {
                ChartKind::First => ("first-needed", Needed::First),
                _ => ("last-needed", Needed::Last),
            };
            let drawn = charts::needed_looks(needed, &all);
            (file, Box::new(drawn.context("these datasets have no tables, which tell it")?))
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
    let path = |extension: &str| out.join(format!("{file}.{extension}"));
    let mut stdout = io::stdout().lock();
    if chart.json {
        let files = serde_json::json!({
            "svg": path("svg"), "png": path("png"), "csv": path("csv"),
        });
        writeln!(stdout, "{files:#}")?;
    } else {
        writeln!(stdout, "{}", path("svg").display())?;
    }
    Ok(())
}
