//! The heat maps of a scan, from its counts.

use std::path::{Path, PathBuf};

use tallyhouse_census::{Summary, write_file};
use tallyhouse_figures::{Figure, HeatMap, ShapeCell, Theme, Width, rasterise};

use crate::summary::{grouped, per_thousand, possible_shapes};

/// Pixels per SVG unit of 0.25 mm: about 300 dots per inch.
const PNG_SCALE: f32 = 3.0;

/// Draws both heat maps into a folder, each as SVG, PNG and CSV, and returns the PNG paths.
pub(crate) fn draw_heat_maps(summary: &Summary, folder: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let charts = [("occurrence-counts", counts(summary)), ("occurrence-rates", rates(summary))];
    charts.iter().map(|(name, chart)| save(chart, folder, name)).collect()
}

/// Saves a figure as SVG, PNG and CSV.
pub(crate) fn save(chart: &dyn Figure, folder: &Path, name: &str) -> anyhow::Result<PathBuf> {
    let svg = chart.svg(Theme::Light, Width::Page)?;
    let csv = chart.csv()?;
    let png = rasterise(&svg, PNG_SCALE)?;
    let path = |extension: &str| folder.join(format!("{name}.{extension}"));
    write_file(&path("svg"), |writer| std::io::Write::write_all(writer, svg.as_bytes()))?;
    write_file(&path("csv"), |writer| std::io::Write::write_all(writer, csv.as_bytes()))?;
    write_file(&path("png"), |writer| std::io::Write::write_all(writer, &png))?;
    Ok(path("png"))
}

fn counts(summary: &Summary) -> HeatMap {
    let totals = &summary.counts.totals;
    let cells = cells(summary, |count, _| (count as f64, compact(count)));
    HeatMap {
        title: "Which subsets occur".to_owned(),
        scale_title: "proper subsets found (logarithmic scale)".to_owned(),
        alt: describe("the number of proper subsets", summary),
        subtitle: vec![
            format!(
                "Proper subsets in {} quiet positions of {} puzzles;",
                grouped(totals.quiet_positions),
                grouped(totals.puzzles)
            ),
            format!(
                "{} puzzles have such a position.",
                grouped(totals.puzzles_with_quiet_positions)
            ),
        ],
        notes: notes(&cells),
        cells,
    }
}

fn rates(summary: &Summary) -> HeatMap {
    let totals = &summary.counts.totals;
    let cells = cells(summary, |count, houses| {
        let rate = if houses == 0 { 0.0 } else { 1000.0 * count as f64 / houses as f64 };
        (rate, per_thousand(count, houses))
    });
    let houses: u64 = summary.counts.exposure.iter().skip(2).sum();
    HeatMap {
        title: "How often a house shows each subset".to_owned(),
        scale_title: "proper subsets per 1,000 houses (logarithmic scale)".to_owned(),
        alt: describe("proper subsets per 1,000 houses with that many open cells", summary),
        subtitle: vec![
            "Proper subsets per 1,000 houses with that many open cells;".to_owned(),
            format!(
                "{} houses in {} quiet positions of {} puzzles.",
                grouped(houses),
                grouped(totals.quiet_positions),
                grouped(totals.puzzles)
            ),
        ],
        notes: notes(&cells),
        cells,
    }
}

fn cells(summary: &Summary, value: impl Fn(u64, u64) -> (f64, String)) -> Vec<ShapeCell> {
    possible_shapes()
        .map(|(open, naked)| {
            let count = summary.counts.shape(open, naked).proper;
            let denominator = summary.counts.exposure[usize::from(open)];
            let (value, label) = value(count, denominator);
            ShapeCell { open, naked, value, label, denominator, count }
        })
        .collect()
}

fn notes(cells: &[ShapeCell]) -> Vec<String> {
    let mut notes = vec![
        "Left out: shapes with a side of one cell, which are singles; a quiet position".to_owned(),
        "has none.".to_owned(),
    ];
    if cells.iter().any(|cell| cell.count == 0) {
        notes[1] += " Grey cells with 0: looked for, but not seen.";
    }
    notes
}

fn describe(what: &str, summary: &Summary) -> String {
    let counts = &summary.counts;
    let most = possible_shapes().max_by_key(|&(open, naked)| counts.shape(open, naked).proper);
    let most = most.map_or_else(String::new, |(open, naked)| {
        format!(
            " The most frequent shape has {open} open cells, {naked} of them naked and {} hidden.",
            open - naked
        )
    });
    format!(
        "Heat map of {what}, by the number of open cells of the house (4 to 9) and the size of the \
         naked side (2 to 7), from {} puzzles.{most} All values are in the CSV file beside the \
         picture.",
        grouped(counts.totals.puzzles)
    )
}

/// Writes a count so that it fits into a cell.
fn compact(count: u64) -> String {
    if count < 1_000_000 { grouped(count) } else { format!("{:.2}M", count as f64 / 1e6) }
}
