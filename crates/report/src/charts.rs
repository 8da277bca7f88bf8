//! The charts of censuses, collections and trials, from their data.

#[cfg(test)]
mod tests;
mod words;

use std::io::Write;
use std::path::{Path, PathBuf};

use tallyhouse_analysis::order_search::{OrderReport, ReportedOrder};
use tallyhouse_analysis::{
    BookReport, Cheaper, Description, LookShare, LookShares, MINIMAL_PUZZLES, PairedCosts,
    ShapeShare, SideComparison,
};
use tallyhouse_census::{CensusError, Counts, each_cluster, manifest, write_file};
use tallyhouse_figures::{
    Axis, BandChart, BandLine, BandPoint, BarLength, DistributionChart, Estimate, Figure,
    FigureError, FrontierChart, FrontierPoint, Heading, HeatMap, IntervalChart, IntervalRow,
    PairedChart, PairedSide, Reference, ShapeCell, ShareBar, ShareBars, Spread, Theme, Threshold,
    Unit, Width, rasterise,
};
use tallyhouse_stats::{Level, Share};

use crate::numbers::{FEW, compact, decimals, grouped, per_thousand};

/// Pixels per SVG unit of 0.25 mm: about 300 dots per inch.
const PNG_SCALE: f32 = 3.0;

/// Why a figure could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// The figure can't be drawn.
    #[error("{name}: {error}")]
    Figure {
        /// The name of the figure.
        name: String,
        /// What is wrong.
        #[source]
        error: FigureError,
    },
    /// The chart counts puzzles, and these are not all worth the same.
    #[error(
        "{} has weights or families: expected puzzles that count alike and stand alone, for the \
         interval is that of a plain share",
        .0.display()
    )]
    Weighted(PathBuf),
    /// Data can't be read or files can't be written.
    #[error(transparent)]
    Census(#[from] CensusError),
}

/// Saves a figure as SVG, PNG and CSV under a name.
///
/// # Errors
/// If the figure can't be drawn or a file can't be written.
pub fn save(
    figure: &dyn Figure,
    folder: &Path,
    name: &str,
    theme: Theme,
    width: Width,
) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let svg = figure.svg(theme, width).map_err(failed)?;
    save_picture(&svg, folder, name)?;
    save_data(figure, folder, name)
}

/// Saves a drawn figure as SVG and PNG under a name.
///
/// # Errors
/// If a file can't be written.
pub fn save_picture(svg: &str, folder: &Path, name: &str) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let png = rasterise(svg, PNG_SCALE).map_err(failed)?;
    let path = |extension: &str| folder.join(format!("{name}.{extension}"));
    write_file(&path("svg"), |writer| writer.write_all(svg.as_bytes()))?;
    Ok(write_file(&path("png"), |writer| writer.write_all(&png))?)
}

/// Saves the data of a figure as CSV under a name.
///
/// # Errors
/// If the file can't be written.
pub fn save_data(figure: &dyn Figure, folder: &Path, name: &str) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let csv = figure.csv().map_err(failed)?;
    let path = folder.join(format!("{name}.csv"));
    Ok(write_file(&path, |writer| writer.write_all(csv.as_bytes()))?)
}

/// The shapes that a quiet position can show: both sides at least two cells.
pub fn possible_shapes() -> impl Iterator<Item = (u8, u8)> {
    (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)))
}

/// How many proper subsets of each shape were found.
#[must_use]
pub fn occurrence_counts(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let cells = cells(counts, |count, _, _| (count as f64, compact(count)));
    HeatMap {
        title: "Which subsets occur".to_owned(),
        scale_title: "proper subsets found (logarithmic scale)".to_owned(),
        alt: words::occurrence_counts(&cells, counts),
        subtitle: vec![
            format!(
                "Proper subsets in {} of {};",
                words::positions(totals.quiet_positions),
                words::puzzles(totals.puzzles)
            ),
            format!(
                "{} such a position.",
                words::count_of(totals.puzzles_with_quiet_positions, "puzzle has", "puzzles have")
            ),
        ],
        notes: notes(&cells, None),
        cells,
    }
}

