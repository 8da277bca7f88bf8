//! Rulebooks head to head, in words, tables and pictures.

use tallyhouse_analysis::compare::{
    AgainstBase, CompareReport, ComparedRulebook, PairedReach, ReachShare, ReaderCosts, Stop,
};
use tallyhouse_analysis::order_search::CostDifference;
use tallyhouse_document::{
    Block, Cell, Document, Illustration, Section, Table, to_markdown, to_text,
};
use tallyhouse_engine::Position;
use tallyhouse_figures::{Diagram, Figure, Theme, Width};
use tallyhouse_stats::Limits;
use tallyhouse_words::{Measured, count, counted, list, sentence_start};

use crate::ReportError;
use crate::cells::{NONE, column, limit_cells, number, sorted, text, words};
use crate::charts::{COMPARISON_FILE, HeadToHead, rulebooks};
use crate::saving::Saver;
use crate::specimen::{Origin, Specimen};

/// Says what was counted, on which puzzles and how.
#[must_use]
pub fn basis(report: &CompareReport) -> String {
    let puzzles = counted(report.puzzles, "puzzle", "puzzles");
    let families = match report.clusters {
        clusters if clusters < report.puzzles => {
            format!(" in {}", counted(clusters, "family", "families"))
        }
        _ => String::new(),
    };
    let by_weight =
        if report.weighted > 0 { " Means and shares are by weight, counts are not." } else { "" };
    format!(
        "{}: {puzzles}{families}. Each is walked one by one, through rows, columns and boxes, under each \
         rulebook, until that is stuck. Glances are means per puzzle, solved or not: a walk that stops \
         early costs less. A puzzle is fully reached if the walk ends no earlier than the full ladder's. \
         Differences are paired; intervals are {}.{by_weight}",
        sentence_start(&report.population),
        report.level
    )
}

/// Returns what was found, most important first. Clauses that begin in lower case or with a name and end
/// without a stop.
#[must_use]
pub fn findings(report: &CompareReport) -> Vec<String> {
    let base = report.base();
    let of_other = |(book, against): (&ComparedRulebook, &AgainstBase)| {
        let [name, base_name] = [&book.name, &base.name];
        let costs = |of: fn(&ReaderCosts) -> Option<&CostDifference>| {
            let told = book.readers.iter().filter_map(|costs| Some((&costs.reader, of(costs)?)));
            let told: Vec<_> = told.collect();
            if told.iter().all(|(_, cost)| is_alike(cost)) {
                return format!("{name} costs every reader as much as {base_name}");
            }
            let told = told.iter().map(|(who, cost)| format!("{who} {}", difference_words(cost)));
            format!("{name} costs {}", list(told))
        };
        let cost = format!("beside {base_name}, {}", costs(|costs| costs.against_base.as_ref()));
        let AgainstBase { solved, .. } = against;
        let reach = format!(
            "of {} {base_name} solves {} and {name} {}, {}; {} solved by {base_name} alone, {} by {name} \
             alone",
            counted(report.puzzles, "puzzle", "puzzles"),
            count(base.solved.puzzles),
            count(book.solved.puzzles),
            points_words(solved),
            are(solved.base_only),
            none_or(solved.this_only),
        );
        let on_both = (solved.both > 0).then(|| {
            let both = counted(solved.both, "puzzle", "puzzles");
            let costs = costs(|costs| costs.where_both_solve.as_ref());
            format!("on the {both} that both solve, {costs}")
        });
        [Some(cost), Some(reach), on_both].into_iter().flatten()
    };
    report.others().flat_map(of_other).chain(where_glances_go(report)).collect()
}

/// Tests if each puzzle costs as much.
fn is_alike(cost: &CostDifference) -> bool {
    cost.relative_glances.is_none() && cost.more_glances.value == 0.0
}

fn none_or(number: u64) -> String {
    if number == 0 { "none".to_owned() } else { count(number) }
}

/// Writes `2 are`, `1 is` or `none is`.
fn are(number: u64) -> String {
    format!("{} {}", none_or(number), if number > 1 { "are" } else { "is" })
}

/// Writes by which part something costs less or more.
fn difference_words(cost: &CostDifference) -> String {
    match cost.relative_glances {
        None if is_alike(cost) => "as much".to_owned(),
        None => format!("{} glances more", cost.words()),
        Some(_) => cost.less_or_more(),
    }
}

