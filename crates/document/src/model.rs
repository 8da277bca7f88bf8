//! What a report says, in the order in which it says it.

use serde::{Deserialize, Serialize};
use tallyhouse_figures::{Paper, Picture};
use tallyhouse_words::{Outcome, counted};

use crate::Extent;

/// A report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// The title.
    pub title: String,
    /// What the title leaves open: which collection, how many puzzles. May be empty.
    pub subtitle: String,
    /// The sections in the order of reading.
    pub sections: Vec<Section>,
    /// Whether the first section stands before the list of verdicts.
    #[serde(default)]
    pub leads: bool,
    /// Where everything comes from: names and values.
    pub provenance: Vec<(String, String)>,
    /// The command that makes the report again. May be empty.
    pub command: String,
    /// How much of it is written.
    #[serde(default)]
    pub extent: Extent,
    /// What the page is printed on.
    #[serde(default)]
    pub paper: Paper,
}

/// What a brief says after what its verdicts are about.
pub(crate) const NO_OTHERS: &str = "The numbers say nothing about puzzles of another kind.";

/// The verdicts of a section, with its title.
pub(crate) type Group<'a> = (&'a str, Vec<&'a Verdict>);

impl Document {
    /// Returns the verdicts of each section that has any, with the title of the section.
    #[must_use]
    pub fn findings(&self) -> Vec<Group<'_>> {
        let all = self
            .sections
            .iter()
            .map(|section| (section.title.as_str(), section.verdicts().collect::<Vec<_>>()));
        all.filter(|(_, verdicts)| !verdicts.is_empty()).collect()
    }

    /// Returns the verdicts that are listed and those that are only counted: of a brief all but the
    /// first group.
    pub(crate) fn listed_and_counted(&self) -> (Vec<Group<'_>>, Vec<Group<'_>>) {
        let mut listed = self.findings();
        let counted = match self.extent {
            Extent::Whole => Vec::new(),
            Extent::Brief { .. } => listed.split_off(listed.len().min(1)),
        };
        (listed, counted)
    }

    /// Returns the sections that are written: those before the list of verdicts, and those after it.
    pub(crate) fn before_and_after(&self) -> (&[Section], &[Section]) {
        let leading = usize::from(self.leads).min(self.sections.len());
        let (before, after) = self.sections.split_at(leading);
        match self.extent {
            Extent::Whole => (before, after),
            Extent::Brief { .. } => (before, &[]),
        }
    }
}

/// A section with a heading.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// The anchor on the page.
    ///
    /// All ids of a document differ; each is made of ASCII letters, digits, `-`, `_` and `.`, and
    /// begins with a letter.
    pub id: String,
    /// The heading.
    pub title: String,
    /// The first paragraph. May be empty.
    pub intro: String,
    /// What follows.
    pub blocks: Vec<Block>,
}

impl Block {
    /// Returns its pictures, in the order in which the page shows them, and if they are for narrow
    /// screens.
    pub(crate) fn plates(&self) -> impl Iterator<Item = (&Plate, bool)> {
        let (main, narrow, strip) = match self {
            Self::Figure(figure) => (Some(&figure.picture), figure.narrow.as_ref(), None),
            Self::Specimen(specimen) => (Some(&specimen.board), None, specimen.strip.as_ref()),
            _ => (None, None, None),
        };
        let wide = |plate| (plate, false);
        main.map(wide).into_iter().chain(narrow.map(|plate| (plate, true))).chain(strip.map(wide))
    }
}

impl Section {
    fn verdicts(&self) -> impl Iterator<Item = &Verdict> {
        let lists = self.blocks.iter().filter_map(|block| match block {
            Block::Verdicts(verdicts) => Some(verdicts),
            _ => None,
        });
        lists.flatten()
    }
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "content", rename_all = "lowercase")]
pub enum Block {
    /// Running text.
    Paragraph(String),
    /// What to do, one step after the other; they are numbered from 1.
    Steps(Vec<String>),
    /// What the data say about statements.
    Verdicts(Vec<Verdict>),
    /// A table.
    Table(Table),
    /// A picture with a caption.
    Figure(Illustration),
    /// Text in which every space and line break counts.
    Code(String),
    /// Something to keep in mind.
    Note(Note),
    /// A position chosen to show a split.
    Specimen(Specimen),
    /// Links to data: labels and paths relative to the report.
    Files(Vec<(String, String)>),
}

/// A piece of running text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "text", rename_all = "lowercase")]
pub enum Span {
    /// Words.
    Words(String),
    /// A puzzle as a line of 81 characters.
    Puzzle(String),
}

/// What the data say about one statement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// The anchor on the page; see [`Section::id`].
    pub id: String,
    /// The statement that was tested.
    pub statement: String,
    /// What came out.
    pub verdict: Outcome,
    /// What the data are a sample of; the verdict speaks of nothing else.
    pub population: String,
    /// Who says what, where there are several ways to count. May be empty.
    pub said: String,
    /// What it rests on, in one line with rounded numbers, for the list of verdicts. If it is empty, that
    /// shows the estimate.
    #[serde(default)]
    pub evidence: String,
    /// The estimate.
    pub estimate: String,
    /// The interval with its level.
    pub interval: String,
    /// What the estimate is a share or a mean of.
    pub denominator: String,
    /// The value the statement was held against.
    pub threshold: String,
    /// How many more puzzles would decide it. May be empty.
    pub more: String,
    /// Cases that contradict the statement.
    pub counterexamples: Vec<Vec<Span>>,
}