/// How many proper subsets of each shape there are per thousand houses of its open count.
#[must_use]
pub fn occurrence_rates(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let cells = cells(counts, |count, houses, puzzles| {
        if houses == 0 {
            return (0.0, NO_HOUSE.to_owned());
        }
        let rate = 1000.0 * count as f64 / houses as f64;
        (rate, per_thousand(count, houses) + words::star(puzzles))
    });
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        title: "How often a house shows each subset".to_owned(),
        scale_title: "proper subsets per 1,000 houses (logarithmic scale)".to_owned(),
        alt: words::occurrence_rates(&cells, counts),
        subtitle: vec![
            "Proper subsets per 1,000 houses with that many open cells;".to_owned(),
            format!(
                "{} in {} of {}.",
                words::count_of(houses, "house", "houses"),
                words::positions(totals.quiet_positions),
                words::puzzles(totals.puzzles)
            ),
        ],
        notes: notes(&cells, Some(counts)),
        cells,
    }
}

/// What stands for a rate of nothing.
const NO_HOUSE: &str = "–";

/// Returns the cells; `value` takes the subsets found, the houses, and the puzzles that show one.
fn cells(counts: &Counts, value: impl Fn(u64, u64, u64) -> (f64, String)) -> Vec<ShapeCell> {
    possible_shapes()
        .map(|(open, naked)| {
            let found = counts.shape(open, naked);
            let count = found.proper;
            let denominator = counts.exposure[usize::from(open)];
            let (value, label) = value(count, denominator, found.puzzles);
            ShapeCell { open, naked, value, label, denominator, count }
        })
        .collect()
}

/// Says what the cells mean; of rates also which rest on few puzzles.
fn notes(cells: &[ShapeCell], rates_of: Option<&Counts>) -> Vec<String> {
    let mut notes = vec![
        "Left out: shapes with a side of one cell, which are singles; a quiet position has none."
            .to_owned(),
    ];
    let any = |test: &dyn Fn(&ShapeCell) -> bool| cells.iter().any(test);
    if any(&|cell| cell.count == 0 && cell.label != NO_HOUSE) {
        notes.push("0: looked for, but not seen; that is not never.".to_owned());
    }
    if any(&|cell| cell.label == NO_HOUSE) {
        notes.push(format!("{NO_HOUSE}: no house had that many open cells."));
    }
    if any(&|cell| cell.label.ends_with('M')) {
        notes.push("M: million.".to_owned());
    }
    if let Some(counts) = rates_of {
        let showing = |cell: &ShapeCell| counts.shape(cell.open, cell.naked).puzzles;
        let few = |cell: &ShapeCell| !words::star(showing(cell)).is_empty();
        if any(&few) {
            notes.push(format!(
                "* Fewer than {FEW} puzzles show the shape: add more before relying on the rate."
            ));
        }
        notes.extend(words::few_puzzles(counts.totals.puzzles, "any rate"));
    }
    notes
}

/// How the proper subsets of each open count are spread over naked sizes.
#[must_use]
pub fn shapes_by_open(counts: &Counts) -> ShareBars {
    let bars = (4..=9u8).map(|open| {
        let of = |naked: u8| {
            if naked + 2 <= open { counts.shape(open, naked).proper } else { 0 }
        };
        ShareBar { label: format!("{open} open"), counts: (2..=7).map(of).collect(), n: None }
    });
    let all = |bar: &ShareBar| bar.counts.iter().sum::<u64>();
    let bars: Vec<ShareBar> = bars.filter(|bar| all(bar) > 0).collect();
    let few = bars.iter().any(|bar| all(bar) < FEW);
    let mut chart = ShareBars {
        heading: Heading {
            title: "Sizes of the naked side, by open cells".to_owned(),
            subtitle: vec![format!(
                "Proper subsets in {} of {}, n for each number of open cells; the hidden side has the \
                 other open cells.",
                words::positions(counts.totals.quiet_positions),
                words::puzzles(counts.totals.puzzles)
            )],
            notes: few
                .then(|| format!("Bars with n below {FEW} rest on few subsets."))
                .into_iter()
                .collect(),
            alt: String::new(),
        },
        axis_title: "share of proper subsets".to_owned(),
        length: BarLength::Share,
        parts: (2..=7).map(|naked| format!("naked {naked}")).collect(),
        bars,
    };
    chart.heading.alt = words::shapes_by_open(&chart, counts);
    chart
}

