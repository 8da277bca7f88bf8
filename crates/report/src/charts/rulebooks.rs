//! Rulebooks beside each other: what they cost each reader.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::compare::CompareReport;
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, ReferenceLine, Unit,
};
use tallyhouse_stats::{Estimate, Level};
use tallyhouse_words::{Measured, count, list, number_word, plural, sentence_start};

use super::folder::{check, read_json};
use super::words;
use crate::ReportError;

/// The file of a comparison's folder that the chart is drawn from.
pub const COMPARISON_FILE: &str = "compare.json";

/// Rulebooks on the same puzzles; the first is the base.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeadToHead {
    population: String,
    level: Level,
    puzzles: u64,
    clusters: u64,
    rulebooks: Vec<Book>,
}

/// What is read of a rulebook.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Book {
    name: String,
    solved: Solved,
    readers: Vec<Reader>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Solved {
    puzzles: u64,
}

/// What is read of what a reader pays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Reader {
    reader: String,
    /// None under the base.
    against_base: Option<Difference>,
    /// None too where there is no such puzzle.
    where_both_solve: Option<Difference>,
}

/// What is read of a difference; none if it is the same for every puzzle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Difference {
    more_glances_estimate: Option<Estimate>,
    relative_glances: Option<Estimate>,
}

impl Difference {
    fn is(&self, is_so: impl Fn(&Estimate) -> bool) -> bool {
        self.more_glances_estimate.is_some_and(|more| is_so(&more))
    }
}

impl HeadToHead {
    /// Takes the rulebooks from the report of a comparison.
    ///
    /// # Errors
    /// If the report can't be written down.
    pub fn of_report(report: &CompareReport) -> Result<Self, ReportError> {
        Ok(serde_json::from_value(serde_json::to_value(report)?)?)
    }

    /// Reads them from the folder of the command.
    ///
    /// # Errors
    /// If the folder holds no whole comparison.
    pub fn of_folder(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        read_json(folder, COMPARISON_FILE)
    }

    fn base(&self) -> &str {
        self.rulebooks.first().map_or("", |book| &book.name)
    }

    fn others(&self) -> &[Book] {
        self.rulebooks.get(1..).unwrap_or_default()
    }

    /// What was found of a single other rulebook, or what is asked of several.
    pub(crate) fn title(&self) -> String {
        let base = self.base();
        match self.others() {
            [other] => other.title(base),
            others => {
                let number = number_word(u8::try_from(others.len()).unwrap_or(u8::MAX));
                format!("What {number} rulebooks cost beside {base}")
            }
        }
    }

    /// A row for each reader, on all puzzles; of a single other rulebook also on those that both solve.
    fn rows(&self) -> Vec<IntervalRow> {
        let row = |name: String, difference: &Option<Difference>| {
            let ratio = difference.as_ref()?.relative_glances?;
            let more = Measured::from(ratio).plus(-1.0).times(100.0);
            let Measured { value, low, high } = more;
            let (count, of) = (self.clusters, self.puzzles);
            let label = more.number();
            let mark = IntervalMark { value, low, high, count, of, label, is_few: false };
            Some(IntervalRow { label: name, estimates: vec![Some(mark)] })
        };
        match self.others() {
            [other] => {
                let name = |reader: &Reader| sentence_start(&reader.reader);
                let all = other.readers.iter().filter_map(|r| row(name(r), &r.against_base));
                let solved = other.readers.iter().filter_map(|reader| {
                    let label = format!("{}, where both solve", name(reader));
                    row(label, &reader.where_both_solve)
                });
                all.chain(solved).collect()
            }
            others => {
                let of_book = |book: &Book| {
                    let label = |reader: &Reader| format!("{}: {}", book.name, reader.reader);
                    let rows = book.readers.iter().map(|r| row(label(r), &r.against_base));
                    rows.flatten().collect::<Vec<_>>()
                };
                others.iter().flat_map(of_book).collect()
            }
        }
    }

