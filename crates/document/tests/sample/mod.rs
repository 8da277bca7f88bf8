//! Documents with every kind of block. All figures in them are invented.

use tallyhouse_document::{
    Block, Cell, Column, Document, Illustration, Note, NoteKind, Outcome, Plate, Section, Span,
    Specimen, Table, Verdict,
};
use tallyhouse_figures::Picture;

const INTERVALS: &str = include_str!("intervals.svg");
const SHARES: &str = include_str!("shares.svg");
const DIAGRAM: &str = include_str!("diagram.svg");
const STRIP: &str = include_str!("strip.svg");

const LINE: &str =
    "5...........6.....3...8.......1.......7..4......9....2.......6......1....7..4....";

/// Returns an ordinary report.
pub(crate) fn document() -> Document {
    Document {
        leads: false,
        title: "Which subsets need to be looked for?".into(),
        subtitle: "Ten thousand invented puzzles, tested against three statements".into(),
        sections: vec![verdicts(), counts(), specimens()],
        provenance: vec![
            ("Collection".into(), "10,000 puzzles by random deletion, seed 20261".into()),
            (
                "Digest".into(),
                "b3:9f0c2d1e7a6b5c4d3e2f1a0b9c8d7e6f5a4b3c2d1e0f9a8b7c6d5e4f3a2b1c0d".into(),
            ),
        ],
        command: "tallyhouse report studies/naked-quadruples.toml --seed 20261".into(),
        ..Document::default()
    }
}

fn verdicts() -> Section {
    let verdict = |id: &str, verdict, statement: &str, values: [&str; 5], cases: &[Span]| Verdict {
        id: id.into(),
        statement: statement.into(),
        verdict,
        population: "Minimal puzzles by random deletion".into(),
        said: String::new(),
        evidence: String::new(),
        estimate: values[0].into(),
        interval: values[1].into(),
        denominator: values[2].into(),
        threshold: values[3].into(),
        more: values[4].into(),
        counterexamples: cases.iter().map(|case| vec![case.clone()]).collect(),
    };
    Section {
        id: "verdicts".into(),
        title: "What the data say".into(),
        intro: "Each statement was written down with its threshold before anything was counted."
            .into(),
        blocks: vec![
            Block::Verdicts(vec![
                verdict(
                    "quadruples",
                    Outcome::Supported,
                    "Whoever looks for pairs and triples on both sides misses less than 1 puzzle in 100.",
                    [
                        "0.33 %",
                        "0.24 % to 0.46 % (95 %, Wilson)",
                        "33 of 10,000 puzzles",
                        "1 %",
                        "",
                    ],
                    &[],
                ),
                verdict(
                    "small-side",
                    Outcome::Refuted,
                    "The naked side is never larger than the hidden side.",
                    ["4.1 %", "3.7 % to 4.5 % (95 %, Wilson)", "410 of 10,000 splits", "0 %", ""],
                    &[
                        Span::Puzzle(LINE.into()),
                        Span::Words(
                            "Puzzle 1042: r5c3, r5c5, r5c7 and r5c8 against r5c1 and r5c2".into(),
                        ),
                    ],
                ),
                verdict(
                    "boxes-first",
                    Outcome::Undecided,
                    "Boxes show more subsets per glance than rows.",
                    [
                        "1.02",
                        "0.97 to 1.07 (95 %, by puzzle)",
                        "per 1,000 glances in 10,000 puzzles",
                        "1",
                        "about 52,000 more puzzles",
                    ],
                    &[],
                ),
            ]),
            Block::Note(Note {
                kind: NoteKind::Warning,
                text: "Puzzles by random deletion are not a uniform sample of all minimal puzzles."
                    .into(),
            }),
        ],
    }
}

fn counts() -> Section {
    let column = |title: &str, help: &str, numeric| Column {
        title: title.into(),
        help: help.into(),
        numeric,
    };
    let row = |name: &str, count: Option<u32>, share: Option<f64>, remark: &str| {
        vec![
            Cell { text: name.into(), sort: None, id: None },
            Cell {
                text: count.map_or("not counted".into(), |n| n.to_string()),
                sort: count.map(f64::from),
                id: None,
            },
            Cell { text: share.map_or("–".into(), |s| format!("{s} %")), sort: share, id: None },
            Cell { text: remark.into(), sort: None, id: None },
        ]
    };
    Section {
        id: "counts".into(),
        title: "How often each shape occurs".into(),
        intro: String::new(),
        blocks: vec![
            Block::Paragraph(
                "A shape is the number of open cells of a house with the size of its naked side."
                    .into(),
            ),
            Block::Table(Table {
                id: "shapes".into(),
                caption: "Proper subsets by shape, in 12,814 quiet positions of 10,000 puzzles."
                    .into(),
                columns: vec![
                    column("Shape", "", false),
                    column(
                        "Subsets",
                        "Proper subsets of this shape; each split counts once.",
                        true,
                    ),
                    column("Share of houses", "Of the houses with that many open cells.", true),
                    column("Remark", "", false),
                ],
                rows: vec![
                    row("open 5, naked 3", Some(9120), Some(4.5), "the most frequent shape of all"),
                    row("open 10, naked 4", None, None, "does not exist"),
                    row("open 8, naked 4", Some(33), Some(0.33), "the other side is hidden 4"),
                    row("open 4, naked 2", Some(870), Some(12.25), ""),
                ],
                file: Some("tables/shapes.csv".into()),
            }),
            Block::Figure(figure(
                "missed",
                INTERVALS,
                [85.0, 95.25],
                "Shapes that each rulebook misses, of 10,000 puzzles each.",
            )),
            Block::Figure(figure(
                "hardest",
                SHARES,
                [170.0, 65.0],
                "The hardest look that a puzzle needs, by collection.",
            )),
            Block::Note(Note {
                kind: NoteKind::Remark,
                text: "Both figures show invented numbers.".into(),
            }),
            Block::Files(vec![("All numbers as CSV".into(), "tables/all.csv".into())]),
            Block::Steps(vec!["Look for naked pairs.".into(), "Then for hidden ones.".into()]),
            Block::Code("open  naked  subsets\n   5      3     9120\n".into()),
        ],
    }
}