/// Which of the looks that a puzzle needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needed {
    /// The one that finds something at its first quiet position.
    First,
    /// The last one in the order of the walk.
    Last,
}

/// Which look puzzles need first or last, collection by collection, by weight where puzzles carry
/// weights; `None` if no collection tells.
#[must_use]
pub fn needed_looks(needed: Needed, collections: &[(String, LookShares)]) -> Option<ShareBars> {
    let rows = |shares: &LookShares| match needed {
        Needed::First => shares.first.clone(),
        Needed::Last => shares.last.clone(),
    };
    let told: Vec<(&String, &LookShares, Vec<LookShare>)> = collections
        .iter()
        .map(|(name, shares)| (name, shares, rows(shares)))
        .filter(|(.., rows)| !rows.is_empty())
        .collect();
    // Walks may differ in their looks: those that only later ones have stand at the end.
    let mut parts: Vec<String> = Vec::new();
    for row in told.iter().flat_map(|(.., rows)| rows) {
        if row.puzzles > 0 && !parts.contains(&row.look) {
            parts.push(row.look.clone());
        }
    }
    if let Some((.., rows)) = told.first() {
        let place = |part: &String| rows.iter().position(|row| row.look == *part);
        parts.sort_by_key(|part| place(part).unwrap_or(usize::MAX));
    }
    if parts.is_empty() {
        return None;
    }
    let bars = told.iter().map(|(name, shares, rows)| {
        let count = |part: &String| {
            let row = rows.iter().find(|row| row.look == *part);
            row.map_or(0, |row| if shares.weighted { row.weight } else { row.puzzles })
        };
        ShareBar {
            label: (*name).clone(),
            counts: parts.iter().map(count).collect(),
            n: Some(shares.puzzles),
        }
    });
    let bars: Vec<ShareBar> = bars.collect();
    let (title, what) = match needed {
        Needed::First => (
            "The look that puzzles need first",
            "The look that finds something at a puzzle's first quiet position, where no single is \
             left",
        ),
        Needed::Last => (
            "The last look that puzzles need",
            "The look of the order that comes last among those a puzzle's walk needed, solved or \
             not",
        ),
    };
    let by_weight = told.iter().any(|(_, shares, _)| shares.weighted);
    let how =
        if by_weight { "; n puzzles, by weight where they carry weights" } else { "; n puzzles" };
    let sentences = bars.iter().map(|bar| {
        let total: f64 = bar.counts.iter().map(|&count| count as f64).sum();
        let mut ranked: Vec<(u64, &String)> = bar.counts.iter().copied().zip(&parts).collect();
        ranked.sort_by_key(|&(count, _)| std::cmp::Reverse(count));
        let shown = ranked.iter().take(3).filter(|(count, _)| *count > 0);
        let words = shown.map(|&(count, part)| {
            format!("{part} {}", crate::numbers::share(count as f64 / total.max(1.0)))
        });
        let words: Vec<String> = words.collect();
        let n = grouped(bar.n.unwrap_or_default());
        format!("{}, {n} puzzles: {}.", bar.label, words.join(", "))
    });
    let sentences: Vec<String> = sentences.collect();
    Some(ShareBars {
        heading: Heading {
            title: title.to_owned(),
            subtitle: vec![format!("{what}{how}.")],
            notes: Vec::new(),
            alt: format!("Stacked bars of shares. {}", sentences.join(" ")),
        },
        axis_title: if by_weight { "share of puzzles, by weight" } else { "share of puzzles" }
            .to_owned(),
        length: BarLength::Share,
        parts,
        bars,
    })
}

fn estimate(from: &tallyhouse_stats::Estimate, count: u64, of: u64) -> Estimate {
    let label = match count {
        0 => format!("none of {}", grouped(of)),
        _ => grouped(count) + words::star(count),
    };
    Estimate {
        count,
        of,
        label,
        value: from.value.clamp(0.0, 1.0),
        low: from.interval.low.clamp(0.0, 1.0),
        high: from.interval.high.clamp(0.0, 1.0),
    }
}

