//! The answer at a glance.

use serde_json::{Value, json};
use tallyhouse_analysis::{Card, NOT_WORTH_IT, judge};
use tallyhouse_document::Block;
use tallyhouse_words::{counted, list};

use super::trial::built_in_readers;
use crate::ReportError;
use crate::chart_kind::{ChartKind, Draw};
use crate::charts::card_findings;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe};

/// The card of the first collection: what the study is about.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let part = |collected| Box::new(CardPart { recipe, collected }) as Box<dyn AnyPart>;
    Ok(study.collections.iter().take(1).map(part).collect())
}

struct CardPart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
}

impl Part for CardPart<'_> {
    type Data = Card;

    fn name(&self) -> String {
        "answer".to_owned()
    }

    fn title(&self) -> String {
        "The answer at a glance".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        Ok(json!([self.collected.digest, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Card>, ReportError> {
        let bar = progress.stage("weighing both sides", "puzzles", None);
        let (sources, readers) = (self.collected.sources.clone(), built_in_readers()?);
        let trial = Card::trial(sources, readers, self.recipe.level, folder.path.join("trial"))?;
        let card = Card::of(&judge(&trial, &*bar)?, NOT_WORTH_IT);
        folder.write("card.csv", &card.csv()?)?;
        folder.copy(&trial.out, "juries.csv")?;
        let finding = |words| Finding { leads: true, collection: None, words };
        Ok(Found {
            intro: format!(
                "Every split has two sides, and either may be looked for. Here is which one to look for, \
                 as {} read, from {}. A side is recommended where it costs less for all of them, in every \
                 house as well as where the look is due.",
                list(card.readers.iter().map(String::as_str)),
                counted(card.puzzles, "puzzle", "puzzles"),
            ),
            before: Vec::new(),
            after: Vec::new(),
            findings: card_findings(&card).into_iter().map(finding).collect(),
            data: card,
        })
    }

    fn draw(&self, card: &Card, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let kind = ChartKind::Card;
        let Draw::Card(draw) = kind.draw() else { return Ok(Vec::new()) };
        Ok(folder.chart(kind.name(), draw(card)?)?.into_iter().collect())
    }
}
