//! Looks beside their complements.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tallyhouse_analysis::{
    AnalysisError, Cheaper, SideComparison, compare_sides, number_field, paired_costs, to_csv,
    value_fields,
};
use tallyhouse_document::{Block, Cell, Table};
use tallyhouse_engine::WalkOptions;
use tallyhouse_stats::Level;
use tallyhouse_words::{Measured, count, counted, fixed};

use crate::ReportError;
use crate::cells::{NONE, column, number, remark, sorted, text, warning, words};
use crate::chart_kind::Draw;
use crate::charts::{Walked, possible_shapes, settled};
use crate::few::{star, star_note};
use crate::saving::Written;
use crate::shapes;
use crate::study::collections::{Collected, FirstPuzzles, Study, first_puzzles};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyEffort, StudyProgress, StudyRecipe};

/// The section that compares looks with their complements.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let part = |effort: &'a StudyEffort| {
        let collected = &study.collections[effort.collection];
        Box::new(EffortPart { recipe, effort, collected }) as Box<dyn AnyPart>
    };
    Ok(recipe.effort.iter().map(part).collect())
}

struct EffortPart<'a> {
    recipe: &'a StudyRecipe,
    effort: &'a StudyEffort,
    collected: &'a Collected<'a>,
}

/// What looks cost, shape by shape.
#[derive(Default, Serialize, Deserialize)]
struct Costs {
    /// How many puzzles were walked.
    walked: u64,
    sides: Vec<SideComparison>,
    /// Each shape that is drawn, with what the looks cost in each house.
    drawn: Vec<(SideComparison, Vec<(f64, f64)>)>,
}

impl Part for EffortPart<'_> {
    type Data = Costs;

    fn name(&self) -> String {
        "effort".to_owned()
    }

    fn title(&self) -> String {
        "A look and its complement".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let Self { recipe, effort, collected } = self;
        Ok(json!([collected.digest, effort, recipe.weights, recipe.level]))
    }

    /// Walks the puzzles that the verdicts rest on, in the same way: a number that stands in both
    /// is one number.
    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Costs>, ReportError> {
        let bar = progress.stage("comparing looks", "puzzles", None);
        let FirstPuzzles { puzzles, alike, .. } =
            first_puzzles(&self.collected.sources, self.effort.puzzles)?;
        if !alike {
            let mut found = Found::pictures(String::new(), Costs::default());
            found.after.push(warning(
                "Not compared: these puzzles carry weights or belong to families, and this comparison \
                 counts puzzles alike. Name another collection under [effort].",
            ));
            return Ok(found);
        }
        let all: Vec<(u8, u8)> = possible_shapes().collect();
        let weights = self.recipe.glance_weights();
        let costs = paired_costs(&puzzles, &all, &WalkOptions::default(), &weights);
        let walked = puzzles.len() as u64;
        bar.advance(walked);
        let sides = compare_sides(&costs, self.recipe.level).map_err(|error| {
            AnalysisError::Stats { claim: "looks beside their complements".to_owned(), error }
        })?;
        let data = folder.write("effort.csv", &effort_csv(&sides)?)?;
        let mut after = vec![Block::Table(table(&sides, walked, &data, self.recipe.level))];
        if sides.iter().any(|side| !mark(side).is_empty()) {
            after.push(warning(star_note()));
        }
        let findings = cheaper_sides(&sides, walked).into_iter().collect();
        let pairs = sides.iter().cloned().zip(costs.into_iter().map(|costs| costs.costs));
        let drawn = pairs.filter(|(side, _)| self.effort.shapes.contains(&(side.open, side.naked)));
        Ok(Found {
            intro: "Which of the two to look for: both looks are made in the same houses, which \
                    hold the split, at the same positions, until they end. A look that costs less \
                    here may still be rare; the tables of what occurs say how rare."
                .to_owned(),
            before: vec![assumptions(self.recipe.weights)],
            after,
            findings,
            data: Costs { walked, drawn: drawn.collect(), sides },
        })
    }

    fn draw(&self, costs: &Costs, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let population = self.collected.collection.title.clone();
        let walked = Walked { population, puzzles: costs.walked };
        let mut blocks = folder.charts(|draw| match draw {
            Draw::Sides(draw) => Some(draw(&costs.sides, &walked)),
            _ => None,
        })?;
        for (side, houses) in &costs.drawn {
            let name = |_| format!("{}-open-naked-{}", side.open, side.naked);
            blocks.extend(folder.named_charts(name, |draw| match draw {
                Draw::Costs(draw) => Some(draw(side, houses, &walked)),
                _ => None,
            })?);
        }
        Ok(blocks)
    }
}

fn assumptions([cell, place, try_]: [f64; 3]) -> Block {
    remark(format!(
        "Effort is a model with stated assumptions, not difficulty: pencil marks are visible; a naked \
         look sees each open cell once and tries sets cell by cell; a hidden look first gathers the \
         places of each missing digit. A cell seen weighs {cell}, a place gathered {place}, a try \
         {try_}."
    ))
}

fn mark(side: &SideComparison) -> &'static str {
    star(side.puzzles, side.ratio.as_ref().map(|ratio| ratio.interval.low))
}