/// The share of puzzles that show each shape, collection by collection.
#[must_use]
pub fn comparison(collections: &[(String, u64, Vec<ShapeShare>)]) -> IntervalChart {
    let rows = possible_shapes().map(|(open, naked)| IntervalRow {
        label: words::row(open, naked),
        estimates: collections
            .iter()
            .map(|(_, puzzles, shares)| {
                let shape = shares.iter().find(|s| (s.open, s.naked) == (open, naked))?;
                shape.share.as_ref().map(|share| estimate(share, shape.puzzles, *puzzles))
            })
            .collect(),
    });
    let rows: Vec<IntervalRow> = rows.collect();
    let named = |(name, puzzles, _): &(String, u64, Vec<ShapeShare>)| {
        format!("{name} ({})", words::puzzles(*puzzles))
    };
    // A single series has no key.
    let of = match collections {
        [only] => format!("Share of the puzzles of {}", named(only)),
        _ => "Share of puzzles".to_owned(),
    };
    let names: Vec<(&str, u64)> =
        collections.iter().map(|(name, puzzles, _)| (name.as_str(), *puzzles)).collect();
    let mut notes = words::interval_notes(&rows, "puzzles that show the shape");
    for (name, puzzles, _) in collections {
        notes.extend(words::few_puzzles(*puzzles, &format!("the shares of {name}")));
    }
    IntervalChart {
        heading: Heading {
            title: "Puzzles that show each shape".to_owned(),
            subtitle: vec![format!(
                "{of} with at least one proper subset of the shape (open cells: naked side | hidden \
                 side), with 95 % intervals; by weight where puzzles carry weights."
            )],
            notes,
            alt: words::comparison(&names, &rows),
        },
        axis: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Log,
            unit: Unit::Percent,
        },
        series: collections.iter().map(named).collect(),
        rows,
        threshold: None,
    }
}

/// What a rulebook leaves: for each shape the puzzles with a proper subset at its end position.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftShapes {
    /// The title of the rulebook.
    pub rulebook: String,
    /// All puzzles.
    pub puzzles: u64,
    /// Open count, naked size and puzzles.
    pub shapes: Vec<(u8, u8, u64)>,
}

impl From<&BookReport> for LeftShapes {
    fn from(book: &BookReport) -> Self {
        let shapes = book.missed.iter().map(|shape| (shape.open, shape.naked, shape.puzzles));
        Self {
            rulebook: book.rulebook.title().to_owned(),
            puzzles: book.puzzles,
            shapes: shapes.collect(),
        }
    }
}

impl LeftShapes {
    fn of(&self, open: u8, naked: u8) -> u64 {
        let shape = self.shapes.iter().find(|shape| (shape.0, shape.1) == (open, naked));
        shape.map_or(0, |shape| shape.2)
    }

    /// Reads what the rulebooks of a trial leave from its folder.
    ///
    /// # Errors
    /// If the folder holds no whole trial.
    pub fn of_trial(folder: &Path) -> Result<Vec<Self>, ChartError> {
        let manifest = folder.join("manifest.json");
        let damaged = |path: &Path, reason: &str| {
            ChartError::from(CensusError::Damaged {
                path: path.to_owned(),
                reason: reason.to_owned(),
            })
        };
        let text = std::fs::read_to_string(&manifest)
            .map_err(|error| damaged(&manifest, &error.to_string()))?;
        let value: serde_json::Value =
            serde_json::from_str(&text).map_err(|error| damaged(&manifest, &error.to_string()))?;
        let puzzles = value["totals"]["puzzles"].as_u64();
        let (Some(puzzles), Some(books)) = (puzzles, value["rulebooks"].as_array()) else {
            return Err(damaged(&manifest, "it is not that of a trial"));
        };
        let names = books.iter().filter_map(|book| {
            let name = book["name"].as_str()?;
            Some((name, book["title"].as_str().unwrap_or(name)))
        });
        let read = |(name, title): (&str, &str)| {
            let path = folder.join(name).join("missed.csv");
            let mut reader = csv::Reader::from_path(&path)
                .map_err(|error| damaged(&path, &error.to_string()))?;
            let shapes = reader.deserialize::<(u8, u8, u8, u64, u64, u64)>().map(|row| {
                let (open, naked, .., puzzles) =
                    row.map_err(|error| damaged(&path, &error.to_string()))?;
                Ok((open, naked, puzzles))
            });
            let shapes = shapes.collect::<Result<_, ChartError>>()?;
            Ok(Self { rulebook: title.to_owned(), puzzles, shapes })
        };
        names.map(read).collect()
    }
}