    /// Says that all cost the same where both solve, if it is so.
    fn alike_where_both_solve(&self) -> Option<String> {
        let [other] = self.others() else { return None };
        let mut solved = other.readers.iter().map(|reader| reader.where_both_solve.as_ref());
        let is_alike = solved.all(|more| more.is_some_and(|more| more.relative_glances.is_none()));
        is_alike.then(|| "Where both solve, every reader spends as many.".to_owned())
    }

    fn notes(&self) -> Vec<String> {
        let solved = self
            .rulebooks
            .iter()
            .map(|book| format!("{} solves {}", book.name, count(book.solved.puzzles)));
        let mut notes = vec![format!(
            "Of {} {}, {}. A walk that stops early costs less.",
            count(self.puzzles),
            plural(self.puzzles, "puzzle", "puzzles"),
            list(solved)
        )];
        notes.extend(self.alike_where_both_solve());
        notes.extend(words::few_puzzles(self.puzzles, "the intervals"));
        notes
    }
}

impl Book {
    /// Names the readers for whom the difference is shown to lie on one side of none.
    fn readers(&self, is_so: impl Fn(&Estimate) -> bool) -> Vec<&str> {
        let is_so =
            |reader: &&Reader| reader.against_base.as_ref().is_some_and(|more| more.is(&is_so));
        self.readers.iter().filter(is_so).map(|reader| reader.reader.as_str()).collect()
    }

    /// Tests if some puzzles are solved by both and no reader is shown to spend more or less there.
    fn is_alike_where_both_solve(&self) -> bool {
        let apart = |more: &Estimate| more.interval.high < 0.0 || more.interval.low > 0.0;
        let mut solved = self.readers.iter().map(|reader| reader.where_both_solve.as_ref());
        solved.all(|more| more.is_some_and(|more| !more.is(apart)))
    }

    fn title(&self, base: &str) -> String {
        let name = &self.name;
        let less = self.readers(|more| more.interval.high < 0.0);
        let more = self.readers(|more| more.interval.low > 0.0);
        let spend = |readers: &[&str], glances: &str| {
            let who = match readers {
                all if all.len() > 1 && all.len() == self.readers.len() => {
                    "every reader spends".to_owned()
                }
                [one] => format!("{one} spends"),
                some => format!("{} spend", list(some)),
            };
            let but = match self.is_alike_where_both_solve() {
                true => ", but not where both solve",
                false => "",
            };
            sentence_start(&format!("{who} {glances} glances with {name} than with {base}{but}"))
        };
        match (less.as_slice(), more.as_slice()) {
            ([], []) => format!("No difference in glances is shown between {name} and {base}"),
            (less, []) => spend(less, "fewer"),
            ([], more) => spend(more, "more"),
            _ => format!("Whether {name} saves glances beside {base} depends on the reader"),
        }
    }
}

