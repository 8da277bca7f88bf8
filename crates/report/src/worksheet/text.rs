//! What a worksheet says, and the whole of it as Markdown.

use tallyhouse_board::{House, Puzzle};
use tallyhouse_document::{Block, Document, Section, Table, to_markdown};
use tallyhouse_words::{count, counted, plural};

use super::tables::TIMES;
use super::wish::singular;
use super::{Item, ItemKind, Worksheet};
use crate::cells::{text, words};
use crate::specimen::digit_words;

/// What the numbers of quiet positions are.
const QUIET: &str = "Quiet positions, counted from 1, are those without singles, with all finds of a look \
                     applied at once.";

impl Worksheet {
    /// Returns the title: `Practice: hidden pairs`.
    #[must_use]
    pub fn title(&self) -> String {
        format!("Practice: {}", self.settings.wish.plural())
    }

    /// Says what is to be done.
    fn task(&self) -> String {
        let wish = &self.settings.wish;
        match self.settings.kind {
            ItemKind::Board => format!(
                "Each board can be finished with {}, but not without {} (at any number of open cells, \
                 seen from either side), nor with what comes before them.",
                wish.order_words(),
                wish.kind_plural()
            ),
            ItemKind::House => "Each strip shows the open cells of one house with their pencil marks, at \
                 a moment when the board has no single left. Find the cells that together hold no more \
                 digits than there are cells (or the digits with no more places), and strike out what \
                 goes. There is one way to split the house, and no other."
                .to_owned(),
        }
    }

    /// Says how the items are ordered.
    fn order(&self) -> String {
        let reader = &self.settings.reader.name;
        let (others, search) = match self.settings.kind {
            ItemKind::Board => (
                " + other subsets of the position",
                "in rows, columns and boxes, each from 1 to 9, up to the find where it is first needed",
            ),
            ItemKind::House => ("", "in this house, up to the find"),
        };
        format!(
            "They stand from easy to hard. Score = glances + open cells of the house{others}; glances \
             are those of the reader '{reader}', who makes the look {search}. The score is a choice, \
             not a measurement."
        )
    }

    /// Says where the items come from.
    fn origin(&self) -> String {
        let (examined, items) = (&self.examined, self.items.len() as u64);
        format!(
            "Of {} of {}, {} {}; {} drawn from them with seed {}. No puzzle comes twice, not even \
             mirrored, turned or relabelled.",
            counted(examined.puzzles, "puzzle", "puzzles"),
            examined.collection,
            count(self.fitting),
            plural(self.fitting, "fits", "fit"),
            plural(items, "this one was", "these were"),
            self.settings.seed,
        )
    }

    /// Says what is to be done, how the items are ordered and where they come from.
    #[must_use]
    pub fn intro(&self) -> [String; 3] {
        [self.task(), self.order(), self.origin()]
    }

    /// Says how the key is to be read.
    pub(super) fn legend() -> String {
        format!(
            "Filled: the cells of the naked side. Dashed: those of the hidden side. Struck through: what \
             goes. {QUIET}"
        )
    }

    /// Says how times are taken.
    pub(super) fn timing(&self) -> [String; 2] {
        let boards = match self.settings.kind {
            ItemKind::Board => {
                " Times of whole boards are yours alone: timings takes those of houses."
            }
            ItemKind::House => "",
        };
        [
            "Seconds run from the first glance at an item to the answer. Found is yes if the answer stands \
             in the key, no if the search went to its end and nothing was found, gave-up if it was broken \
             off."
                .to_owned()
                + boards,
            "Persons are numbers, never names. Ask before you time anybody, say what it is for, and \
             strike out the times of anybody who asks for it."
                .to_owned(),
        ]
    }

    /// Returns the whole worksheet as Markdown.
    pub(super) fn markdown(&self) -> String {
        let [task, order, origin] = self.intro();
        let items = self.items.iter().flat_map(Item::blocks).collect();
        let key = self.items.iter().map(|item| {
            Block::Paragraph(format!("Item {}, {}: {}", item.number, item.place(), item.key()))
        });
        let section = |id: &str, title: &str, intro: String, blocks| Section {
            id: id.to_owned(),
            title: title.to_owned(),
            intro,
            blocks,
        };
        let [how, persons] = self.timing();
        let digest = self.examined.digest.iter().cloned();
        let mut provenance = vec![
            ("Program".to_owned(), concat!("tallyhouse ", env!("CARGO_PKG_VERSION")).to_owned()),
            ("Puzzles".to_owned(), self.examined.collection.clone()),
        ];
        provenance.extend(digest.map(|digest| ("BLAKE3 of the rows".to_owned(), digest)));
        let notes = self.examined.notes.iter();
        provenance.extend(notes.map(|note| ("Note".to_owned(), note.clone())));
        to_markdown(&Document {
            title: self.title(),
            subtitle: format!("{task} {order}"),
            sections: vec![
                section("items", "Items", origin, items),
                section("times", "Times", how, vec![Block::Paragraph(persons), self.form()]),
                section("key", "Key", QUIET.to_owned(), key.collect()),
            ],
            provenance,
            ..Document::default()
        })
    }

    fn form(&self) -> Block {
        let row = |row: [String; 5]| row.map(text).to_vec();
        Block::Table(Table {
            id: "form".to_owned(),
            caption: "One row for each person and item.".to_owned(),
            columns: TIMES.split(',').map(|title| words(title, "")).collect(),
            rows: self.form_rows().into_iter().map(row).collect(),
            file: Some("times.csv".to_owned()),
        })
    }
}

impl Item {
    /// Returns the heading: `Item 3`, of a house with its name.
    pub(super) fn heading(&self) -> String {
        match self.kind {
            ItemKind::Board => format!("Item {}", self.number),
            ItemKind::House => format!("Item {}: {}", self.number, self.specimen.house()),
        }
    }

    /// Says what is asked, and how hard it is.
    pub(super) fn question(&self) -> String {
        let look = singular(self.look);
        let score = self.score.words();
        match self.kind {
            ItemKind::Board => format!("Look for a {look}. Score {score}."),
            ItemKind::House => format!("Find a {look}. Score {score}."),
        }
    }

    fn blocks(&self) -> Vec<Block> {
        let shown = match self.kind {
            ItemKind::Board => grid(&self.specimen.puzzle),
            ItemKind::House => self.marks(),
        };
        let words = format!("{}. {}", self.heading(), self.question());
        vec![Block::Paragraph(words), Block::Code(shown)]
    }

    /// Writes the open cells of the house, a line for each with its pencil marks.
    fn marks(&self) -> String {
        let cells = self.specimen.open_cells().into_iter();
        let cells =
            cells.map(|(cell, digits)| format!("{cell}  {}", digit_words(digits).join(" ")));
        cells.collect::<Vec<_>>().join("\n")
    }
}

/// Writes a puzzle in nine lines, boxes apart.
fn grid(puzzle: &Puzzle) -> String {
    let digit = |cell: &tallyhouse_board::Cell| match puzzle.get(*cell) {
        Some(digit) => digit.to_string(),
        None => ".".to_owned(),
    };
    let row = |row: usize| {
        let digits: Vec<String> = House::row(row).cells().iter().map(digit).collect();
        digits.chunks(3).map(|three| three.join(" ")).collect::<Vec<_>>().join("  ")
    };
    let bands = [0, 3, 6].map(|first| [row(first), row(first + 1), row(first + 2)].join("\n"));
    bands.join("\n\n")
}