/// Writes a difference of shares in points.
fn points_words(pairs: &PairedReach) -> String {
    let more = points(pairs);
    let Measured { value, low, high } = more;
    if value == 0.0 {
        return "as many".to_owned();
    }
    let (size, which) = match value < 0.0 {
        true => (Measured { value: -value, low: -high, high: -low }, "fewer"),
        false => (more, "more"),
    };
    match pairs.more.low.or(pairs.more.high) {
        Some(_) => format!("{} points {which}", size.number()),
        None => {
            let size = size.number_value();
            format!("{size} points {which} (no interval: too few puzzles differ)")
        }
    }
}

/// Writes a difference of shares in points for a table; `certain` if it follows from the definitions.
fn points_cell(pairs: &PairedReach, certain: bool) -> Cell {
    let more = points(pairs);
    let words = match pairs.more.low.or(pairs.more.high) {
        Some(_) => more.number(),
        None if certain => "0, by the definitions".to_owned(),
        None => format!("{} (no interval)", more.number_value()),
    };
    sorted(words, more.value)
}

/// A difference of shares in points, with ends as far as the data tell them.
fn points(pairs: &PairedReach) -> Measured {
    let Limits { value, low, high } = pairs.more;
    let measured = Measured {
        value: value.unwrap_or_default(),
        low: low.unwrap_or(f64::NEG_INFINITY),
        high: high.unwrap_or(f64::INFINITY),
    };
    measured.times(100.0)
}

/// Names the look that takes most of the first reader's glances, under each rulebook.
fn where_glances_go(report: &CompareReport) -> Option<String> {
    let dearest = |book: &ComparedRulebook| {
        let looks = book.readers.first()?.looks.iter();
        let share = |share: Limits| share.value.unwrap_or_default();
        let dearest = looks.max_by(|a, b| share(a.share).total_cmp(&share(b.share)))?;
        let [share, _] = limit_cells(dearest.share).map(|cell| cell.text);
        Some(format!("{} under {} ({share})", dearest.look, book.name))
    };
    let told: Vec<String> = report.rulebooks.iter().filter_map(dearest).collect();
    let reader = report.readers.first()?;
    (!told.is_empty())
        .then(|| format!("the look that takes most glances of {reader} is {}", list(told)))
}

/// Returns the tables: glances, reach, and where the glances go; `files` are links to the same data.
#[must_use]
pub fn tables(report: &CompareReport, files: Option<[String; 3]>) -> [Table; 3] {
    let [glances_file, reach_file, looks_file] =
        files.map(|files| files.map(Some)).unwrap_or_default();
    [
        Table { file: glances_file, ..glances_table(report) },
        Table { file: reach_file, ..reach_table(report) },
        Table { file: looks_file, ..looks_table(report) },
    ]
}

fn glances_table(report: &CompareReport) -> Table {
    let base = &report.base().name;
    let rows = report.rulebooks.iter().flat_map(|book| {
        book.readers.iter().map(move |costs| {
            let glances = costs.glances.value;
            let mean = match costs.glances_estimate {
                Some(estimate) => Measured::from(estimate).number(),
                None => count(glances.round() as u64),
            };
            let beside = |cost: &Option<CostDifference>| match cost {
                Some(cost) => sorted(difference_words(cost), cost.more_glances.value),
                None => text(NONE),
            };
            vec![
                text(book.name.clone()),
                text(costs.reader.clone()),
                sorted(mean, glances),
                beside(&costs.against_base),
                beside(&costs.where_both_solve),
            ]
        })
    });
    Table {
        id: "compare-glances".to_owned(),
        caption: format!(
            "Glances per puzzle, solved or not, with their interval; {}",
            counted(report.puzzles, "puzzle", "puzzles")
        ),
        columns: vec![
            words("rulebook", ""),
            words("reader", ""),
            column("glances", "mean per puzzle"),
            column(&format!("beside {base}"), "paired, on all puzzles"),
            column("where both solve", "the same, on the puzzles that both solve"),
        ],
        rows: rows.collect(),
        file: None,
    }
}

