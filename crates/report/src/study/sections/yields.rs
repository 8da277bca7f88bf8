//! What looks yield, and what their finds cost.

use serde_json::{Value, json};
use tallyhouse_analysis::yields::{Frame, Yield, YieldHead, YieldReport, YieldSettings, yields};
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_collection::Rejects;
use tallyhouse_document::{Block, Cell, Column, Table};
use tallyhouse_stats::Limits;
use tallyhouse_words::{Measured, counted, list, list_or, number_word};

use crate::ReportError;
use crate::cells::{NONE, column, number, remark, text, words};
use crate::chart_kind::Draw;
use crate::charts::{YieldTable, cheapest, price_words, share_words};
use crate::saving::Written;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe, StudyYields};

/// The open counts of houses that can be split into sides of two and more.
const OPEN: std::ops::RangeInclusive<u8> = 4..=9;

/// The section that says what looks yield.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let part = |wanted: &'a StudyYields| -> Result<Box<dyn AnyPart>, ReportError> {
        let collected = &study.collections[wanted.collection];
        let names: Vec<&str> = match wanted.readers.as_slice() {
            [] => ReaderFile::built_in().collect(),
            readers => readers.iter().map(String::as_str).collect(),
        };
        let readers = names.into_iter().map(ReaderFile::load).collect::<Result<_, _>>()?;
        let rulebook = wanted.rulebook.as_deref().map(Rulebook::load).transpose()?;
        let looks = rulebook.map(|rulebook| rulebook.order().clone());
        let settings = YieldSettings { readers, looks, level: recipe.level };
        Ok(Box::new(YieldPart { recipe, collected, settings }))
    };
    recipe.yields.iter().map(part).collect()
}

struct YieldPart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
    settings: YieldSettings,
}