/// The share of puzzles in which each rulebook leaves subsets of a shape; `None` if none leaves any.
#[must_use]
pub fn missed(books: &[LeftShapes]) -> Option<IntervalChart> {
    let shapes: Vec<(u8, u8)> = possible_shapes()
        .filter(|&(open, naked)| books.iter().any(|book| book.of(open, naked) > 0))
        .collect();
    let short: Vec<&LeftShapes> =
        books.iter().filter(|book| book.shapes.iter().any(|shape| shape.2 > 0)).collect();
    let puzzles = short.first()?.puzzles;
    let rows = shapes.into_iter().map(|(open, naked)| IntervalRow {
        label: words::row(open, naked),
        estimates: short
            .iter()
            .map(|book| {
                let left = book.of(open, naked);
                let share = Share::new(left, book.puzzles).ok()?;
                Some(estimate(&share.estimate(Level::P95), left, book.puzzles))
            })
            .collect(),
    });
    let rows: Vec<IntervalRow> = rows.collect();
    // A single series has no key.
    let walk = match short.as_slice() {
        [only] => format!("the walk of {}", only.rulebook),
        _ => "the rulebook's walk".to_owned(),
    };
    let mut notes = words::interval_notes(&rows, "puzzles in which the shape is left");
    notes.extend(words::complete_books(books));
    notes.extend(words::few_puzzles(puzzles, "the shares"));
    Some(IntervalChart {
        heading: Heading {
            title: "What rulebooks leave".to_owned(),
            subtitle: vec![format!(
                "Share of {} with a proper subset of the shape (open cells: naked side | hidden side) \
                 at the end of {walk}, with 95 % intervals.",
                words::puzzles(puzzles)
            )],
            notes,
            alt: words::missed(&short, &rows),
        },
        axis: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Log,
            unit: Unit::Percent,
        },
        series: short.iter().map(|book| book.rulebook.clone()).collect(),
        rows,
        threshold: None,
    })
}

/// Clue counts beside the published distribution of all minimal puzzles.
#[must_use]
pub fn clues(description: &Description, name: &str) -> DistributionChart {
    let weighted = description.weighted > 0;
    // Shares are all that is drawn, so any unit of weight will do that fits.
    let most = description.clues.iter().map(|row| row.weight).max().unwrap_or(0);
    let unit = if weighted { most.div_ceil(1_000_000_000_000).max(1) } else { 1_000_000 };
    let observed = description
        .clues
        .iter()
        .map(|row| (i64::from(row.clues), u64::try_from(row.weight / unit).unwrap_or(u64::MAX)));
    let observed: Vec<(i64, u64)> = observed.collect();
    let all: f64 = observed.iter().map(|&(_, count)| count as f64).sum();
    let drawn: Vec<(i64, f64)> =
        observed.iter().map(|&(clues, count)| (clues, count as f64 / all.max(1.0))).collect();
    let shares = MINIMAL_PUZZLES.percent.iter();
    let published = Reference {
        label: "all minimal puzzles (Berthier 2009)".to_owned(),
        shares: shares.map(|&(clues, percent)| (i64::from(clues), percent / 100.0)).collect(),
    };
    let how = if weighted { "share of weight" } else { "share of puzzles" };
    DistributionChart {
        heading: Heading {
            title: "How many clues the puzzles have".to_owned(),
            subtitle: vec![format!("{} of {name}; {how}.", words::puzzles(description.puzzles))],
            notes: words::clue_notes(description),
            alt: words::clues(description, name, &drawn),
        },
        axis_title: "clues".to_owned(),
        share_title: how.to_owned(),
        observed_label: "this collection".to_owned(),
        observed,
        references: vec![published],
    }
}

