//! Panels: the same claims asked of several collections, on several walks.

use std::fs;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tallyhouse_analysis::{
    ClaimFile, JudgeReport, JudgeSettings, Rulebook, TrialWalk, Verdict, judge, to_csv,
    value_fields,
};
use tallyhouse_document::{Block, Table};
use tallyhouse_stats::Decision;
use tallyhouse_storage::StorageError;
use tallyhouse_words::{Outcome, counted, list, sentence_start};

use super::trial::built_in_readers;
use crate::ReportError;
use crate::cells::{number, remark, text, words};
use crate::chart_kind::Draw;
use crate::charts::VerdictsOf;
use crate::saving::Written;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyPanel, StudyProgress, StudyRecipe};

/// The sections of the panels.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let rulebooks: Vec<Rulebook> =
        recipe.rulebooks.iter().map(|name| Rulebook::load(name)).collect::<Result<_, _>>()?;
    let part = |(index, panel): (usize, &'a StudyPanel)| {
        let claims = panel.claims.iter().map(|name| ClaimFile::load(name));
        let claims = claims.collect::<Result<Vec<_>, _>>()?;
        let rulebooks = rulebooks.clone();
        let part = PanelPart { recipe, study, panel, number: index + 1, rulebooks, claims };
        Ok(Box::new(part) as Box<dyn AnyPart>)
    };
    recipe.panels.iter().enumerate().map(part).collect()
}

struct PanelPart<'a> {
    recipe: &'a StudyRecipe,
    study: &'a Study<'a>,
    panel: &'a StudyPanel,
    number: usize,
    rulebooks: Vec<Rulebook>,
    claims: Vec<ClaimFile>,
}

/// What one collection says on one walk.
struct Asked<'a> {
    collected: &'a Collected<'a>,
    walk: TrialWalk,
    report: JudgeReport,
}

/// What a panel found, one entry for each collection, with its name.
#[derive(Serialize, Deserialize)]
struct PanelData(Vec<(String, VerdictsOf)>);

