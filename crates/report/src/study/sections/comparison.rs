//! Collections side by side.

use std::ops::RangeInclusive;

use serde_json::{Value, json};
use tallyhouse_document::Block;
use tallyhouse_words::{Measured, mid_sentence};

use crate::ReportError;
use crate::chart_kind::{ChartKind, Draw};
use crate::charts::Census;
use crate::study::StudyProgress;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};

/// The section that compares collections, if there are several.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let several = study.collections.len() > 1;
    Ok(several.then(|| Box::new(ComparisonPart(study)) as Box<dyn AnyPart>).into_iter().collect())
}

/// The open counts whose shapes stand in a picture, so that all marks of a row keep apart in a column.
const COMPARED: [RangeInclusive<u8>; 2] = [4..=7, 8..=9];

struct ComparisonPart<'a>(&'a Study<'a>);

impl ComparisonPart<'_> {
    /// Says how many puzzles of each collection singles alone solve, if the data tell it for all.
    fn solved_by_singles(&self) -> Result<Option<String>, ReportError> {
        let mut shares = Vec::new();
        for Collected { collection, census, .. } in &self.0.collections {
            let share = census.needed()?.first.first().and_then(|row| row.share.as_ref());
            let Some(share) = share.map(|&share| Measured::from(share)) else { return Ok(None) };
            let percent = share.times(100.0).number_in_prose();
            shares.push(format!("{percent} % of {}", mid_sentence(&collection.title)));
        }
        Ok(Some(format!("singles alone solve {}", shares.join("; "))))
    }
}

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
        let intro = "The same counts in each collection. Where they differ, it is how the puzzles were \
                     drawn that makes the difference.";
        let findings = self.solved_by_singles()?.into_iter();
        let finding = |words| Finding { leads: true, collection: None, words };
        Ok(Found {
            findings: findings.map(finding).collect(),
            ..Found::pictures(intro.to_owned(), ())
        })
    }

    fn draw(&self, (): &(), folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let all: Vec<&Census> = self.0.collections.iter().map(|one| &one.census).collect();
        let mut blocks = Vec::new();
        for opens in COMPARED {
            let name = |kind: ChartKind| format!("{kind}-{}-{}-open", opens.start(), opens.end());
            blocks.extend(folder.named_charts(name, |draw| match draw {
                Draw::Comparison(draw) => Some(draw(&all, opens.clone())),
                _ => None,
            })?);
        }
        blocks.extend(folder.charts(|draw| match draw {
            Draw::Censuses(draw) => Some(draw(&all)),
            _ => None,
        })?);
        Ok(blocks)
    }
}