/// Returns a picture of a size in millimetres.
fn picture(svg: &str, [width, height]: [f64; 2], alt: &str) -> Plate {
    Picture { svg: svg.into(), width, height, alt: alt.into(), ..Picture::default() }.into()
}

fn figure(id: &str, svg: &str, size: [f64; 2], caption: &str) -> Illustration {
    Illustration {
        id: id.into(),
        picture: picture(svg, size, &format!("{caption} All values are in the CSV file.")),
        narrow: None,
        caption: caption.into(),
        files: ["csv", "svg", "png"]
            .map(|ending| (ending.to_uppercase(), format!("figures/{id}.{ending}")))
            .to_vec(),
    }
}

fn specimens() -> Section {
    Section {
        id: "specimens".into(),
        title: "A specimen".into(),
        intro: "One house, seen from both sides.".into(),
        blocks: vec![Block::Specimen(Specimen {
            id: "specimen-8-4".into(),
            title: "Six open cells: naked quad, hidden pair".into(),
            board: picture(DIAGRAM, [85.0, 116.75], "A board with a split of row 5."),
            strip: Some(picture(STRIP, [85.0, 50.0], "The open cells of row 5.")),
            line: LINE.into(),
            description: "Cells r5c3, r5c5, r5c7 and r5c8 hold only 2, 6, 7 and 8.".into(),
            origin: "Puzzle 1042 of 10,000".into(),
            score: "one of 33 with this shape".into(),
            files: vec![("SVG".into(), "specimens/1042.svg".into())],
        })],
    }
}

/// Returns a report that says `text` wherever it can say something.
#[allow(dead_code, reason = "not every test needs it")]
pub(crate) fn saying(text: &str) -> Document {
    let say = || text.to_string();
    let column = || Column { title: say(), help: say(), numeric: true };
    let cell = || Cell { text: say(), sort: Some(1.0), id: None };
    let verdict = |id: &str, verdict| Verdict {
        id: id.into(),
        statement: say(),
        verdict,
        population: say(),
        said: say(),
        evidence: say(),
        estimate: say(),
        interval: say(),
        denominator: say(),
        threshold: say(),
        more: say(),
        counterexamples: vec![vec![Span::Words(say()), Span::Puzzle(say())]],
    };
    let picture = || {
        let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"/>";
        picture(svg, [9.0, 9.0], text)
    };
    Document {
        leads: true,
        title: say(),
        subtitle: say(),
        sections: vec![Section {
            id: "section".into(),
            title: say(),
            intro: say(),
            blocks: vec![
                Block::Paragraph(say()),
                Block::Steps(vec![say()]),
                Block::Verdicts(vec![
                    verdict("a", Outcome::Refuted),
                    verdict("b", Outcome::Supported),
                ]),
                Block::Table(Table {
                    id: "table".into(),
                    caption: say(),
                    columns: vec![column(), column()],
                    rows: vec![vec![cell(), cell()]],
                    file: Some("table.csv".into()),
                }),
                Block::Figure(Illustration {
                    id: "figure".into(),
                    picture: picture(),
                    narrow: Some(picture()),
                    caption: say(),
                    files: vec![(say(), "figure.svg".into()), (say(), "figure.csv".into())],
                }),
                Block::Code(say()),
                Block::Files(vec![(say(), "files.csv".into())]),
                Block::Note(Note { kind: NoteKind::Remark, text: say() }),
                Block::Specimen(Specimen {
                    id: "specimen".into(),
                    title: say(),
                    board: picture(),
                    strip: Some(picture()),
                    line: say(),
                    description: say(),
                    origin: say(),
                    score: say(),
                    files: vec![(say(), "specimen.svg".into())],
                }),
            ],
        }],
        provenance: vec![(say(), say())],
        command: say(),
        ..Document::default()
    }
}
