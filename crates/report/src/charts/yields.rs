//! What looks yield and what their finds cost, for all readers.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::Coverage;
use tallyhouse_analysis::yields::{Frame, YieldHead, YieldReport};
use tallyhouse_census::CensusError;
use tallyhouse_engine::{Look, Order, Shape};
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, ReferenceLine, Unit,
};
use tallyhouse_stats::Limits;
use tallyhouse_storage::{MANIFEST, read_sealed};
use tallyhouse_words::{Measured, count, list, number_word, over, sentence_start, under_share};

use super::folder::check;
use super::words;
use crate::ReportError;

/// The glances for a find above which a look is not worth making, if nothing else is said.
const NOT_WORTH_IT: f64 = 1000.0;

/// What looks yield, as the command for that wrote it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct YieldTable {
    head: YieldHead,
    rows: Vec<Row>,
}

/// A row of `yields.csv`.
#[derive(Clone, Debug, Serialize, Deserialize)]
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
    /// The price; where it has no upper end, the lower one alone.
    fn price(&self) -> Option<IntervalMark> {
        let price = Limits { value: self.price, low: self.price_low, high: self.price_high };
        match (price.told(), price.low) {
            (Some(price), _) => Some(self.mark(price, price.number_value())),
            (None, Some(low)) => {
                let bound = Measured { value: low, low, high: f64::INFINITY };
                Some(self.mark(bound, price_words(price)))
            }
            (None, None) => None,
        }
    }

    /// The yield; where it has no lower end, the upper one alone.
    fn share(&self) -> Option<IntervalMark> {
        let share = Limits { value: self.share, low: self.yield_low, high: self.yield_high };
        match (share.told(), share.high) {
            (Some(share), _) => Some(self.mark(share, share.percent_value())),
            (None, Some(high)) => {
                let bound = Measured { value: 0.0, low: 0.0, high };
                let words = if self.finds == 0 { "none".to_owned() } else { share_words(share) };
                Some(self.mark(bound, words))
            }
            (None, None) => None,
        }
    }

    fn mark(&self, told: Measured, label: String) -> IntervalMark {
        let (count, of) = (self.finds, self.made);
        let Measured { value, low, high } = told;
        IntervalMark { value, low, high, count, of, label, is_few: false }
    }
}

/// Writes a share with its interval; of few finds only what it is at most.
pub(crate) fn share_words(limits: Limits) -> String {
    match (limits.told(), limits.high) {
        (Some(share), _) => share.percent(),
        (None, Some(high)) => under_share(high),
        (None, None) => NONE.to_owned(),
    }
}

/// Writes a price with its interval; of few finds only what it is at least.
pub(crate) fn price_words(limits: Limits) -> String {
    match (limits.told(), limits.low) {
        (Some(price), _) => price.number(),
        (None, Some(low)) => over(low),
        (None, None) => NONE.to_owned(),
    }
}