/// How the interval of a share narrows as puzzles are added, in the order of the dataset: the share
/// of puzzles that show each of these shapes.
///
/// # Errors
/// If the dataset can't be read, has no tables, or has weights or families.
pub fn narrowing(dataset: &Path, shapes: &[(u8, u8)]) -> Result<BandChart, ChartError> {
    let manifest = manifest(dataset)?;
    if manifest.totals.weighted > 0 {
        return Err(ChartError::Weighted(dataset.to_owned()));
    }
    let mut hits = vec![0u64; shapes.len()];
    let mut puzzles = 0u64;
    let mut lines: Vec<Vec<BandPoint>> = vec![Vec::new(); shapes.len()];
    let mut found: Vec<Vec<(u64, u64)>> = vec![Vec::new(); shapes.len()];
    let (mut mark, mut last) = (100u64, 0);
    let mut add = |hits: &[u64], puzzles: u64| {
        for ((line, found), &hits) in lines.iter_mut().zip(&mut found).zip(hits) {
            found.push((puzzles, hits));
            if let Ok(share) = Share::new(hits, puzzles) {
                let Estimate { value, low, high, .. } =
                    estimate(&share.estimate(Level::P95), hits, puzzles);
                line.push(BandPoint { at: puzzles as f64, value, low, high });
            }
        }
    };
    each_cluster(dataset, &mut |cluster| {
        puzzles += 1;
        for (hits, &(open, naked)) in hits.iter_mut().zip(shapes) {
            *hits += u64::from(cluster.shapes[usize::from(open)][usize::from(naked)] > 0);
        }
        if puzzles == mark {
            add(&hits, puzzles);
            last = puzzles;
            // 100, 200, 500, 1000 and so on.
            let lead = mark / 10u64.pow(mark.ilog10());
            mark = if lead == 2 { mark / 2 * 5 } else { mark * 2 };
        }
    })?;
    if last != puzzles {
        add(&hits, puzzles);
    }
    let label = |&(open, naked): &(u8, u8)| format!("{open} open, naked {naked}");
    let lines: Vec<BandLine> = shapes
        .iter()
        .zip(lines)
        .map(|(shape, points)| BandLine { label: label(shape), points })
        .collect();
    let found: Vec<_> = shapes.iter().map(label).zip(found).collect();
    let mut notes = words::narrowing_notes(&found);
    notes.extend(words::origin(&manifest.collection.notes));
    Ok(BandChart {
        heading: Heading {
            title: "How the interval of a rate narrows".to_owned(),
            subtitle: vec![format!(
                "Share of the first n of {} with at least one proper subset of the shape, with its \
                 95 % interval.",
                words::puzzles(puzzles)
            )],
            notes,
            alt: words::narrowing(&lines, puzzles),
        },
        across: Axis { title: "puzzles".to_owned(), spread: Spread::Log, unit: Unit::Number },
        up: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Percent,
        },
        lines,
        threshold: None,
    })
}

