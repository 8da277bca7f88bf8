//! What times of people say, as text.

use tallyhouse_stats::{ENOUGH_PEOPLE, Limits};
use tallyhouse_words::{counted, list, p_value, rounded, sentence_start};

use super::{LeftOut, ReaderFit, TimingsReport, Told, name};

/// What each weight is for, as columns are headed.
const WEIGHTS: [&str; 4] = ["start of a look", "cell seen", "place gathered", "try"];

impl TimingsReport {
    /// What stands above the columns of [`TimingsReport::table`].
    pub const HEADS: [&str; 7] =
        ["reader", WEIGHTS[0], WEIGHTS[1], WEIGHTS[2], WEIGHTS[3], "off by", "worse than best"];

    /// Says what the last of these columns are.
    pub const NOTES: [&str; 2] = [
        "Off by: the factor by which a time of somebody who was left out of the fit typically differs from \
         what the weights of the others foretell.",
        "Worse than best: the one-sided p-value against its being off no more, with people as units, after \
         Holm's correction.",
    ];

    /// Returns the report as text, the finding first.
    #[must_use]
    pub fn text(&self) -> String {
        let finding = sentence_start(&self.finding());
        let (rows, table) = (self.rows_in_words(), self.text_table());
        let mut text = format!("{finding}.\n{rows}\n\n{table}\n");
        let remarks = self.remarks();
        let notes = Self::NOTES.into_iter().chain(remarks.iter().map(String::as_str));
        notes.for_each(|note| text += &format!("{note}\n"));
        text
    }

    /// Returns what was found, as a clause.
    #[must_use]
    pub fn finding(&self) -> String {
        let people = counted(self.people, "person", "people");
        let Some(best) = self.best().filter(|_| self.people >= ENOUGH_PEOPLE as u64) else {
            return format!("the times of {people} are too few to tell readers apart");
        };
        let others: Vec<&str> = self.as_good().map(|fit| fit.reader.as_str()).collect();
        if others.is_empty() {
            return format!("the reader {} explains the times of {people} best", best.reader);
        }
        format!(
            "the reader {} comes closest to the times of {people}, but they can't tell it from {}",
            best.reader,
            list(others)
        )
    }

    /// Says how many rows were used and why the others were not.
    #[must_use]
    pub fn rows_in_words(&self) -> String {
        let LeftOut { blank, gave_up, whole_boards, found_nothing_there } = self.left_out;
        let reasons = [
            (self.rejected, "rejected"),
            (blank, "not filled in"),
            (gave_up, "given up"),
            (whole_boards, "of whole boards"),
            (found_nothing_there, "with a find where there is none"),
        ];
        let left = reasons.iter().filter(|(rows, _)| *rows > 0);
        let left: Vec<String> = left.map(|(rows, why)| format!("{rows} {why}")).collect();
        let left =
            if left.is_empty() { String::new() } else { format!("; not used: {}", list(left)) };
        format!(
            "Used: {} of {} of {}, for {}{left}.",
            self.used,
            counted(self.rows, "row", "rows"),
            name(&self.times),
            counted(self.items_used, "item", "items")
        )
    }

    /// Says what the numbers of the table are.
    #[must_use]
    pub fn caption(&self) -> String {
        let interval = if self.people < ENOUGH_PEOPLE as u64 {
            String::new()
        } else {
            format!(
                "; in brackets {} intervals, by drawing people anew, for these items",
                self.level
            )
        };
        format!("Seconds of a person of mean pace{interval}")
    }

    /// Returns a row for each reader that is judged, below [`TimingsReport::HEADS`].
    #[must_use]
    pub fn table(&self) -> Vec<Vec<String>> {
        let judged = self.readers.iter().filter(|fit| fit.not_judged.is_none());
        let best = self.best().map(|best| best.reader.as_str());
        let row = |fit: &ReaderFit| {
            let told = match fit.p {
                Some(p) => p_value(p),
                None if best == Some(fit.reader.as_str()) => "best".to_owned(),
                None => "–".to_owned(),
            };
            let weights = fit.weights.iter().map(|weight| seconds(weight.seconds));
            let off = fit.off_by.map_or_else(|| "–".to_owned(), |off| format!("{off:.2}"));
            [fit.reader.clone()].into_iter().chain(weights).chain([off, told]).collect()
        };
        judged.map(row).collect()
    }

    /// Says which readers are not judged, and which weights the items don't tell.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        for fit in &self.readers {
            if let Some(why) = fit.not_judged {
                remarks.push(format!("Not judged: {}; {why}.", fit.reader));
            }
            let untold = fit.untold();
            if !untold.is_empty() {
                remarks.push(format!(
                    "Not identifiable for {}: {}.",
                    fit.reader,
                    untold.join("; ")
                ));
            }
        }
        remarks
    }

    fn text_table(&self) -> String {
        let mut rows = vec![Self::HEADS.map(str::to_owned).to_vec()];
        rows.extend(self.table());
        let width = |at: usize| rows.iter().map(|row| row[at].chars().count()).max();
        let widths = (0..Self::HEADS.len()).map(|at| width(at).unwrap_or_default());
        let widths: Vec<usize> = widths.collect();
        let line = |row: &Vec<String>| {
            let cells = row.iter().zip(&widths).enumerate().map(|(at, (cell, &width))| {
                if at == 0 { format!("{cell:<width$}") } else { format!("{cell:>width$}") }
            });
            format!("  {}\n", cells.collect::<Vec<_>>().join("  ").trim_end())
        };
        let lines: String = rows.iter().map(line).collect();
        format!("{}\n\n{lines}", self.caption())
    }
}

impl ReaderFit {
    /// Says of each weight that is not told why.
    fn untold(&self) -> Vec<String> {
        let untold =
            self.weights.iter().zip(WEIGHTS).filter_map(|(weight, of)| match weight.told {
                Told::Fitted | Told::NoUse => None,
                Told::NeverCounted => Some(format!("{of}, which no row has")),
                Told::GoesWithOthers => Some(format!("{of}, whose counts go with the others'")),
            });
        untold.collect()
    }
}

fn seconds(limits: Limits) -> String {
    match (limits.told(), limits.value) {
        (Some(told), _) => told.number(),
        (None, Some(value)) => rounded(value, 2),
        (None, None) => "–".to_owned(),
    }
}