/// What stands where nothing can be told.
const NONE: &str = "–";

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
        let mut table = Self { head, rows: Vec::new() };
        for name in YieldReport::TABLES {
            let path = folder.join(name);
            let bytes = std::fs::read(&path).map_err(|error| damaged(&path, error.to_string()))?;
            table.add(&bytes).map_err(|error| damaged(&path, error.to_string()))?;
        }
        Ok(table)
    }

    /// Takes what was just counted.
    ///
    /// # Errors
    /// If a file does not read as a table of yields.
    pub(crate) fn of_files(head: YieldHead, files: &[(&str, Vec<u8>)]) -> Result<Self, csv::Error> {
        let mut table = Self { head, rows: Vec::new() };
        let of_yields = files.iter().filter(|(name, _)| YieldReport::TABLES.contains(name));
        of_yields.into_iter().try_for_each(|(_, bytes)| table.add(bytes))?;
        Ok(table)
    }

    fn add(&mut self, bytes: &[u8]) -> Result<(), csv::Error> {
        for row in csv::Reader::from_reader(bytes).deserialize() {
            self.rows.push(row?);
        }
        Ok(())
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

    /// What a reader's look gets with so many open cells. What comes too late for its splits says nothing of
    /// the look.
    fn mark(
        &self,
        reader: &str,
        (frame, open): (Frame, u8),
        look: Look,
        value: fn(&Row) -> Option<IntervalMark>,
    ) -> Option<IntervalMark> {
        let row = self.row(reader, frame, look, open);
        row.filter(|_| !self.is_taken(frame, look, open)).and_then(value)
    }

    /// Says which look is best with so many open cells, and for whom: for those readers of whom the data
    /// tell, as long as they don't tell different looks.
    fn best(&self, at: (Frame, u8), words: &Words) -> Option<String> {
        let readers = self.readers(at.0);
        let of = |reader: &str| {
            let looks = looks_of(at.1).into_iter();
            let marks =
                looks.filter_map(|look| Some((look, self.mark(reader, at, look, words.value)?)));
            clear_best(marks, words.less_is_better)
        };
        let told = readers.iter().filter_map(|reader| Some((*reader, of(reader)?)));
        let told: Vec<(&str, Look)> = told.collect();
        let &(_, best) = told.first()?;
        if told.iter().any(|(_, look)| *look != best) {
            return None;
        }
        let name = words::find_by(&best.everywhere().to_string()).0;
        let for_whom = match told.len() == readers.len() {
            true => words.for_all.to_owned(),
            false => format!(" for {}", list(told.iter().map(|(reader, _)| reader))),
        };
        Some(format!("a {name} {}{for_whom}", words.is_best))
    }

    /// Draws both sides of each shape with so many open cells beside each other, for all readers.
    fn chart(&self, (frame, open): (Frame, u8), words: Words) -> Option<IntervalChart> {
        let readers = self.readers(frame);
        let shapes: Vec<Shape> = Shape::all_quiet().filter(|shape| shape.open() == open).collect();
        let sides = |shape: Shape| [Look::naked(shape.naked()), Look::hidden(shape.hidden())];
        let looks = looks_of(open);
        let mut rows = Vec::new();
        for shape in shapes {
            let of = |reader: &&str| {
                sides(shape)
                    .map(|look| self.mark(reader, (frame, open), look.ok()?, words.value))
                    .to_vec()
            };
            let label = format!("naked {} | hidden {}", shape.naked(), shape.hidden());
            let of_readers: Vec<_> = readers.iter().map(of).collect();
            // What is the same for all readers stands once.
            let are_same = of_readers.iter().all(|marks| *marks == of_readers[0]);
            for (reader, estimates) in readers.iter().zip(of_readers) {
                if are_same {
                    rows.push(IntervalRow { label, estimates });
                    break;
                }
                rows.push(IntervalRow { label: format!("{label}, {reader}"), estimates });
            }
        }
        if rows.iter().all(|row| row.estimates.iter().all(Option::is_none)) {
            return None;
        }
        let cells = format!("{} open cells", number_word(open));
        let title = match self.best((frame, open), &words) {
            Some(best) => format!("With {cells} {best}"),
            None => (words.question)(&cells),
        };
        let mut notes = words::origin(&self.head.notes);
        notes.extend(self.notes((frame, open), &looks, words.value));
        let subtitle = format!(
            "{} in houses of {cells}, {}; {} intervals. {}.{}",
            words.what,
            moment(frame),
            self.head.level,
            sentence_start(&words::puzzles(self.head.puzzles)),
            words.caution,
        );
        let alt = format!(
            "{title}{} Dots with intervals for each split and reader, naked and hidden side.",
            if title.ends_with('?') { "" } else { "." }
        );
        Some(IntervalChart {
            heading: Heading { title, subtitle, notes, alt },
            axis: words.axis,
            series: ["naked side", "hidden side"].map(str::to_owned).to_vec(),
            sides: true,
            looks_from: 0,
            rows,
            threshold: words.threshold,
            ways: None,
            worth: Vec::new(),
            beside: Vec::new(),
        })
    }
}

impl YieldTable {
    /// Tests if an earlier look of the walk takes all that a look could find.
    fn is_taken(&self, frame: Frame, look: Look, open: u8) -> bool {
        let order: Option<Order> = self.head.looks.parse().ok().filter(|_| frame == Frame::Due);
        order.is_some_and(|order| Coverage::forestalls(&order, look, open))
    }

