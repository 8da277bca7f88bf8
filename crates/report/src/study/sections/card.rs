//! The answer at a glance.

use serde_json::{Value, json};
use tallyhouse_analysis::{Card, NOT_WORTH_IT, ReaderFile, judge};
use tallyhouse_document::Block;
use tallyhouse_words::{list, mid_sentence, number_word};

use super::trial::built_in_readers;
use crate::ReportError;
use crate::chart_kind::{ChartKind, Draw};
use crate::charts::{card_findings, puzzles_in};
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
        let trial =
            Card::trial(sources, readers.clone(), self.recipe.level, folder.path.join("trial"))?;
        let card = Card::of(&judge(&trial, &*bar)?, NOT_WORTH_IT);
        folder.write("card.csv", &card.csv()?)?;
        folder.copy(&trial.out, "juries.csv")?;
        let finding = |words| Finding { leads: true, collection: None, words };
        Ok(Found {
            intro: format!(
                "A naked pair among a house's open cells leaves a hidden set in the others, and so does \
                 every naked set: they are two sides of one split, and finding one finds both. The two \
                 sizes are its shape. Here is which side to look for, from {}, for {} kinds of reader: {}. \
                 A glance reads one cell, or tries one place for a digit. A side is marked where each \
                 of these readers finds it with fewer glances. They do so when every house is looked at, \
                 and when a look comes only after all earlier ones have failed.",
                puzzles_in(card.puzzles, card.units),
                number_word(u8::try_from(card.readers.len()).unwrap_or(u8::MAX)),
                kinds(&readers),
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

/// Says who the readers are: `marking (writes pencil marks, remembers nothing)`.
fn kinds(readers: &[ReaderFile]) -> String {
    list(readers.iter().map(|reader| format!("{} ({})", reader.name, mid_sentence(&reader.title))))
}
