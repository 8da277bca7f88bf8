//! Positions chosen to show splits.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tallyhouse_census::Dataset;
use tallyhouse_document::Block;
use tallyhouse_words::counted;

use crate::ReportError;
use crate::cells::warning;
use crate::charts::specimen_name;
use crate::specimen::{self, Kept, ProperSide, Puzzles, Specimen, Wanted, clarity_words};
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};
use crate::study::{StudyProgress, StudySpecimens};

/// The section with the specimens.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let part = |wanted: &'a StudySpecimens| {
        let collected = &study.collections[wanted.collection];
        Box::new(SpecimensPart { wanted, collected }) as Box<dyn AnyPart>
    };
    Ok(study.recipe.specimens.iter().map(part).collect())
}

struct SpecimensPart<'a> {
    wanted: &'a StudySpecimens,
    collected: &'a Collected<'a>,
}

/// Specimens that are shown together.
#[derive(Serialize, Deserialize)]
struct Group {
    /// What they are.
    words: String,
    specimens: Vec<Kept>,
    /// How each is called in files.
    names: Vec<String>,
    /// What was looked for and not found.
    warning: Option<String>,
}

impl Part for SpecimensPart<'_> {
    type Data = Vec<Group>;

    fn name(&self) -> String {
        "specimens".to_owned()
    }

    fn title(&self) -> String {
        "Specimens".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let Self { wanted, collected } = self;
        Ok(json!([collected.census_digest, collected.collection.title, wanted]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Vec<Group>>, ReportError> {
        let bar = progress.stage("finding specimens", "puzzles", None);
        let title = &self.collected.collection.title;
        let dataset = Dataset::open(&self.collected.census.folder)?.named(title);
        let puzzles = Puzzles::Dataset(Box::new(dataset));
        let mut all: Vec<Specimen> = Vec::new();
        let mut groups = Vec::new();
        for (number, group) in (1..).zip(&self.wanted.shown) {
            let found = specimen::find(&puzzles, &group.wanted, group.most, &*bar)?;
            let shown = found.specimens.len();
            groups.push(Group {
                words: format!(
                    "{}: wanted {}; the clearest {shown} of {}.",
                    group.title,
                    group.wanted,
                    counted(found.examined.puzzles, "puzzle", "puzzles")
                ),
                specimens: found.specimens.iter().map(Kept::from).collect(),
                names: (1..=shown).map(|place| format!("specimen-{number}-{place}")).collect(),
                warning: (shown == 0)
                    .then(|| format!("{}: not seen in these puzzles.", group.title)),
            });
            all.extend(found.specimens);
        }
        if self.wanted.gallery {
            let wanted =
                Wanted { proper: ProperSide::Either, least_eliminations: 1, ..Wanted::default() };
            let found = specimen::gallery(&puzzles, &wanted, &*bar)?;
            let missing: Vec<String> = found.missing().iter().map(ToString::to_string).collect();
            let name = |one: &Specimen| {
                let shape = one.shape();
                specimen_name(shape.open(), shape.naked())
            };
            groups.push(Group {
                words: format!(
                    "One position for each shape, the clearest of {}.",
                    counted(found.examined.puzzles, "puzzle", "puzzles")
                ),
                specimens: found.specimens.iter().map(Kept::from).collect(),
                names: found.specimens.iter().map(name).collect(),
                warning: (!missing.is_empty())
                    .then(|| format!("Not seen in these puzzles: {}.", missing.join("; "))),
            });
            all.extend(found.specimens);
        }
        folder.write("specimens.csv", &specimen::csv(&all)?)?;
        Ok(Found::pictures(clarity_words(), groups))
    }

    fn draw(
        &self,
        groups: &Vec<Group>,
        folder: &StageFolder<'_>,
    ) -> Result<Vec<Block>, ReportError> {
        let mut blocks = Vec::new();
        for Group { words, specimens, names, warning: missing } in groups {
            blocks.push(Block::Paragraph(words.clone()));
            for (kept, name) in specimens.iter().zip(names) {
                let shown = folder.specimen(&Specimen::try_from(kept)?, name)?;
                blocks.push(Block::Specimen(shown));
            }
            blocks.extend(missing.clone().map(warning));
        }
        Ok(blocks)
    }
}