    /// Says what it means where a mark is none, a bound or missing.
    fn notes(
        &self,
        (frame, open): (Frame, u8),
        looks: &[Look],
        value: fn(&Row) -> Option<IntervalMark>,
    ) -> Vec<String> {
        let readers = self.readers(frame);
        let made = |look: &Look| -> Vec<&Row> {
            let rows = readers.iter().filter_map(|reader| self.row(reader, frame, *look, open));
            rows.filter(|row| row.made > 0).collect()
        };
        let (taken, looks): (Vec<&Look>, Vec<&Look>) =
            looks.iter().partition(|look| self.is_taken(frame, **look, open));
        let taken = taken.into_iter().filter(|look| !made(look).is_empty());
        let taken: Vec<String> = taken.map(Look::to_string).collect();
        let mut notes = Vec::new();
        if !taken.is_empty() {
            let names = list(taken);
            notes.push(format!("No mark for {names}: an earlier look takes such splits."));
        }
        let rows: Vec<&Row> = looks.iter().flat_map(|look| made(look)).collect();
        let is_bound = |mark: IntervalMark| mark.low == 0.0 || mark.high.is_infinite();
        if rows.iter().filter_map(|row| value(row)).any(is_bound) {
            notes
                .push("Hollow mark with an arrow: few finds; the number lies that way.".to_owned());
        }
        let mut unmarked = Vec::new();
        if looks.iter().any(|look| made(look).is_empty()) {
            let walk = frame == Frame::Due;
            unmarked.push(if walk {
                "the walk does not make the look"
            } else {
                "the look is not made"
            });
        }
        if rows.iter().any(|row| value(row).is_none()) {
            unmarked.push("too few finds to tell");
        }
        if !unmarked.is_empty() {
            notes.push(format!("No mark: {}.", unmarked.join(", or ")));
        }
        notes
    }
}

/// The looks for the sides of all splits of so many open cells.
fn looks_of(open: u8) -> Vec<Look> {
    let shapes = Shape::all_quiet().filter(|shape| shape.open() == open);
    let sides = |shape: Shape| [Look::naked(shape.naked()), Look::hidden(shape.hidden())];
    shapes.flat_map(sides).flatten().collect()
}

/// Returns the look whose value is better than all others, of which there are some, clear of their
/// intervals.
fn clear_best(
    looks: impl Iterator<Item = (Look, IntervalMark)>,
    less_is_better: bool,
) -> Option<Look> {
    let looks: Vec<_> = looks.collect();
    let is_clear = |one: &IntervalMark, other: &IntervalMark| {
        if less_is_better { one.high < other.low } else { one.low > other.high }
    };
    let beats_all = |(look, mark): &&(Look, IntervalMark)| {
        looks.iter().all(|(other, of_other)| other == look || is_clear(mark, of_other))
    };
    looks.iter().filter(|_| looks.len() > 1).find(beats_all).map(|(look, _)| *look)
}

/// The words of a chart.
struct Words {
    what: &'static str,
    value: fn(&Row) -> Option<IntervalMark>,
    /// What is said of the best look.
    is_best: &'static str,
    /// What is said where that holds for all readers.
    for_all: &'static str,
    question: fn(&str) -> String,
    less_is_better: bool,
    caution: &'static str,
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

fn of_prices() -> Words {
    Words {
        what: "Glances spent on a look, in vain or not, for each find,",
        value: Row::price,
        is_best: "is the cheapest find",
        for_all: ", whoever reads",
        question: |cells| format!("What does a find cost with {cells}?"),
        less_is_better: true,
        caution: " A model of effort with stated assumptions.",
        axis: Axis::log("glances for each find", Unit::Number),
        threshold: Some(ReferenceLine {
            value: NOT_WORTH_IT,
            label: format!("not worth it beyond {} glances", count(NOT_WORTH_IT as u64)),
        }),
    }
}

/// What a find costs with so many open cells; `None` if the table tells of none.
#[must_use]
pub fn prices(table: &YieldTable, frame: Frame, open: u8) -> Option<IntervalChart> {
    table.chart((frame, open), of_prices())
}

/// Says which find is the cheapest with so many open cells, and for whom; `None` if the data don't tell.
pub(crate) fn cheapest(table: &YieldTable, frame: Frame, open: u8) -> Option<String> {
    table.best((frame, open), &of_prices())
}

/// How often a look finds something with so many open cells; `None` if the table tells of none.
#[must_use]
pub fn yields(table: &YieldTable, frame: Frame, open: u8) -> Option<IntervalChart> {
    let words = Words {
        what: "Share of looks that find something",
        value: Row::share,
        is_best: "is found most often",
        for_all: "",
        question: |cells| format!("How often does a look find something with {cells}?"),
        less_is_better: false,
        caution: "",
        axis: Axis::log("share of looks that find something", Unit::Percent),
        threshold: None,
    };
    table.chart((frame, open), words)
}

#[cfg(test)]
mod tests {
    use tallyhouse_figures::{Figure, Theme, Width};

    use super::*;