fn reach_table(report: &CompareReport) -> Table {
    let base = &report.base().name;
    let share = |reach: &ReachShare, certain: bool| {
        let [value, interval] = limit_cells(reach.share);
        let told = match (certain, interval.text.as_str()) {
            (true, _) => "by the definitions".to_owned(),
            (false, NONE) => value.text,
            (false, interval) => format!("{} ({interval})", value.text),
        };
        [number(reach.puzzles), sorted(told, reach.share.value.unwrap_or_default())]
    };
    let rows = report.rulebooks.iter().map(|book| {
        let mut row = vec![text(book.name.clone())];
        row.extend(share(&book.solved, false));
        row.extend(share(&book.reached, book.reaches_all));
        match &book.against_base {
            None => row.extend([NONE; 4].map(text)),
            Some(AgainstBase { solved, reached, .. }) => {
                row.extend([solved.this_only, solved.base_only].map(number));
                let certain = book.reaches_all && report.base().reaches_all;
                row.extend([solved, reached].map(|pairs| points_cell(pairs, certain)));
            }
        }
        row
    });
    Table {
        id: "compare-reach".to_owned(),
        caption: format!(
            "How far rulebooks get, of {}",
            counted(report.puzzles, "puzzle", "puzzles")
        ),
        columns: vec![
            words("rulebook", ""),
            column("solved", "puzzles"),
            column("share solved", "of all puzzles"),
            column(
                "fully reached",
                "puzzles where the walk ends no earlier than the full ladder's",
            ),
            column("share reached", "of all puzzles"),
            column("it alone", "puzzles that it solves and the first rulebook does not"),
            column(
                &format!("{base} alone"),
                "puzzles that the first rulebook solves and it does not",
            ),
            column("points more solved", "difference of the shares, paired"),
            column("points more reached", "difference of the shares, paired"),
        ],
        rows: rows.collect(),
        file: None,
    }
}

fn looks_table(report: &CompareReport) -> Table {
    let rows = report.rulebooks.iter().flat_map(|book| {
        (0..book.order.looks().len()).map(move |look| {
            let of_look = |costs: &ReaderCosts| {
                let [value, interval] = limit_cells(costs.looks[look].share);
                let told = match interval.text.as_str() {
                    NONE => value.text,
                    interval => format!("{} ({interval})", value.text),
                };
                sorted(told, value.sort.unwrap_or_default())
            };
            let first = book.readers.first().map(|costs| &costs.looks[look]);
            let mut row = vec![text(book.name.clone()), text(book.order.looks()[look].to_string())];
            row.push(number(first.map_or(0, |first| first.finds)));
            row.extend(book.readers.iter().map(of_look));
            row
        })
    });
    let mut columns = vec![
        words("rulebook", ""),
        words("look", "in the order of the rulebook"),
        column("finds", "of all walks, the same for every reader"),
    ];
    columns.extend(
        report.readers.iter().map(|reader| column(reader, "share of this reader's glances")),
    );
    Table {
        id: "compare-looks".to_owned(),
        caption: format!(
            "Where the glances go: the share that each look takes, in vain or not, on {}",
            counted(report.puzzles, "puzzle", "puzzles")
        ),
        columns,
        rows: rows.collect(),
        file: None,
    }
}

/// A puzzle that only one of two rulebooks solves.
pub struct ShownStop {
    /// The name of its picture.
    pub name: String,
    /// The title of its picture.
    pub title: String,
    /// What there is to see, in a sentence.
    pub words: String,
    /// The puzzle as a line of 81 characters.
    pub line: String,
    /// The position where the other rulebook stops; none if no subset leads on there.
    pub specimen: Option<Specimen>,
}

impl ShownStop {
    /// Returns the board where the other rulebook stops, with what leads on.
    #[must_use]
    pub fn board(&self) -> Option<Diagram> {
        let diagram = self.specimen.as_ref()?.diagram();
        Some(Diagram { title: self.title.clone(), ..diagram })
    }
}

/// Returns the first puzzle that only one of two rulebooks solves, for each pair with the base and each of
/// the two.
///
/// # Errors
/// If a position is not what it was.
pub fn stops(report: &CompareReport) -> Result<Vec<ShownStop>, ReportError> {
    let base = &report.base().name;
    let pairs = report.others().flat_map(|(book, against)| {
        let base_stops = against.base_stops.first().map(|stop| (&book.name, base, stop));
        let this_stops = against.this_stops.first().map(|stop| (base, &book.name, stop));
        [base_stops, this_stops].into_iter().flatten()
    });
    let shown = (1..).zip(pairs);
    shown.map(|(number, (solver, stuck, stop))| shown_stop(number, solver, stuck, stop)).collect()
}

fn shown_stop(
    number: u32,
    solver: &str,
    stuck: &str,
    stop: &Stop,
) -> Result<ShownStop, ReportError> {
    let origin = Origin {
        source: stop.source.clone(),
        number: stop.puzzle,
        line: Some(stop.line),
        ..Origin::default()
    };
    let open = counted(stop.open_cells as u64, "open cell", "open cells");
    let mut words = format!("Only {solver} solves {origin}: {stuck} stops with {open}");
    let mut specimen = None;
    if let Some(find) = stop.find {
        let (house, cells) = (find.subset.house, find.subset.cells);
        words += &format!(", where {solver} goes on with {} in {house}", find.look);
        let position = Position::from_states(&stop.states)?;
        // The number of the position in its walk is shown nowhere.
        specimen = Some(Specimen::of_split(origin, stop.givens, 0, position, house, cells)?);
    }
    Ok(ShownStop {
        name: format!("stop-{number}"),
        title: format!("Where {stuck} stops"),
        words: words + ".",
        line: stop.givens.to_string(),
        specimen,
    })
}

