//! What occurs.

use serde_json::{Value, json};
use tallyhouse_analysis::{LookShare, LookShares, Occurrence, look_shares_csv, shares_csv};
use tallyhouse_census::{Manifest, Moment, Totals};
use tallyhouse_document::{Block, Cell, Table};
use tallyhouse_engine::Order;
use tallyhouse_stats::{Estimate, Level};
use tallyhouse_words::{Measured, count, counted, share_of};

use super::in_short::in_short;
use crate::ReportError;
use crate::cells::{
    NONE, column, interval_column, limit_cells, number, remark, share_cells, text, warning, words,
};
use crate::chart_kind::Draw;
use crate::charts::{Census, possible_shapes, row_name};
use crate::few::{UNSEEN, star_note, stars};
use crate::saving::Written;
use crate::study::collections::{Collected, Study, rejected_words};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe};

/// The sections that say what occurs, one for each collection.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let part = |collected| {
        let part = OccurrencePart { recipe: study.recipe, collected };
        Box::new(part) as Box<dyn AnyPart>
    };
    Ok(study.collections.iter().map(part).collect())
}

struct OccurrencePart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
}

impl Part for OccurrencePart<'_> {
    /// The census itself is what is drawn.
    type Data = ();

    fn name(&self) -> String {
        format!("occurrence-{}", self.collected.collection.name)
    }

    fn title(&self) -> String {
        format!("Which subsets occur: {}", self.collected.collection.title)
    }

    fn depends(&self) -> Result<Value, ReportError> {
        Ok(json!([self.collected.census_digest, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        _: &dyn StudyProgress,
    ) -> Result<Found<()>, ReportError> {
        let (name, census) = (&self.collected.collection.name, &self.collected.census);
        let Census { counts, manifest, .. } = census;
        let (occurrence, needed) = (census.occurrence()?, census.needed()?);
        for file in ["counts.csv", "exposure.csv", "rates.csv"] {
            folder.copy(&census.folder, file)?;
        }
        let data = folder.write("shares.csv", &shares_csv(&occurrence.shapes)?)?;
        let mut after = vec![Block::Table(shapes_table(name, census, occurrence, &data))];
        if occurrence.shapes.iter().flat_map(stars).any(|star| !star.is_empty()) {
            after.push(warning(star_note()));
        }
        if possible_shapes().any(|(open, naked)| counts.shape(open, naked).puzzles == 0) {
            after.push(warning(UNSEEN));
        }
        let data = folder.write("looks.csv", &look_shares_csv(needed)?)?;
        after.push(Block::Table(needed_table(name, needed, &data, census.level)));
        if needed.weighted {
            after.push(remark(
                "Puzzles of this collection carry weights or belong to families. Counts count them \
                 alike; shares, rates and intervals are by weight, with families as independent units.",
            ));
        }
        after.push(remark(walk_words(manifest)));
        if let Some(rejects) = folder.copy(&census.folder, "rejects.csv")? {
            after.push(warning(format!(
                "{}. They are listed with file, line and reason in {}.",
                rejected_words(manifest),
                rejects.link()
            )));
        }
        Ok(Found {
            intro: intro(&counts.totals, occurrence),
            before: Vec::new(),
            after,
            findings: in_short(name, counts, occurrence, needed),
            data: (),
        })
    }

    fn draw(&self, (): &(), folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let census = &self.collected.census;
        let found_any = census.counts.totals.subsets > 0;
        let alone = self.recipe.collections.len() == 1;
        folder.charts(|draw| match draw {
            Draw::Census(draw) if found_any => Some(draw(census, &self.recipe.charts.narrowing)),
            // Several collections are shown together.
            Draw::Censuses(draw) if alone => Some(draw(&[census])),
            _ => None,
        })
    }
}

/// Says how puzzles were walked.
fn walk_words(manifest: &Manifest) -> String {
    let walk = &manifest.walk;
    let ladder: Vec<String> = Order::ladder().looks().iter().map(ToString::to_string).collect();
    let order = if walk.order == ladder {
        format!("the full ladder ({})", walk.order.join(", "))
    } else {
        walk.order.join(", ")
    };
    let course = if walk.houses.is_empty() {
        "all finds of a look together"
    } else {
        "one find after the other, houses in order"
    };
    let chosen = |choice: &str| walk.choices.get(choice).map_or("", String::as_str);
    let stuck = if chosen("when_stuck") == "stop" {
        "stopping when nothing is found"
    } else {
        "with a digit of the solution given when nothing is found"
    };
    let told = ["course", "when_stuck"];
    let more = walk.choices.iter().filter(|(choice, _)| !told.contains(&choice.as_str()));
    let more: String = more.map(|(c, name)| format!("; {}: {name}", c.replace('_', " "))).collect();
    format!("The walk: {order}; {course}, {stuck}{more}.")
}

/// The id of a collection's table of shapes.
pub(in crate::study) fn shapes_table_id(collection: &str) -> String {
    format!("shapes-{collection}")
}

fn shapes_table(name: &str, census: &Census, found: &Occurrence, data: &Written) -> Table {
    let Census { counts, level, .. } = census;
    let totals = &counts.totals;
    let id = shapes_table_id(name);
    let rows: Vec<Vec<Cell>> = possible_shapes()
        .map(|(open, naked)| {
            let shape = counts.shape(open, naked);
            let estimate = found.shape(open, naked);
            let [mut value, interval] = share_cells(estimate.and_then(|s| s.share.as_ref()));
            let (houses, with) = estimate.map_or((0, 0), |s| (s.houses, s.houses_with));
            let of_houses = estimate.map(|s| s.house_share).unwrap_or_default();
            let [mut of_houses, limits] = limit_cells(of_houses);
            let [of_houses_star, star] = estimate.map_or(["", ""], stars);
            of_houses.text += of_houses_star;
            value.text += star;
            let row = Some(row_name(&id, open, naked));
            vec![
                Cell { id: row, ..number(open.into()) },
                number(naked.into()),
                number((open - naked).into()),
                number(houses),
                number(with),
                of_houses,
                limits,
                number(shape.proper),
                number(shape.puzzles),
                value,
                interval,
            ]
        })
        .collect();
    Table {
        id,
        caption: format!(
            "Proper subsets by shape, at {}: {} from {}",
            Moment::Every.in_words(),
            counted(totals.quiet_positions, "position", "positions"),
            counted(totals.puzzles, "puzzle", "puzzles")
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side"),
            column("hidden", "size of the hidden side"),
            column("houses", "houses with that many open cells, over all quiet positions"),
            column("with one", "houses with at least one proper subset"),
            column("of houses", "their share; by weight where puzzles carry weights"),
            column(&format!("{level} of houses"), "interval, with puzzles or families as units"),
            column("subsets", "proper subsets"),
            column("puzzles", "puzzles with at least one"),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            interval_column(*level),
        ],
        rows,
        file: Some(data.link()),
    }
}

fn intro(totals: &Totals, found: &Occurrence) -> String {
    if found.weighted {
        let share = |share: Option<Estimate>| {
            share.map_or_else(|| "–".to_owned(), |share| Measured::from(share).percent())
        };
        return format!(
            "By weight, {} of the puzzles have a quiet position, one without any single left, and the \
             walk solved {}. They are {} puzzles in {} independent units. Counted alike, {} of them \
             have {} such positions with {} subsets, and {} were solved.",
            share(found.quiet),
            share(found.solved),
            count(totals.puzzles),
            count(found.units),
            count(totals.puzzles_with_quiet_positions),
            count(totals.quiet_positions),
            count(totals.subsets),
            count(totals.solved)
        );
    }
    format!(
        "{} of {} puzzles ({}) have a quiet position, one without any single left; in these {} \
         positions {} subsets were recorded. The walk solved {} puzzles ({}).",
        count(totals.puzzles_with_quiet_positions),
        count(totals.puzzles),
        share_of(totals.puzzles_with_quiet_positions, totals.puzzles),
        count(totals.quiet_positions),
        count(totals.subsets),
        count(totals.solved),
        share_of(totals.solved, totals.puzzles)
    )
}

/// Which looks come first and last.
fn needed_table(name: &str, needed: &LookShares, file: &Written, level: Level) -> Table {
    let columns = |row: Option<&LookShare>| {
        let [value, interval] = share_cells(row.and_then(|row| row.share.as_ref()));
        [row.map_or_else(|| text(NONE), |row| number(row.puzzles)), value, interval]
    };
    // Those without a look stand at the ends: the easiest first, the hardest last.
    let without = |row: &&LookShare| !needed.last.iter().any(|other| other.look == row.look);
    let mut looks: Vec<&str> =
        needed.first.iter().filter(without).map(|row| row.look.as_str()).collect();
    looks.extend(needed.last.iter().skip(1).map(|row| row.look.as_str()));
    looks.extend(needed.last.first().map(|row| row.look.as_str()));
    let rows = looks.iter().map(|look| {
        let of = |rows: &'_ [LookShare]| columns(rows.iter().find(|row| row.look == *look));
        let mut cells = vec![text(*look)];
        cells.extend(of(&needed.first));
        cells.extend(of(&needed.last));
        cells
    });
    let of_what = if needed.weighted { "of the weight of all puzzles" } else { "of all puzzles" };
    Table {
        id: format!("looks-{name}"),
        caption: format!(
            "Which look {} puzzles need: first, the one that finds something at the first quiet \
             position; last, the one furthest down the order that the walk needed, solved or not",
            count(needed.puzzles)
        ),
        columns: vec![
            words(
                "look",
                "singles alone: no quiet position comes up; stuck after singles: no look helps at the first one; \
                 nothing found: no look ever does",
            ),
            column("first", "puzzles"),
            column("share first", of_what),
            column(&format!("{level} first"), "interval"),
            column("last", "puzzles"),
            column("share last", of_what),
            column(&format!("{level} last"), "interval"),
        ],
        rows: rows.collect(),
        file: Some(file.link()),
    }
}