/// Draws the costs of a look and its complement; `None` where no house holds the shape.
#[must_use]
pub fn paired(costs: &PairedCosts, puzzles: u64) -> Option<PairedChart> {
    let PairedCosts { open, naked, .. } = *costs;
    let hidden = open - naked;
    let both = || costs.costs.iter().flat_map(|&(a, b)| [a, b]);
    let (least, most) = both().fold((f64::INFINITY, 0.0f64), |(a, b), c| (a.min(c), b.max(c)));
    if !least.is_finite() || most <= 0.0 {
        return None;
    }
    const BINS: usize = 24;
    let (low, high) = ((least * 0.95).max(0.5), most * 1.05);
    let step = (high / low).powf(1.0 / BINS as f64);
    let edges: Vec<f64> = (0..=BINS).map(|bin| low * step.powi(bin as i32)).collect();
    let edges_of_bins = edges.clone();
    let side = |label: String, pick: fn(&(f64, f64)) -> f64| {
        let mut values: Vec<f64> = costs.costs.iter().map(pick).collect();
        values.sort_unstable_by(f64::total_cmp);
        let mut counts = vec![0u64; BINS];
        for value in &values {
            let bin = edges_of_bins.partition_point(|edge| edge <= value).clamp(1, BINS) - 1;
            counts[bin] += 1;
        }
        PairedSide { label, counts, median: values[values.len() / 2] }
    };
    let ratio = costs.sums.ratio().ok().and_then(|ratio| ratio.estimate(Level::P95));
    let ratio = ratio.map_or_else(String::new, |ratio| {
        let decimals = decimals(ratio.interval.low, ratio.interval.high);
        format!(
            "naked {naked} costs {:.decimals$} times as many glances as hidden {hidden} (95 % \
             interval {:.decimals$} to {:.decimals$})",
            ratio.value, ratio.interval.low, ratio.interval.high
        )
    });
    let sides = [
        side(format!("naked {naked}"), |cost| cost.0),
        side(format!("hidden {hidden}"), |cost| cost.1),
    ];
    let with_split = costs.sums.clusters();
    let mut notes = Vec::new();
    if with_split < FEW {
        notes.push(format!(
            "Only {} with such a split, fewer than {FEW}: add more before relying on the ratio.",
            words::puzzles(with_split)
        ));
    }
    Some(PairedChart {
        heading: Heading {
            title: format!("Naked {naked} or hidden {hidden} with {open} open cells"),
            subtitle: vec![format!(
                "Glances until the look ends, in the {} of {} with such a split; {} walked. A \
                 model of effort with stated assumptions.",
                words::count_of(costs.costs.len() as u64, "house", "houses"),
                words::puzzles(with_split),
                words::puzzles(puzzles)
            )],
            notes,
            alt: words::paired(costs, (sides[0].median, sides[1].median), &ratio, with_split),
        },
        axis: Axis { title: "glances".to_owned(), spread: Spread::Log, unit: Unit::Number },
        share_title: "share of houses".to_owned(),
        edges,
        sides,
        ratio,
    })
}

/// What the naked look costs beside the hidden one, shape by shape; `None` if no shape tells.
#[must_use]
pub fn side_ratios(sides: &[SideComparison], puzzles: u64) -> Option<IntervalChart> {
    let told = || sides.iter().filter_map(|side| Some((side, side.ratio.as_ref()?)));
    told().next()?;
    let mut few = false;
    let rows = told().map(|(side, ratio)| {
        let rests_on_few = side.puzzles < FEW;
        few |= rests_on_few;
        IntervalRow {
            label: format!(
                "{} open: {} | {}{}",
                side.open,
                side.naked,
                side.hidden(),
                if rests_on_few { " *" } else { "" }
            ),
            estimates: vec![Some(Estimate {
                count: side.houses,
                of: side.puzzles,
                label: format!("{:.2}, n = {}", ratio.value, grouped(side.houses)),
                value: ratio.value,
                low: ratio.interval.low.max(0.0),
                high: ratio.interval.high,
            })],
        }
    });
    let rows: Vec<IntervalRow> = rows.collect();
    let named = |wanted: Cheaper| {
        let names = told().filter(|(side, _)| side.cheaper == wanted);
        let names: Vec<String> = names
            .map(|(side, _)| format!("{} | {} of {}", side.naked, side.hidden(), side.open))
            .collect();
        if names.is_empty() { "none".to_owned() } else { names.join(", ") }
    };
    let mut notes = Vec::new();
    if few {
        notes.push(format!("* Rests on fewer than {FEW} puzzles."));
    }
    Some(IntervalChart {
        heading: Heading {
            title: "Naked or hidden: which look costs less".to_owned(),
            subtitle: vec![format!(
                "Glances of the naked look divided by those of the hidden one, in the same n houses \
                 (open cells: naked side | hidden side), with 95 % intervals; {} puzzles walked. A \
                 model of effort with stated assumptions.",
                grouped(puzzles)
            )],
            notes,
            alt: format!(
                "Dots with intervals: for each shape the glances of the naked look divided by those \
                 of the hidden look. The naked look costs less for {}; the hidden look for {}; not \
                 settled: {}.",
                named(Cheaper::Naked),
                named(Cheaper::Hidden),
                named(Cheaper::Unsettled)
            ),
        },
        axis: Axis {
            title: "naked over hidden; below 1 the naked look costs less".to_owned(),
            spread: Spread::Log,
            unit: Unit::Number,
        },
        series: vec!["ratio".to_owned()],
        rows,
        threshold: Some(Threshold { value: 1.0, label: "equal".to_owned() }),
    })
}

