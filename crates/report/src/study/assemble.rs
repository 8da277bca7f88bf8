//! Putting the report together from the sections of the stages.

use std::fs;
use std::io::Write;
use std::path::Path;

use serde::de::DeserializeOwned;
use tallyhouse_analysis::{ClaimFile, Rulebook};
use tallyhouse_collection::SamplingMethod;
use tallyhouse_document::{Block, Document, Extent, Section, to_html, to_markdown};
use tallyhouse_storage::{StorageError, write_file};
use tallyhouse_words::{count, mid_sentence};

use super::collections::{Collected, Study};
use super::part::{self, FINDINGS, Finding, SECTION};
use super::stages::RECIPE;
use super::{Lead, Origin, StudyCollection, StudySettings, Told};
use crate::ReportError;
use crate::error::io_error;

/// Where the rulebooks and claims of a study lie: without them the recipe would not be whole.
const INPUTS: &str = "data/inputs";

/// The names of the report and of what it says first, without their endings.
const REPORT: &str = "report";
const BRIEF: &str = "brief";

/// A rulebook or a claim file.
struct Input {
    title: String,
    file: String,
    text: String,
}

fn inputs(settings: &StudySettings) -> Result<Vec<Input>, ReportError> {
    let recipe = &settings.recipe;
    let mut rulebooks: Vec<&String> = recipe.rulebooks.iter().collect();
    let start = recipe.order.iter().map(|order| &order.start);
    let compared = recipe.compare.iter().flat_map(|compare| &compare.rulebooks);
    let practised = recipe.worksheet.iter().flat_map(|worksheet| &worksheet.rulebook);
    for name in start.chain(compared).chain(practised) {
        if !rulebooks.contains(&name) {
            rulebooks.push(name);
        }
    }
    let mut inputs = Vec::new();
    for name in rulebooks {
        let text = Rulebook::text(name)?;
        let rulebook = Rulebook::parse(name, &text)?;
        inputs.push(Input {
            title: format!("Rulebook {}", rulebook.name()),
            file: format!("rulebook-{}.toml", rulebook.name()),
            text,
        });
    }
    let mut claims: Vec<&String> = Vec::new();
    for name in recipe.claims.iter().chain(recipe.panels.iter().flat_map(|panel| &panel.claims)) {
        if !claims.contains(&name) {
            claims.push(name);
        }
    }
    for name in claims {
        let text = ClaimFile::text(name)?;
        let claims = ClaimFile::parse(name, &text)?;
        inputs.push(Input {
            title: format!("Claims {}", claims.name),
            file: format!("claims-{}.toml", claims.name),
            text,
        });
    }
    Ok(inputs)
}

/// Writes the report with its figures and data aside; `folders` are those of its parts in order.
pub(super) fn write(
    settings: &StudySettings,
    study: &Study<'_>,
    folders: &[String],
    aside: &Path,
) -> Result<Told, ReportError> {
    let out = &settings.out;
    let mut sections: Vec<Section> = Vec::new();
    let mut findings: Vec<(usize, Finding)> = Vec::new();
    for part in ["data", "figures"] {
        let folder = aside.join(part);
        fs::create_dir(&folder).map_err(StorageError::write(&folder))?;
    }
    for folder in folders {
        let folder = out.join(folder);
        sections.extend(read::<Section>(&folder.join(SECTION))?);
        let place = place_of(&study.recipe.lead, &folder);
        let found = read::<Vec<Finding>>(&folder.join(FINDINGS))?.unwrap_or_default();
        findings.extend(found.into_iter().map(|finding| (place, finding)));
        for part in ["data", "figures"] {
            copy(&folder.join(part), &aside.join(part))?;
        }
    }
    findings.sort_by_key(|&(place, _)| place);
    let findings: Vec<Finding> = findings.into_iter().map(|(_, finding)| finding).collect();
    let (leading, others) = story(findings, &study.recipe.collections);
    let story = sentences(&leading, &study.recipe.collections);
    // The card comes first; what it is follows below it.
    if let Some(first) = sections.first_mut() {
        let about = std::mem::replace(&mut first.intro, story.join(" "));
        first.blocks.push(Block::Paragraph(about));
    }
    let others = part::paragraphs(&others, &study.recipe.collections);
    if !others.is_empty() {
        sections.push(Section {
            id: "more-findings".to_owned(),
            title: "More findings".to_owned(),
            intro: String::new(),
            blocks: others.into_iter().map(Block::Paragraph).collect(),
        });
    }
    let inputs = inputs(settings)?;
    let folder = aside.join(INPUTS);
    fs::create_dir_all(&folder).map_err(StorageError::write(&folder))?;
    for input in &inputs {
        write_file(&folder.join(&input.file), |writer| writer.write_all(input.text.as_bytes()))?;
    }
    let document = document(settings, sections, study, &inputs);
    let recipe = settings.recipe_text.as_bytes();
    write_file(&aside.join(RECIPE), |writer| writer.write_all(recipe))?;
    write_pages(&document, aside, REPORT)?;
    if settings.brief {
        let extent = Extent::Brief { whole: REPORT.to_owned() };
        write_pages(&Document { extent, ..document.clone() }, aside, BRIEF)?;
    }
    let verdicts = document
        .findings()
        .into_iter()
        .map(|(title, verdicts)| (title.to_owned(), verdicts.into_iter().cloned().collect()));
    Ok(Told { story, verdicts: verdicts.collect() })
}

