//! What a collection is like.

use serde_json::{Value, json};
use tallyhouse_analysis::{
    ClueRow, Description, MINIMAL_PUZZLES, describe, number_field, to_csv, value_fields,
};
use tallyhouse_document::{Block, Table};
use tallyhouse_stats::Level;
use tallyhouse_words::{Measured, count, counted, rounded};

use crate::ReportError;
use crate::cells::{NONE, column, interval_column, number, remark, share_cells, sorted, text};
use crate::chart_kind::Draw;
use crate::saving::Written;
use crate::study::StudyProgress;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};

fn clues_csv(description: &Description) -> Result<Vec<u8>, csv::Error> {
    let record = |row: &ClueRow| {
        let published = number_field(row.published_percent);
        (row.clues, row.puzzles, value_fields(row.share.as_ref()), published)
    };
    let header = "clues,puzzles,share,low,high,published_percent";
    to_csv(header, description.clues.iter().map(record))
}

/// The sections that say what each collection is like.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    Ok(study
        .collections
        .iter()
        .map(|one| Box::new(CollectionPart(one)) as Box<dyn AnyPart>)
        .collect())
}

struct CollectionPart<'a>(&'a Collected<'a>);

impl Part for CollectionPart<'_> {
    type Data = Description;

    fn name(&self) -> String {
        format!("collection-{}", self.0.collection.name)
    }

    fn title(&self) -> String {
        format!("The collection: {}", self.0.collection.title)
    }

    fn depends(&self) -> Result<Value, ReportError> {
        Ok(json!([self.0.digest, self.0.census.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Description>, ReportError> {
        let level = self.0.census.level;
        let bar = progress.stage("describing", "puzzles", None);
        let description = describe(self.0.sources.clone(), level, &*bar)?;
        let json = serde_json::to_string_pretty(&description)?;
        folder.write("description.json", json.as_bytes())?;
        let data = folder.write("clues.csv", &clues_csv(&description)?)?;
        let mut after =
            vec![Block::Table(clues_table(&self.0.collection.name, &description, &data, level))];
        if !description.notes.is_empty() {
            let notes = description.notes.join("; ");
            after.push(remark(format!("How it was made: {notes}.")));
        }
        Ok(Found {
            intro: intro(&description),
            before: Vec::new(),
            after,
            findings: Vec::new(),
            data: description,
        })
    }

    fn draw(
        &self,
        description: &Description,
        folder: &StageFolder<'_>,
    ) -> Result<Vec<Block>, ReportError> {
        folder.charts(|draw| match draw {
            Draw::Collection(draw) => Some(draw(description, &self.0.collection.title)),
            _ => None,
        })
    }
}

fn clues_table(name: &str, description: &Description, data: &Written, level: Level) -> Table {
    let rows = description.clues.iter().map(|row| {
        let [value, interval] = share_cells(row.share.as_ref());
        let published = row
            .published_percent
            .map_or_else(|| text(NONE), |percent| sorted(format!("{percent} %"), percent));
        vec![number(row.clues.into()), number(row.puzzles), value, interval, published]
    });
    Table {
        id: format!("clues-{name}"),
        caption: format!(
            "Clue counts of {}; published: all minimal puzzles, {}",
            counted(description.puzzles, "puzzle", "puzzles"),
            MINIMAL_PUZZLES.source
        ),
        columns: vec![
            column("clues", ""),
            column("puzzles", ""),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            interval_column(level),
            column("published", "share among all minimal puzzles"),
        ],
        rows: rows.collect(),
        file: Some(data.link()),
    }
}

fn intro(description: &Description) -> String {
    let mean = description.mean_clues.as_ref().map_or_else(String::new, |mean| {
        format!(
            "Clues: mean {}, standard deviation {}. ",
            Measured::from(*mean).number(),
            rounded(description.sd_clues, 3)
        )
    });
    let weighted = if description.weighted > 0 {
        format!(
            "{} puzzles carry weights, in {} families, worth {} independent draws. ",
            count(description.weighted),
            count(description.families),
            rounded(description.effective_size, 3)
        )
    } else {
        String::new()
    };
    format!(
        "{} in {}. {weighted}{mean}{} of {} are minimal; {} repeat an earlier \
         puzzle exactly and {} up to symmetry and relabelling; singles solve {}.",
        counted(description.puzzles, "valid puzzle", "valid puzzles"),
        counted(description.rows, "row", "rows"),
        count(description.minimal_puzzles),
        count(description.puzzles),
        count(description.repeated),
        count(description.equivalent),
        count(description.by_singles_puzzles)
    )
}