    fn table(prices: &[(&str, &str, f64)]) -> YieldTable {
        let head = serde_json::json!({
            "kind": "yields", "schema_version": 1, "tool": "", "sources": [], "blake3": "", "notes": [],
            "looks": "naked 2", "readers": ["marking", "unmarked"], "level": 95.0, "rows": 9,
            "puzzles": 9, "clusters": 9, "positions": 9,
        });
        let row = |&(reader, look, price): &(&str, &str, f64)| Row {
            reader: reader.to_owned(),
            frame: "due".to_owned(),
            look: look.to_owned(),
            open: 4,
            house_kind: "all".to_owned(),
            made: 1000,
            finds: 100,
            share: Some(0.1),
            yield_low: Some(0.08),
            yield_high: Some(0.12),
            price: Some(price),
            price_low: Some(price * 0.9),
            price_high: Some(price * 1.1),
        };
        let head = serde_json::from_value(head).unwrap();
        YieldTable { head, rows: prices.iter().map(row).collect() }
    }

    fn drawn(chart: Option<IntervalChart>) -> (String, Vec<String>) {
        let chart = chart.unwrap();
        chart.draw(Theme::Light, Width::Column).unwrap();
        (chart.heading.title, chart.rows.into_iter().map(|row| row.label).collect())
    }

    #[test]
    fn a_title_tells_only_what_is_clear_for_all_readers() {
        let clear = table(&[
            ("marking", "naked 2", 10.0),
            ("marking", "hidden 2", 30.0),
            ("unmarked", "naked 2", 40.0),
            ("unmarked", "hidden 2", 60.0),
        ]);
        let (title, rows) = drawn(prices(&clear, Frame::Due, 4));
        assert_eq!(title, "With four open cells a naked pair is the cheapest find, whoever reads");
        assert_eq!(rows, ["naked 2 | hidden 2, marking", "naked 2 | hidden 2, unmarked"]);
        let unclear = table(&[
            ("marking", "naked 2", 10.0),
            ("marking", "hidden 2", 11.0),
            ("unmarked", "naked 2", 40.0),
        ]);
        let (title, _) = drawn(prices(&unclear, Frame::Due, 4));
        assert_eq!(title, "What does a find cost with four open cells?");
        // The same for all readers.
        let (title, rows) = drawn(yields(&clear, Frame::Due, 4));
        assert_eq!(title, "How often does a look find something with four open cells?");
        assert_eq!(rows, ["naked 2 | hidden 2"]);
        for (frame, open) in [(Frame::Every, 4), (Frame::Due, 5)] {
            assert!(prices(&clear, frame, open).is_none() && yields(&clear, frame, open).is_none());
        }
    }

    /// A number and its mark are what the table says.
    #[test]
    fn where_one_end_alone_is_known_it_is_drawn() {
        let mut table = table(&[("marking", "naked 2", 10.0)]);
        let row = &mut table.rows[0];
        (row.yield_low, row.price_high) = (None, None);
        let share = row.share().unwrap();
        assert_eq!((share.low, share.high, share.label.as_str()), (0.0, 0.12, "under 12 %"));
        let price = row.price().unwrap();
        assert_eq!((price.value, price.high, price.label.as_str()), (9.0, f64::INFINITY, "over 9"));
        (row.yield_high, row.price_low) = (None, None);
        assert!(row.share().is_none() && row.price().is_none());
    }

    #[test]
    fn notes_tell_why_a_look_finds_nothing() {
        let mut table = table(&[("marking", "naked 2", 10.0), ("marking", "hidden 2", 30.0)]);
        table.head.looks = Order::ladder().to_string();
        let row = &mut table.rows[1];
        (row.finds, row.share, row.yield_low, row.yield_high) = (0, Some(0.0), None, Some(0.001));
        (row.price, row.price_low, row.price_high) = (None, Some(1234.0), None);
        let chart = prices(&table, Frame::Due, 4).unwrap();
        let notes = &chart.heading.notes;
        assert_eq!(*notes, ["No mark for hidden 2: an earlier look takes such splits."]);
        // Nothing is left to compare with.
        assert!(chart.heading.title.ends_with('?'));
        assert!(chart.rows[0].estimates[1].is_none());
        table.head.looks = "naked 1, hidden 1, hidden 2, naked 2".to_owned();
        let row = &mut table.rows[0];
        (row.price, row.price_low, row.price_high) = (Some(50.0), Some(40.0), Some(60.0));
        let notes = prices(&table, Frame::Due, 4).unwrap().heading.notes;
        assert!(notes[0].starts_with("No mark for naked 2"), "{notes:?}");
        assert!(notes[1].starts_with("Hollow mark with an arrow"), "{notes:?}");
        table.rows[1].price_low = None;
        let notes = prices(&table, Frame::Due, 4);
        assert!(notes.is_none());
    }
}