/// Writes a document as a page and as Markdown.
fn write_pages(document: &Document, folder: &Path, name: &str) -> Result<(), ReportError> {
    let (html, markdown) = (to_html(document)?, to_markdown(document));
    for (ending, text) in [("md", markdown), ("html", html)] {
        let path = folder.join(format!("{name}.{ending}"));
        write_file(&path, |writer| writer.write_all(text.as_bytes()))?;
    }
    Ok(())
}

/// How many sentences a story has at most.
const SENTENCES: usize = 5;

/// Where a recipe wants the findings of a part: those it names first, then the others.
fn place_of(lead: &[Lead], folder: &Path) -> usize {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let of = |&lead: &Lead| name.starts_with(<&str>::from(lead));
    lead.iter().position(of).unwrap_or(lead.len())
}

/// Writes the story; a first sentence about one collection says so.
fn sentences(leading: &[Finding], collections: &[StudyCollection]) -> Vec<String> {
    let sentence = |(number, finding): (usize, &Finding)| {
        let of = |name: &String| collections.iter().find(|one| one.name == *name);
        match finding.collection.as_ref().and_then(of).filter(|_| number == 0) {
            Some(of) => {
                part::sentence(&format!("in {}, {}", mid_sentence(&of.title), finding.words))
            }
            None => part::sentence(&finding.words),
        }
    };
    leading.iter().enumerate().map(sentence).collect()
}

/// Parts what leads, of the study as a whole and of its first collection, from all else.
fn story(findings: Vec<Finding>, collections: &[StudyCollection]) -> (Vec<Finding>, Vec<Finding>) {
    let first = collections.first().map(|collection| &collection.name);
    let mut room = SENTENCES;
    findings.into_iter().partition(|finding| {
        let is_in = finding.leads
            && room > 0
            && finding.collection.as_ref().is_none_or(|name| Some(name) == first);
        room -= usize::from(is_in);
        is_in
    })
}

/// Reads what a stage kept, if it kept anything there.
fn read<T: DeserializeOwned>(path: &Path) -> Result<Option<T>, ReportError> {
    if !path.exists() {
        return Ok(None);
    }
    let text = fs::read_to_string(path).map_err(io_error(path))?;
    Ok(Some(serde_json::from_str(&text)?))
}

fn copy(from: &Path, to: &Path) -> Result<(), ReportError> {
    if !from.is_dir() {
        return Ok(());
    }
    for entry in fs::read_dir(from).map_err(io_error(from))? {
        let path = entry.map_err(io_error(from))?.path();
        let target = to.join(path.file_name().unwrap_or_default());
        if path.is_dir() {
            fs::create_dir_all(&target).map_err(StorageError::write(&target))?;
            copy(&path, &target)?;
        } else {
            fs::copy(&path, &target).map_err(StorageError::write(&target))?;
        }
    }
    Ok(())
}

fn document(
    settings: &StudySettings,
    sections: Vec<Section>,
    study: &Study<'_>,
    inputs: &[Input],
) -> Document {
    let recipe = &settings.recipe;
    let mut provenance = vec![
        ("Program".to_owned(), concat!("tallyhouse ", env!("CARGO_PKG_VERSION")).to_owned()),
        (
            "Recipe".to_owned(),
            format!(
                "{}, BLAKE3 {}",
                recipe.name,
                blake3::hash(settings.recipe_text.as_bytes()).to_hex()
            ),
        ),
    ];
    for Collected { collection, census, .. } in &study.collections {
        let origin = match &collection.origin {
            Origin::Made { method, like, count, seed, population } => {
                let population = if *method == SamplingMethod::Splitting {
                    format!(", population {population}")
                } else {
                    String::new()
                };
                let like = like.map_or_else(String::new, |like| format!(", like {like}"));
                format!("made by {method}{like}, count {count}, seed {seed}{population}")
            }
            Origin::Read { files } => {
                let names: Vec<String> =
                    files.iter().map(|file| file_name(&file.to_string_lossy())).collect();
                format!("read from {}", names.join(", "))
            }
        };
        let manifest = &census.manifest;
        provenance.push((
            format!("Collection {}", collection.name),
            format!(
                "{origin}; {} rows, {} rejected; BLAKE3 of the rows {}",
                count(manifest.totals.rows),
                count(manifest.rejected_rows()),
                manifest.collection.blake3
            ),
        ));
    }
    for input in inputs {
        let digest = blake3::hash(input.text.as_bytes()).to_hex();
        let value = format!("{INPUTS}/{}, BLAKE3 {digest}", input.file);
        provenance.push((input.title.clone(), value));
    }
    if let Some(order) = &recipe.order {
        provenance.push((
            "Order search".to_owned(),
            format!(
                "seed {}, {} training puzzles; held-out puzzles made with seed {}, {} of them; {} \
                 orders tried",
                order.seed,
                count(order.training_count),
                order.seed.wrapping_add(1),
                count(order.held_out_count),
                count(order.evaluations)
            ),
        ));
    }
    let [cell, place, try_] = recipe.weights;
    provenance.push((
        "Weights of glances".to_owned(),
        format!("cell seen {cell}, place gathered {place}, try {try_}"),
    ));
    let titles = recipe.collections.iter().map(|collection| collection.title.as_str());
    let subtitle = if recipe.note.is_empty() {
        titles.collect::<Vec<_>>().join("; ")
    } else {
        recipe.note.clone()
    };
    Document {
        title: recipe.title.clone(),
        subtitle,
        sections,
        leads: true,
        provenance,
        command: settings.command.clone(),
        extent: Extent::Whole,
        paper: settings.paper,
    }
}

fn file_name(name: &str) -> String {
    let path = Path::new(name);
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
