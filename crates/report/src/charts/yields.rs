//! What looks yield and what their finds cost, for all readers.

use std::path::Path;

use serde::Deserialize;
use tallyhouse_analysis::yields::{Frame, YieldHead};
use tallyhouse_census::CensusError;
use tallyhouse_engine::{Look, Shape};
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, ReferenceLine, Unit,
};
use tallyhouse_storage::{MANIFEST, read_sealed};
use tallyhouse_words::{count, number_word, rounded, sentence_start};

use super::folder::check;
use super::words;
use crate::ReportError;

/// The glances for a find above which a look is not worth making, if nothing else is said.
const NOT_WORTH_IT: f64 = 1000.0;

/// What looks yield, as the command for that wrote it.
#[derive(Clone, Debug)]
pub struct YieldTable {
    head: YieldHead,
    rows: Vec<Row>,
}

/// A row of `yields.csv`.
#[derive(Clone, Debug, Deserialize)]
struct Row {
    reader: String,
    frame: String,
    look: String,
    open: u8,
    house_kind: String,
    made: u64,
    finds: u64,
    #[serde(rename = "yield")]
    share: Option<f64>,
    yield_low: Option<f64>,
    yield_high: Option<f64>,
    price: Option<f64>,
    price_low: Option<f64>,
    price_high: Option<f64>,
}

impl Row {
    fn price(&self) -> Option<IntervalMark> {
        let (value, low, high) = (self.price?, self.price_low?, self.price_high?);
        Some(self.mark(value, low, high, rounded(value, 3)))
    }

    /// The yield; where the lower end is not known it is set to nothing.
    fn share(&self) -> Option<IntervalMark> {
        let (value, high) = (self.share?, self.yield_high?);
        let label =
            if self.finds == 0 { "none".to_owned() } else { rounded(100.0 * value, 3) + " %" };
        Some(self.mark(value, self.yield_low.unwrap_or(0.0), high, label))
    }

    fn mark(&self, value: f64, low: f64, high: f64, label: String) -> IntervalMark {
        let (count, of) = (self.finds, self.made);
        IntervalMark { value, low, high, count, of, label }
    }
}

impl YieldTable {
    /// Reads what looks yield from the folder of the command.
    ///
    /// # Errors
    /// If the folder holds no whole table, or is not as it was written.
    pub fn of_folder(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        let manifest = folder.join(MANIFEST);
        let damaged = |path: &Path, reason: String| {
            ReportError::from(CensusError::Damaged { path: path.to_owned(), reason })
        };
        let head = read_sealed(&manifest)?
            .ok_or_else(|| damaged(&manifest, "it is not there".to_owned()))?;
        let mut rows = Vec::new();
        for name in ["yields.csv", "yields-moving.csv"] {
            let path = folder.join(name);
            let failed = |error: csv::Error| damaged(&path, error.to_string());
            let mut reader = csv::Reader::from_path(&path).map_err(failed)?;
            for row in reader.deserialize() {
                rows.push(row.map_err(failed)?);
            }
        }
        Ok(Self { head, rows })
    }

    fn row(&self, reader: &str, frame: Frame, look: Look, open: u8) -> Option<&Row> {
        let look = look.to_string();
        self.rows.iter().find(|row| {
            (row.reader.as_str(), row.frame.as_str(), row.open) == (reader, frame.name(), open)
                && row.house_kind == "all"
                && row.look == look
        })
    }

    /// The readers that a frame can tell of.
    fn readers(&self, frame: Frame) -> Vec<&str> {
        let has = |reader: &&String| {
            let of = |row: &&Row| row.reader == **reader && row.frame == frame.name();
            self.rows.iter().any(|row| of(&row))
        };
        self.head.readers.iter().filter(has).map(String::as_str).collect()
    }