impl Part for PanelPart<'_> {
    type Data = PanelData;

    fn name(&self) -> String {
        format!("panel-{}", self.number)
    }

    fn title(&self) -> String {
        self.panel.title.clone()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let digests = self.collections().map(|one| &one.digest).collect::<Vec<_>>();
        let rulebooks: Vec<String> = self.rulebooks.iter().map(Rulebook::to_toml).collect();
        let claims = format!("{:?}", self.claims);
        Ok(json!([digests, self.panel.walks, rulebooks, claims, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<PanelData>, ReportError> {
        let mut asked = Vec::new();
        for collected in self.collections() {
            for &walk in &self.panel.walks {
                let report = self.ask(collected, walk, folder, progress)?;
                asked.push(Asked { collected, walk, report });
            }
        }
        let data = folder.write("verdicts.csv", &verdicts_csv(&asked)?)?;
        let findings = findings(&asked);
        Ok(Found {
            intro: format!(
                "The same claims, asked of {} on {}: {}. Each verdict speaks of its own population \
                 and walk.",
                counted(self.panel.collections.len() as u64, "collection", "collections"),
                counted(self.panel.walks.len() as u64, "walk", "walks"),
                list(self.panel.walks.iter().map(|walk| walk_name(*walk)))
            ),
            before: vec![remark(
                "Holm's correction is over the claims of one file, one population and one walk. \
                 Frame every stands at the quiet positions of the walk; due is one by one on each, \
                 with intersections where the walk has them.",
            )],
            after: by_collection(&asked)
                .map(|asked| self.matrix(asked, &data))
                .chain([self.numbers(&asked, &data)])
                .map(Block::Table)
                .collect(),
            findings,
            data: PanelData(self.verdicts_of(&asked)),
        })
    }

    fn draw(&self, data: &PanelData, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let mut blocks = Vec::new();
        for (name, verdicts) in &data.0 {
            blocks.extend(folder.named_charts(
                |kind| format!("{kind}-{name}"),
                |draw| match draw {
                    Draw::Verdicts(draw) => Some(draw(verdicts)),
                    _ => None,
                },
            )?);
        }
        Ok(blocks)
    }
}

/// Writes a walk as people say it.
fn walk_name(walk: TrialWalk) -> String {
    walk.name().replace('-', " ")
}

impl PanelPart<'_> {
    fn collections(&self) -> impl Iterator<Item = &Collected<'_>> {
        self.panel.collections.iter().map(|&index| &self.study.collections[index])
    }

    fn ask(
        &self,
        collected: &Collected<'_>,
        walk: TrialWalk,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<JudgeReport, ReportError> {
        let bar = progress.stage("judging", "puzzles", None);
        let data = folder.data_folder()?;
        fs::create_dir_all(&data).map_err(StorageError::write(&data))?;
        let settings = JudgeSettings {
            sources: collected.sources.clone(),
            rulebooks: self.rulebooks.clone(),
            claims: self.claims.clone(),
            readers: built_in_readers()?,
            walk,
            level: self.recipe.level,
            shapes: false,
            out: data.join(format!("{}-{walk}", collected.collection.name)),
        };
        Ok(judge(&settings, &*bar)?)
    }

    /// One row for each claim, one column for each walk of a collection.
    fn matrix(&self, asked: &[Asked<'_>], data: &Written) -> Table {
        let column = |asked: &Asked<'_>| words(&walk_name(asked.walk), "");
        let Collected { collection, .. } = asked[0].collected;
        let rows = self.claimed().enumerate().map(|(number, statement)| {
            let verdicts =
                asked.iter().map(|asked| text(asked.report.verdicts[number].decision.to_string()));
            [text(statement)].into_iter().chain(verdicts).collect()
        });
        Table {
            id: format!("{}-verdicts-{}", self.name(), collection.name),
            caption: format!("Verdicts by walk: {}", populations(asked)),
            columns: [words("claim", "")].into_iter().chain(asked.iter().map(column)).collect(),
            rows: rows.collect(),
            file: Some(data.link()),
        }
    }

    /// One row for each verdict, with what it rests on.
    fn numbers(&self, asked: &[Asked<'_>], data: &Written) -> Table {
        let rows = (0..self.claimed().count()).flat_map(|index| {
            asked.iter().map(move |asked| {
                let verdict = &asked.report.verdicts[index];
                vec![
                    text(verdict.claim.replace('-', " ")),
                    text(verdict.population.clone()),
                    text(walk_name(asked.walk)),
                    text(verdict.decision.to_string()),
                    number(verdict.units),
                    text(found_words(verdict)),
                ]
            })
        });
        Table {
            id: format!("{}-numbers", self.name()),
            caption: "What each verdict rests on".to_owned(),
            columns: vec![
                words("claim", "by its name"),
                words("population", "what the collection is a sample of"),
                words("walk", ""),
                words("verdict", ""),
                crate::cells::column("units", "independent puzzles or families"),
                words(
                    "found",
                    "the number with its interval, or the least and the greatest of a jury",
                ),
            ],
            rows: rows.collect(),
            file: Some(data.link()),
        }
    }

    /// Returns all statements in their order.
    fn claimed(&self) -> impl Iterator<Item = String> {
        self.claims.iter().flat_map(|file| file.claims.iter().map(|claim| claim.statement.clone()))
    }

    /// What pictures are drawn from: a table for each collection.
    fn verdicts_of(&self, asked: &[Asked<'_>]) -> Vec<(String, VerdictsOf)> {
        let one = |asked: &[Asked<'_>]| {
            let report = &asked[0].report;
            let verdicts = VerdictsOf {
                population: report.population.clone(),
                puzzles: report.totals.puzzles,
                units: report.verdicts.first().map_or(0, |verdict| verdict.all_units),
                walks: asked.iter().map(|asked| walk_name(asked.walk)).collect(),
                claims: report.verdicts.iter().map(|verdict| verdict.statement.clone()).collect(),
                verdicts: asked.iter().map(|asked| decisions(&asked.report)).collect(),
            };
            (asked[0].collected.collection.name.clone(), verdicts)
        };
        by_collection(asked).map(one).collect()
    }
}

/// Takes apart what each collection says.
fn by_collection<'a, 'b>(asked: &'b [Asked<'a>]) -> impl Iterator<Item = &'b [Asked<'a>]> {
    asked.chunk_by(|a, b| std::ptr::eq(a.collected, b.collected))
}

fn decisions(report: &JudgeReport) -> Vec<Outcome> {
    report.verdicts.iter().map(|verdict| verdict.decision.into()).collect()
}

/// Names what was asked, with the number of puzzles.
fn populations(asked: &[Asked<'_>]) -> String {
    let mut names: Vec<String> = Vec::new();
    for asked in asked {
        let puzzles = counted(asked.report.totals.puzzles, "puzzle", "puzzles");
        let name = format!("{puzzles} ({})", asked.report.population);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    list(names)
}

fn found_words(verdict: &Verdict) -> String {
    let said = verdict.who_says_what().filter(|_| verdict.decision == Decision::Depends);
    match said {
        Some(said) => format!("{}; {said}", verdict.words),
        None => verdict.words.clone(),
    }
}

/// Which claims hold wherever they were asked, and which don't.
fn findings(asked: &[Asked<'_>]) -> Vec<Finding> {
    let Some(first) = asked.first().filter(|_| asked.len() > 1) else { return Vec::new() };
    let differ = first.report.verdicts.iter().enumerate().filter(|(index, verdict)| {
        asked.iter().any(|asked| asked.report.verdicts[*index].decision != verdict.decision)
    });
    let differ =
        differ.map(|(_, verdict)| format!("“{}”", verdict.statement.trim_end_matches('.')));
    let differ: Vec<String> = differ.collect();
    let all = counted(first.report.verdicts.len() as u64, "claim", "claims");
    let words = if differ.is_empty() {
        format!("each of {all} gets the same verdict in every population and on every walk asked")
    } else {
        format!(
            "{} of {all} get another verdict in another population or on another walk: {}",
            differ.len(),
            list(differ)
        )
    };
    vec![Finding { leads: false, collection: None, words: sentence_start(&words) }]
}

/// Writes all verdicts, one row for each claim, population and walk.
fn verdicts_csv(asked: &[Asked<'_>]) -> Result<Vec<u8>, csv::Error> {
    let header = "collection,population,walk,file,claim,kind,verdict,estimate,low,high,p_adjusted,\
                  puzzles,units,found,jury";
    let records = asked.iter().flat_map(|asked| {
        asked.report.verdicts.iter().map(move |verdict| {
            let place = (&asked.collected.collection.name, &verdict.population, asked.walk);
            let claim = (&verdict.file, &verdict.claim, verdict.kind, verdict.decision);
            let found = (value_fields(verdict.estimate.as_ref()), verdict.p_adjusted);
            let rests = (verdict.puzzles, verdict.units, &verdict.words, verdict.who_says_what());
            (place, claim, found, rests)
        })
    });
    to_csv(header, records)
}