fn table(sides: &[SideComparison], puzzles: u64, data: &Written, level: Level) -> Table {
    let rows: Vec<Vec<Cell>> = sides
        .iter()
        .map(|side| {
            let mean = |mean: f64| {
                if side.houses == 0 { text(NONE) } else { sorted(fixed(mean, 1), mean) }
            };
            let ratio = side.ratio.as_ref().map_or_else(
                || text(NONE),
                |ratio| sorted(Measured::from(*ratio).number(), ratio.value),
            );
            vec![
                number(side.open.into()),
                number(side.naked.into()),
                number(side.houses),
                sorted(count(side.puzzles) + mark(side), side.puzzles as f64),
                mean(side.mean_naked),
                mean(side.mean_hidden),
                ratio,
                text(settled(side).name()),
                side.equal_place_weight
                    .map_or_else(|| text(NONE), |weight| sorted(fixed(weight, 2), weight)),
            ]
        })
        .collect();
    Table {
        id: "effort-table".to_owned(),
        caption: format!(
            "Mean glances per house, and the ratio of their sums with the puzzle as cluster; {} \
             walked",
            counted(puzzles, "puzzle was", "puzzles were")
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side; the hidden side has the other open cells"),
            column("houses", "that hold a proper subset of the shape"),
            column("puzzles", "with such a house"),
            column("naked look", "mean glances"),
            column("hidden look", "mean glances"),
            column(&format!("ratio ({level})"), "naked over hidden, with its interval"),
            words(
                "cheaper",
                "the side whose look costs less: the interval is clear of 1, and so is the p-value \
                 after Holm's correction over all shapes",
            ),
            column(
                "equal at",
                "the weight of a place gathered at which both looks would cost the same, the other \
                 weights as they are; – if none above 0 does that",
            ),
        ],
        rows,
        file: Some(data.link()),
    }
}

/// Writes what the looks cost as CSV.
fn effort_csv(sides: &[SideComparison]) -> Result<Vec<u8>, csv::Error> {
    let header = "open,naked,hidden,houses,puzzles,mean_naked,mean_hidden,ratio,low,high,p_adjusted,\
        cheaper,equal_place_weight";
    let record = |side: &SideComparison| {
        let shape = [side.open, side.naked, side.hidden()];
        let means = [side.mean_naked, side.mean_hidden].map(|mean| mean.to_string());
        let found = (value_fields(side.ratio.as_ref()), side.p_adjusted.to_string());
        let cheaper = (side.cheaper.name(), number_field(side.equal_place_weight));
        (shape, side.houses, side.puzzles, means, found, cheaper)
    };
    to_csv(header, sides.iter().map(record))
}

/// Which looks cost less.
fn cheaper_sides(sides: &[SideComparison], puzzles: u64) -> Option<Finding> {
    let of = |wanted: Cheaper| -> Vec<String> {
        let named = sides.iter().filter(|side| side.houses > 0 && settled(side) == wanted);
        named.map(|side| shapes::short(side.open, side.naked)).collect()
    };
    let number = |names: &[String]| counted(names.len() as u64, "shape", "shapes");
    let (naked, hidden, unsettled) =
        (of(Cheaper::Naked), of(Cheaper::Hidden), of(Cheaper::Unsettled));
    let list = |names: &[String]| {
        if names.is_empty() { String::new() } else { format!(" ({})", names.join("; ")) }
    };
    if sides.iter().all(|side| side.houses == 0) {
        return None;
    }
    let words = format!(
        "in the effort model, over {}, the naked look costs less than its hidden complement in {}; \
         the hidden look in {}{}; not settled: {}{}",
        counted(puzzles, "puzzle", "puzzles"),
        number(&naked),
        number(&hidden),
        list(&hidden),
        number(&unsettled),
        list(&unsettled)
    );
    Some(Finding { leads: false, collection: None, words })
}

#[cfg(test)]
mod tests {
    use tallyhouse_stats::Share;

    use super::*;

    fn side(cheaper: Cheaper, houses: u64) -> SideComparison {
        SideComparison {
            open: 8,
            naked: 6,
            houses,
            puzzles: houses,
            mean_naked: 1.0,
            mean_hidden: 2.0,
            ratio: Share::new(40, 100).ok().map(|share| share.estimate(Level::default())),
            p_adjusted: 1.0,
            cheaper,
            equal_place_weight: None,
        }
    }

    #[test]
    fn sides_are_counted_and_those_against_the_rule_named() {
        let all = [
            side(Cheaper::Naked, 30),
            side(Cheaper::Naked, 50),
            side(Cheaper::Hidden, 50),
            // Few puzzles settle nothing.
            SideComparison { open: 9, ..side(Cheaper::Naked, 29) },
            side(Cheaper::Unsettled, 0),
        ];
        let words = cheaper_sides(&all, 1).unwrap().words;
        assert_eq!(
            words,
            "in the effort model, over 1 puzzle, the naked look costs less than its hidden \
             complement in 2 shapes; the hidden look in 1 shape (8 open: naked 6 | hidden 2); not \
             settled: 1 shape (9 open: naked 6 | hidden 3)"
        );
        assert_eq!(cheaper_sides(&all[4..], 1), None);
    }
}
