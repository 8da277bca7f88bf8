//! Collections side by side.

use serde_json::{Value, json};
use tallyhouse_document::Block;

use crate::ReportError;
use crate::chart_kind::Draw;
use crate::charts::Census;
use crate::study::StudyProgress;
use crate::study::collections::Study;
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};

/// The section that compares collections, if there are several.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let several = study.collections.len() > 1;
    Ok(several.then(|| Box::new(ComparisonPart(study)) as Box<dyn AnyPart>).into_iter().collect())
}

struct ComparisonPart<'a>(&'a Study<'a>);

impl Part for ComparisonPart<'_> {
    /// The censuses themselves are what is drawn.
    type Data = ();

    fn name(&self) -> String {
        "comparison".to_owned()
    }

    fn title(&self) -> String {
        "Collections compared".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let digests = self.0.collections.iter().map(|one| &one.census_digest);
        Ok(json!((digests.collect::<Vec<_>>(), self.0.recipe.level)))
    }

    fn measure(
        &self,
        _: &StageFolder<'_>,
        _: &dyn StudyProgress,
    ) -> Result<Found<()>, ReportError> {
        let intro = "How much of the picture is the puzzles, and how much is how they were drawn.";
        Ok(Found::pictures(intro.to_owned(), ()))
    }

    fn draw(&self, (): &(), folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let all: Vec<&Census> = self.0.collections.iter().map(|one| &one.census).collect();
        folder.charts(|draw| match draw {
            Draw::Censuses(draw) | Draw::Comparison(draw) => Some(draw(&all)),
            _ => None,
        })
    }
}