impl Verdict {
    /// Returns what there is to read about it, with its names.
    pub(crate) fn values(&self) -> [(&'static str, &str); 7] {
        [
            ("Population", &self.population),
            ("Who says what", &self.said),
            ("Estimate", &self.estimate),
            ("Interval", &self.interval),
            ("Denominator", &self.denominator),
            ("Threshold", &self.threshold),
            ("To decide it", &self.more),
        ]
    }
}

/// Returns how many statements have each outcome, in words; nothing if there is no statement.
pub(crate) fn outcome_counts(findings: &[Group<'_>]) -> Vec<(Outcome, String)> {
    let verdicts = findings.iter().flat_map(|(_, verdicts)| verdicts);
    let outcomes: Vec<Outcome> = verdicts.map(|verdict| verdict.verdict).collect();
    if outcomes.is_empty() {
        return Vec::new();
    }
    let count = |outcome| outcomes.iter().filter(|&&other| other == outcome).count();
    let counts = Outcome::ALL.iter().map(|&outcome| (outcome, count(outcome)));
    let needs_data =
        |outcome| matches!(outcome, Outcome::Supported | Outcome::Refuted | Outcome::Undecided);
    let is_shown = |&(outcome, count): &(Outcome, usize)| count > 0 || needs_data(outcome);
    let words = |(outcome, count): (Outcome, usize)| match (outcome, count) {
        (Outcome::Depends, 1) => (outcome, "1 depends on the reader".to_owned()),
        (Outcome::Depends, _) => (outcome, format!("{count} depend on the reader")),
        _ => (outcome, format!("{count} {}", outcome.word())),
    };
    counts.filter(is_shown).map(words).collect()
}

/// Says what the verdicts are counted of: claims, and the groups that all of them were put to.
pub(crate) fn verdicts_in_all(findings: &[Group<'_>]) -> String {
    let groups = findings.len() as u64;
    let verdicts: u64 = findings.iter().map(|(_, verdicts)| verdicts.len() as u64).sum();
    let each = verdicts / groups.max(1);
    match findings {
        [_] => format!("Of {}", counted(verdicts, "claim", "claims")),
        many if many.iter().all(|(_, verdicts)| verdicts.len() as u64 == each) => format!(
            "Of {verdicts} verdicts ({} in {groups} populations)",
            counted(each, "claim", "claims")
        ),
        _ => format!("Of {verdicts} verdicts"),
    }
}

/// Returns what the verdicts are about, each population once.
pub(crate) fn populations<'a>(findings: &[Group<'a>]) -> Vec<&'a str> {
    let verdicts = findings.iter().flat_map(|(_, verdicts)| verdicts);
    let mut populations: Vec<&str> = Vec::new();
    for population in verdicts.map(|verdict| verdict.population.as_str()) {
        if !population.is_empty() && !populations.contains(&population) {
            populations.push(population);
        }
    }
    populations
}

/// A table; on the page its rows can be sorted by any column.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The anchor on the page; see [`Section::id`].
    pub id: String,
    /// What the table shows, with its denominators.
    pub caption: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows; each has one cell per column.
    pub rows: Vec<Vec<Cell>>,
    /// The path of the same data as CSV, relative to the report.
    pub file: Option<String>,
}

/// The head of a column.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Column {
    /// The name.
    pub title: String,
    /// What the name means. May be empty.
    pub help: String,
    /// If the column holds numbers, which are set flush right.
    pub numeric: bool,
}

/// A cell of a table.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// The text.
    pub text: String,
    /// The number the row is sorted by. Cells without a finite number are sorted by their text, after
    /// all others.
    pub sort: Option<f64>,
    /// What links lead to, unique on the page.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
}

/// A picture as a page shows it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Plate {
    /// The picture, on a ground of its own or for a white page.
    pub light: Picture,
    /// The same picture, as large, for dark screens; without it they show the other on white.
    #[serde(default)]
    pub dark: Option<Picture>,
}

impl From<Picture> for Plate {
    fn from(light: Picture) -> Self {
        Self { light, dark: None }
    }
}

/// A picture with a caption.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Illustration {
    /// The anchor on the page; see [`Section::id`].
    pub id: String,
    /// The picture.
    pub picture: Plate,
    /// The same picture, at most 85 mm wide, for narrow screens.
    #[serde(default)]
    pub narrow: Option<Plate>,
    /// The caption.
    pub caption: String,
    /// Labels and paths, relative to the report, of the picture and its data. Markdown shows the first
    /// that is an SVG or a PNG.
    pub files: Vec<(String, String)>,
}

/// Something to keep in mind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// How much it weighs.
    pub kind: NoteKind,
    /// The text.
    pub text: String,
}

/// How much a note weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum NoteKind {
    /// It limits what can be concluded.
    Warning,
    /// It explains.
    Remark,
}

impl NoteKind {
    pub(crate) const fn heading(self) -> &'static str {
        match self {
            Self::Warning => "Warning",
            Self::Remark => "Remark",
        }
    }
}

/// A position chosen to show a split.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Specimen {
    /// The anchor on the page; see [`Section::id`]. May be empty: then nothing leads there.
    #[serde(default)]
    pub id: String,
    /// The heading. May be empty.
    #[serde(default)]
    pub title: String,
    /// The diagram of the position.
    pub board: Plate,
    /// The open cells of the house in a row, the naked side first.
    pub strip: Option<Plate>,
    /// The puzzle as a line of 81 characters.
    pub line: String,
    /// What there is to see.
    pub description: String,
    /// Which puzzle of which collection it is.
    pub origin: String,
    /// Why it was chosen. May be empty.
    pub score: String,
    /// Labels and paths of the pictures, as in [`Illustration::files`].
    pub files: Vec<(String, String)>,
}