/// Draws what each rulebook costs each reader, for what the base costs; none if all cost the same.
#[must_use]
pub fn rulebooks(all: &HeadToHead) -> Option<IntervalChart> {
    let rows = all.rows();
    if rows.is_empty() {
        return None;
    }
    let (title, base) = (all.title(), all.base());
    let told = rows.iter().filter_map(|row| {
        let mark = row.estimates.first()?.as_ref()?;
        Some(format!("{} {}", row.label, mark.label))
    });
    let alt = format!("{title}. Per cent more glances than with {base}: {}.", list(told));
    let subtitle = format!(
        "{}: mean glances per puzzle, solved or not, beside those with {base}; {}, walked one by one, {} \
         intervals.",
        sentence_start(&all.population),
        words::puzzles_in(all.puzzles, all.clusters),
        all.level
    );
    Some(IntervalChart {
        heading: Heading { title, subtitle, notes: all.notes(), alt },
        axis: Axis::linear(&format!("per cent more glances than with {base}"), Unit::Number),
        series: vec!["reader".to_owned()],
        sides: false,
        looks_from: 0,
        rows,
        threshold: Some(ReferenceLine { value: 0.0, label: "as many".to_owned() }),
        ways: Some(["fewer glances", "more glances"].map(str::to_owned)),
        worth: Vec::new(),
        beside: vec!["Beside the mark: the number with its interval.".to_owned()],
    })
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// A rulebook whose differences for each reader have these ends.
    fn head_to_head(ends: &[[f64; 2]], solved: &serde_json::Value) -> HeadToHead {
        let estimate = |[low, high]: [f64; 2]| {
            let interval = json!({ "low": low, "high": high });
            let value = f64::midpoint(low, high);
            json!({ "value": value, "interval": interval, "level": Level::default(),
                    "method": "linearised-ratio" })
        };
        let reader = |(name, ends): (&str, &[f64; 2])| {
            let relative = ends.map(|end| 1.0 + end / 1000.0);
            let difference = json!({
                "more_glances_estimate": estimate(*ends), "relative_glances": estimate(relative),
            });
            json!({ "reader": name, "against_base": difference, "where_both_solve": solved })
        };
        let names = ["marking", "sharing", "unmarked"];
        let readers: Vec<_> = names.into_iter().zip(ends).map(reader).collect();
        let bare = names
            .map(|name| json!({ "reader": name, "against_base": null, "where_both_solve": null }));
        let all = json!({
            "population": "puzzles by hand", "level": Level::default(), "puzzles": 2000,
            "clusters": 500, "rulebooks": [
                { "name": "old", "solved": { "puzzles": 1500 }, "readers": bare },
                { "name": "new", "solved": { "puzzles": 1400 }, "readers": readers },
            ],
        });
        serde_json::from_value(all).unwrap()
    }

    #[test]
    fn the_title_says_who_spends_less() {
        let (none, alike) = (
            serde_json::Value::Null,
            json!({ "more_glances_estimate": null, "relative_glances": null }),
        );
        let of = |ends: &[[f64; 2]], solved| rulebooks(&head_to_head(ends, solved)).unwrap();
        let title = |ends: &[[f64; 2]]| of(ends, &none).heading.title;
        let [less, more, open] = [[-30.0, -10.0], [5.0, 20.0], [-10.0, 10.0]];
        assert_eq!(title(&[less; 3]), "Every reader spends fewer glances with new than with old");
        assert_eq!(title(&[more, open]), "Marking spends more glances with new than with old");
        assert_eq!(
            title(&[less, less, open]),
            "Marking and sharing spend fewer glances with new than with old"
        );
        assert_eq!(
            title(&[less, more]),
            "Whether new saves glances beside old depends on the reader"
        );
        assert_eq!(title(&[open]), "No difference in glances is shown between new and old");
        let chart = of(&[less], &alike);
        assert_eq!(
            chart.heading.title,
            "Marking spends fewer glances with new than with old, but not where both solve"
        );
        assert_eq!(chart.heading.notes[1], "Where both solve, every reader spends as many.");
        let difference = serde_json::to_value(head_to_head(&[less], &none)).unwrap();
        let difference = &difference["rulebooks"][1]["readers"][0]["against_base"];
        let chart = of(&[less], difference);
        assert_eq!(chart.rows[1].label, "Marking, where both solve");
        assert_eq!(chart.heading.title, "Marking spends fewer glances with new than with old");
    }

    #[test]
    fn the_words_have_their_denominators() {
        let chart = rulebooks(&head_to_head(&[[-30.0, -10.0]], &json!(null))).unwrap();
        let heading = &chart.heading;
        assert!(heading.subtitle.contains("2,000 puzzles in 500 families"), "{heading:?}");
        assert!(
            heading.notes[0].contains("Of 2,000 puzzles, old solves 1,500 and new solves 1,400.")
        );
        assert_eq!(chart.rows[0].estimates[0].as_ref().unwrap().count, 500);
        assert_eq!(rulebooks(&head_to_head(&[], &json!(null))), None);
    }
}