/// Writes the comparison as plain text.
#[must_use]
pub fn comparison_text(report: &CompareReport) -> String {
    let mut text = String::new();
    for finding in findings(report) {
        text += &format!("{}.\n", sentence_start(&finding));
    }
    text += &format!("\n{}\n", basis(report));
    for table in tables(report, None) {
        text += &format!("\n{}", to_text(&table));
    }
    text
}

/// Writes the files of a comparison: `compare.json`, the tables as CSV, the chart and the boards where
/// rulebooks stop as pictures, and `compare.md`.
///
/// # Errors
/// If a picture can't be drawn or a file can't be written.
pub fn write_comparison(
    report: &CompareReport,
    saver: Saver<'_>,
    theme: Theme,
    [chart_width, board_width]: [Width; 2],
) -> Result<(), ReportError> {
    saver.file(COMPARISON_FILE, serde_json::to_string_pretty(report)?.as_bytes())?;
    let files = report.files()?;
    let written = files.iter().map(|(name, bytes)| saver.file(name, bytes));
    let written = written.collect::<Result<Vec<_>, _>>()?;
    let all = HeadToHead::of_report(report)?;
    let figure = |figure: &dyn Figure, name: &str, caption: &str, width| {
        let picture = figure.draw(theme, width)?;
        let mut written = saver.picture(name, &picture)?;
        written.push(saver.data(name, figure)?);
        Ok::<Block, ReportError>(Block::Figure(Illustration {
            id: format!("figure-{name}"),
            picture: picture.into(),
            narrow: None,
            caption: caption.to_owned(),
            files: written.iter().map(|file| file.labelled("")).collect(),
        }))
    };
    let mut glances = Vec::new();
    if let Some(chart) = rulebooks(&all) {
        let caption = chart.heading.title.clone();
        glances.push(figure(&chart, "rulebooks", &caption, chart_width)?);
    }
    let mut stopped = Vec::new();
    for stop in stops(report)? {
        stopped.push(Block::Paragraph(stop.words.clone()));
        stopped.push(Block::Code(stop.line.clone()));
        if let Some(board) = stop.board() {
            stopped.push(figure(&board, &stop.name, &board.title, board_width)?);
        }
    }
    let links = [0, 1, 2].map(|file: usize| written[file].link());
    let [of_glances, of_reach, of_looks] = tables(report, Some(links));
    glances.push(Block::Table(of_glances));
    let section = |id: &str, title: &str, blocks: Vec<Block>| Section {
        id: id.to_owned(),
        title: title.to_owned(),
        intro: String::new(),
        blocks,
    };
    let found = findings(report).into_iter();
    let found = found.map(|words| Block::Paragraph(format!("{}.", sentence_start(&words))));
    let mut sections = vec![
        section("in-short", "In short", found.collect()),
        section("glances", "What they cost", glances),
        section("reach", "How far they get", vec![Block::Table(of_reach)]),
        section("looks", "Where the glances go", vec![Block::Table(of_looks)]),
    ];
    if !stopped.is_empty() {
        stopped.push(Block::Files(vec![written[3].labelled("The first of them as")]));
        sections.push(section("stops", "Puzzles that only one solves", stopped));
    }
    let document = Document {
        title: all.title(),
        subtitle: basis(report),
        sections,
        provenance: provenance(report),
        ..Document::default()
    };
    saver.file("compare.md", to_markdown(&document).as_bytes())?;
    Ok(())
}

fn provenance(report: &CompareReport) -> Vec<(String, String)> {
    let program = concat!("tallyhouse ", env!("CARGO_PKG_VERSION"));
    let mut provenance = vec![
        ("Program".to_owned(), program.to_owned()),
        ("Collection".to_owned(), list(&report.sources)),
    ];
    provenance.extend(report.notes.iter().map(|note| ("Note".to_owned(), note.clone())));
    provenance.push(("BLAKE3 of the rows".to_owned(), report.blake3.clone()));
    let rulebooks = report.rulebooks.iter();
    let looks =
        |book: &ComparedRulebook| (format!("Looks of {}", book.name), book.order.to_string());
    provenance.extend(rulebooks.map(looks));
    provenance
}