    /// Draws both sides of each shape with so many open cells beside each other, for all readers.
    fn chart(
        &self,
        (frame, open): (Frame, u8),
        value: fn(&Row) -> Option<IntervalMark>,
        words: Words,
    ) -> Option<IntervalChart> {
        let readers = self.readers(frame);
        let shapes = || Shape::all_quiet().filter(|shape| shape.open() == open);
        let sides = |shape: Shape| [Look::naked(shape.naked()), Look::hidden(shape.hidden())];
        let mut best: Vec<Option<Look>> = Vec::new();
        for reader in &readers {
            let looks = shapes().flat_map(sides).flatten();
            let told = looks.filter_map(|look| {
                Some((look, value(self.row(reader, frame, look, open)?)?.value))
            });
            let told = told.min_by(|one, other| (words.better)(one.1, other.1));
            best.push(told.map(|(look, _)| look));
        }
        let rows: Vec<IntervalRow> = shapes()
            .flat_map(|shape| readers.iter().map(move |reader| (shape, reader)))
            .map(|(shape, reader)| IntervalRow {
                label: format!("naked {} | hidden {}, {reader}", shape.naked(), shape.hidden()),
                estimates: sides(shape)
                    .map(|look| self.row(reader, frame, look.ok()?, open).and_then(value))
                    .to_vec(),
            })
            .collect();
        if rows.iter().all(|row| row.estimates.iter().all(Option::is_none)) {
            return None;
        }
        let cells = format!("{} open cells", number_word(open));
        let title = match best.first().copied().flatten() {
            Some(look) if best.iter().all(|other| *other == Some(look)) => {
                (words.one)(&cells, &look.to_string())
            }
            _ => (words.several)(&cells),
        };
        let mut notes = words::origin(&self.head.notes);
        if rows.iter().any(|row| row.estimates.iter().any(Option::is_none)) {
            notes.push("–: too few finds to tell, or the look is not asked about.".to_owned());
        }
        let subtitle = format!(
            "{} in houses of {cells}, {}; {} intervals. {}. A model of effort with stated assumptions.",
            words.what,
            moment(frame),
            self.head.level,
            sentence_start(&words::puzzles(self.head.puzzles)),
        );
        let alt = format!(
            "Dots with intervals for each split and reader, naked and hidden side. {title}."
        );
        Some(IntervalChart {
            heading: Heading { title, subtitle, notes, alt },
            axis: words.axis,
            series: ["naked side", "hidden side"].map(str::to_owned).to_vec(),
            sides: true,
            rows,
            threshold: words.threshold,
        })
    }
}

/// The words of a chart, and which of two values is the better one.
struct Words {
    what: &'static str,
    one: fn(&str, &str) -> String,
    several: fn(&str) -> String,
    better: fn(f64, f64) -> std::cmp::Ordering,
    axis: Axis,
    threshold: Option<ReferenceLine>,
}

/// Says when looks are made.
fn moment(frame: Frame) -> &'static str {
    match frame {
        Frame::Every => "made in each at every quiet position of the full ladder's walk",
        Frame::Due => "made where the one-by-one walk comes to them",
        Frame::Present => "made only where such a split is, at the full ladder's quiet positions",
        Frame::Moving => "made in each at the quiet positions where the full ladder's walk goes on",
    }
}

/// What a find costs with so many open cells; `None` if the table tells of none.
#[must_use]
pub fn prices(table: &YieldTable, frame: Frame, open: u8) -> Option<IntervalChart> {
    let words = Words {
        what: "Glances spent on a look, in vain or not, for each find,",
        one: |cells, look| format!("With {cells} a find costs least by {look}, whoever reads"),
        several: |cells| format!("With {cells} it depends on the reader which find costs least"),
        better: |one, other| one.total_cmp(&other),
        axis: Axis::log("glances for each find", Unit::Number),
        threshold: Some(ReferenceLine {
            value: NOT_WORTH_IT,
            label: format!("{} glances", count(NOT_WORTH_IT as u64)),
        }),
    };
    table.chart((frame, open), Row::price, words)
}

/// How often a look finds something with so many open cells; `None` if the table tells of none.
#[must_use]
pub fn yields(table: &YieldTable, frame: Frame, open: u8) -> Option<IntervalChart> {
    let words = Words {
        what: "Share of looks that find something",
        one: |cells, look| format!("With {cells} {look} finds something most often"),
        several: |cells| {
            format!("With {cells} it depends on the reader which look finds most often")
        },
        better: |one, other| other.total_cmp(&one),
        axis: Axis::log("share of looks that find something", Unit::Percent),
        threshold: None,
    };
    table.chart((frame, open), Row::share, words)
}