impl Part for YieldPart<'_> {
    type Data = YieldTable;

    fn name(&self) -> String {
        "yields".to_owned()
    }

    fn title(&self) -> String {
        "What looks yield, and what a find costs".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let readers = format!("{:?}", self.settings.readers);
        let looks = self.settings.order().to_string();
        let asked = self.settings.looks.is_some();
        Ok(json!([self.collected.digest, readers, looks, asked, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<YieldTable>, ReportError> {
        let bar = progress.stage("looking", "puzzles", None);
        let sources = self.collected.sources.clone();
        let names = sources.iter().map(|source| source.name().to_owned()).collect();
        // Which rows are rejected, the scan of the collection has said.
        let mut rejects = Rejects::in_file(&sources, folder.path.join("rejects.csv"));
        let report = yields(&self.settings, sources.clone(), &mut rejects, &*bar)?;
        let files = report.files()?;
        let written = files.iter().map(|(name, bytes)| folder.write(name, bytes));
        let written: Vec<Written> = written.collect::<Result<_, _>>()?;
        let head = YieldHead::of(&self.settings, names, &report);
        let table = YieldTable::of_files(head, &files)?;
        Ok(self.found(&report, table, &written))
    }

    fn draw(
        &self,
        table: &YieldTable,
        folder: &StageFolder<'_>,
    ) -> Result<Vec<Block>, ReportError> {
        let mut blocks = Vec::new();
        for open in OPEN {
            let name = |kind: crate::ChartKind| format!("{}-{open}-open", kind.name());
            blocks.extend(folder.named_charts(name, |draw| match draw {
                Draw::Yields(draw) => Some(draw(table, Frame::Due, open)),
                _ => None,
            })?);
        }
        Ok(blocks)
    }
}

impl YieldPart<'_> {
    fn found(
        &self,
        report: &YieldReport,
        table: YieldTable,
        written: &[Written],
    ) -> Found<YieldTable> {
        let finding = |words| Finding {
            leads: true,
            collection: Some(self.collected.collection.name.clone()),
            words,
        };
        Found {
            intro: format!(
                "The price of a find is all glances spent on a look, in vain or not, divided by its finds; \
                 the yield is the share of looks that find something. Looks are made here where \
                 the one-by-one walk of {} comes to them: through rows, columns and boxes, and after each \
                 find from the top again. {} with {}.",
                self.settings.order(),
                counted(report.puzzles, "puzzle", "puzzles"),
                counted(report.positions, "quiet position", "quiet positions"),
            ),
            before: vec![remark(
                "Readers are models of the person who searches, with stated assumptions: what is \
                 written down, what is remembered, what a glance costs. The data hold two more frames: \
                 looks made in every house at each quiet position, and only where something is to be \
                 found.",
            )],
            after: [(Self::table as fn(&Self, _, _) -> _, 0), (Self::when_to_stop, 2)]
                .into_iter()
                .filter_map(|(table, file)| Some(table(self, report, written.get(file)?)))
                .map(Block::Table)
                .collect(),
            findings: naked_pairs(report)
                .into_iter()
                .chain(cheapest_finds(&table))
                .map(finding)
                .collect(),
            data: table,
        }
    }

    fn table(&self, report: &YieldReport, written: &Written) -> Table {
        let readers: Vec<&str> =
            self.settings.readers.iter().map(|reader| reader.name.as_str()).collect();
        let due: Vec<&Yield> = report
            .yields
            .iter()
            .filter(|row| row.frame == Frame::Due && row.house_kind == "all")
            .collect();
        let mut first: Vec<&&Yield> =
            due.iter().filter(|row| readers.first() == Some(&row.reader.as_str())).collect();
        first.sort_by_key(|row| row.open);
        let rows = first.iter().filter(|row| row.made > 0).map(|row| {
            let mut cells = vec![
                number(row.open.into()),
                text(row.look.to_string()),
                number(row.made),
                number(row.finds),
                share(row.share),
            ];
            cells.extend(readers.iter().map(|reader| {
                let same = due.iter().find(|other| {
                    (other.reader.as_str(), other.look, other.open) == (*reader, row.look, row.open)
                });
                same.map_or_else(|| text(NONE), |same| price(same.price))
            }));
            cells
        });
        let of_reader =
            |reader: &&str| column(&format!("price, {reader}"), "glances for each find");
        let mut columns: Vec<Column> = vec![
            column("open", "open cells of the house"),
            words("look", ""),
            column(
                "made",
                &format!("how often {} makes the look", readers.first().unwrap_or(&"a reader")),
            ),
            column("finds", "how often it found something"),
            column("yield", "finds by times made, with interval"),
        ];
        columns.extend(readers.iter().map(of_reader));
        Table {
            id: "yields-table".to_owned(),
            caption: format!(
                "Looks where they are due, in houses of every kind: {} of {}; {} intervals; prices of {}",
                counted(report.positions, "quiet position", "quiet positions"),
                counted(report.puzzles, "puzzle", "puzzles"),
                self.settings.level,
                list(readers.iter().copied()),
            ),
            columns,
            rows: rows.collect(),
            file: Some(written.link()),
        }
    }
}

/// Says how often a look for a naked pair finds something where it is due, and what a find costs each
/// reader: the least and the greatest over the open counts of which the data tell both limits.
fn naked_pairs(report: &YieldReport) -> Option<String> {
    let is_asked = |row: &&Yield| {
        row.frame == Frame::Due
            && row.house_kind == "all"
            && row.look.to_string().starts_with("naked 2")
    };
    let rows = report.yields.iter().filter(is_asked);
    let rows: Vec<(&str, Measured, Measured)> = rows
        .filter_map(|row| Some((row.reader.as_str(), row.share.told()?, row.price.told()?)))
        .collect();
    let ends = |of: &[Measured]| {
        let least = of.iter().min_by(|a, b| a.value.total_cmp(&b.value))?.number_in_prose();
        let most = of.iter().max_by(|a, b| a.value.total_cmp(&b.value))?.number_in_prose();
        Some(if least == most { least } else { format!("{least} to {most}") })
    };
    let shares: Vec<Measured> = rows.iter().map(|(_, share, _)| share.times(100.0)).collect();
    let mut readers: Vec<&str> = rows.iter().map(|(reader, ..)| *reader).collect();
    readers.dedup();
    let prices = readers.iter().map(|&reader| {
        let of = rows.iter().filter(|(other, ..)| *other == reader);
        Some(format!("{} for {reader}", ends(&of.map(|(.., price)| *price).collect::<Vec<_>>())?))
    });
    Some(format!(
        "of 100 looks for a naked pair that are due {} find something, by the number of open cells; in \
         glances a find costs {}",
        ends(&shares)?,
        list(prices.collect::<Option<Vec<String>>>()?)
    ))
}

/// Says what the cheapest find is, where the data tell, with the open counts of which the same is said
/// together.
fn cheapest_finds(table: &YieldTable) -> Vec<String> {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for open in OPEN {
        let Some(words) = cheapest(table, Frame::Due, open) else { continue };
        match told.iter_mut().find(|(known, _)| *known == words) {
            Some((_, opens)) => opens.push(number_word(open)),
            None => told.push((words, vec![number_word(open)])),
        }
    }
    let clause = |(words, opens): &(String, Vec<String>)| {
        format!("with {} open cells {words}", list_or(opens))
    };
    told.iter().map(clause).collect()
}

impl YieldPart<'_> {
    /// What follows finds and failures, for the readers without memory: they take the same walk.
    fn when_to_stop(&self, report: &YieldReport, written: &Written) -> Table {
        let reader = self.settings.readers.first().map(|reader| &reader.name);
        let rows = report.when_to_stop().map(|row| {
            vec![
                text(row.look.to_string()),
                number(row.finds),
                share(row.share),
                price(row.price),
                number(row.failed),
                share(row.later),
            ]
        });
        Table {
            id: "when-to-stop-table".to_owned(),
            caption: format!(
                "When to stop: what follows the finds and the failures of each look where it is due, over all \
                 open counts; {} of {}; {} intervals; made and paid for by {}",
                counted(report.positions, "quiet position", "quiet positions"),
                counted(report.puzzles, "puzzle", "puzzles"),
                self.settings.level,
                reader.map_or("nobody", |name| name),
            ),
            columns: vec![
                words("look", ""),
                column("finds", "how often it found something"),
                column("then a single", "finds that alone bring a naked or hidden single"),
                column(
                    "price of such a find",
                    "all glances on the look by finds that bring a single",
                ),
                column("failed everywhere", "positions where it failed in all its houses"),
                column("then a later find", "of these, where a later look finds something"),
            ],
            rows: rows.collect(),
            file: Some(written.link()),
        }
    }
}

/// A share, sorted by what is known of it.
fn share(limits: Limits) -> Cell {
    limit_cell(share_words(limits), limits.value.filter(|_| limits.low.is_some()).or(limits.high))
}

/// A price, sorted by what is known of it.
fn price(limits: Limits) -> Cell {
    limit_cell(price_words(limits), limits.value.filter(|_| limits.high.is_some()).or(limits.low))
}

fn limit_cell(words: String, by: Option<f64>) -> Cell {
    Cell { text: words, sort: by, id: None }
}