/// A rulebook of an order search.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchedOrder {
    /// Its name.
    pub name: String,
    /// Mean glances per held-out puzzle.
    pub glances: f64,
    /// Their standard error.
    pub standard_error: f64,
    /// The share of held-out puzzles fully reached.
    pub reached: f64,
    /// The ends of its interval.
    pub interval: (f64, f64),
    /// If no other rulebook costs less and reaches as much.
    pub undominated: bool,
}

impl From<&ReportedOrder> for SearchedOrder {
    fn from(order: &ReportedOrder) -> Self {
        let interval = order.held_out.reached_interval;
        Self {
            name: order.name.clone(),
            glances: order.held_out.glances.ratio,
            standard_error: order.held_out.glances.standard_error,
            reached: order.held_out.reached.value(),
            interval: (interval.low, interval.high),
            undominated: order.undominated,
        }
    }
}

/// The rulebooks of an order search.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchedOrders {
    /// Puzzles on which they were chosen.
    pub training: u64,
    /// Puzzles on which they were measured.
    pub held_out: u64,
    /// The rulebooks.
    pub orders: Vec<SearchedOrder>,
}

impl From<&OrderReport> for SearchedOrders {
    fn from(report: &OrderReport) -> Self {
        Self {
            training: report.training_puzzles,
            held_out: report.held_out_puzzles,
            orders: report.orders().map(SearchedOrder::from).collect(),
        }
    }
}

impl SearchedOrders {
    /// Reads them from the folder of a search.
    ///
    /// # Errors
    /// If it has no whole `frontier.csv`.
    pub fn of_folder(folder: &Path) -> Result<Self, ChartError> {
        let path = folder.join("frontier.csv");
        let damaged =
            |reason: String| ChartError::from(CensusError::Damaged { path: path.clone(), reason });
        let mut reader =
            csv::Reader::from_path(&path).map_err(|error| damaged(error.to_string()))?;
        let header = reader.headers().map_err(|error| damaged(error.to_string()))?.clone();
        let mut all = Self { training: 0, held_out: 0, orders: Vec::new() };
        for record in reader.records() {
            let record = record.map_err(|error| damaged(error.to_string()))?;
            let field = |name: &str| {
                let column = header.iter().position(|column| column == name);
                column
                    .and_then(|column| record.get(column))
                    .ok_or_else(|| damaged(format!("no column {name}")))
            };
            let number = |name: &str| {
                let text = field(name)?;
                text.parse::<f64>()
                    .map_err(|_| damaged(format!("{name} is '{text}': expected a number")))
            };
            all.training = number("training_puzzles")? as u64;
            all.held_out = number("held_out_puzzles")? as u64;
            all.orders.push(SearchedOrder {
                name: field("name")?.to_owned(),
                glances: number("glances")?,
                standard_error: number("glances_se")?,
                reached: number("reached_share")?,
                interval: (number("reached_low")?, number("reached_high")?),
                undominated: field("undominated")? == "true",
            });
        }
        Ok(all)
    }
}

/// Draws the rulebooks of an order search.
#[must_use]
pub fn frontier(all: &SearchedOrders) -> FrontierChart {
    let point = |order: &SearchedOrder| {
        let margin = 1.96 * order.standard_error;
        FrontierPoint {
            label: order.name.clone(),
            cost: order.glances,
            cost_interval: (order.glances - margin, order.glances + margin),
            gain: order.reached,
            gain_interval: order.interval,
            on_frontier: order.undominated,
        }
    };
    FrontierChart {
        heading: Heading {
            title: "Effort and reach of rulebooks".to_owned(),
            subtitle: vec![format!(
                "Mean glances of one-by-one walks and share of puzzles that end where the full \
                 ladder ends, on {} held-out puzzles, with 95 % intervals; found on {} others.",
                grouped(all.held_out),
                grouped(all.training)
            )],
            notes: words::few_puzzles(all.held_out, "the intervals").into_iter().collect(),
            alt: words::frontier(all),
        },
        cost: Axis {
            title: "glances per puzzle".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Number,
        },
        gain: Axis {
            title: "puzzles fully reached".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Percent,
        },
        points: all.orders.iter().map(point).collect(),
    }
}
