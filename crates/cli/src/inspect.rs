//! `tallyhouse inspect`: the walk of one puzzle in words.

use std::fmt::Write as _;
use std::io::{self, Write as _};

use clap::Args;
use serde::Serialize;
use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, Puzzle};
use tallyhouse_engine::{
    AppliedLook, Find, Look, Position, QuietPosition, Recorder, Step, Subset, WalkOptions, walk,
};
use tallyhouse_report::ReportError;
use tallyhouse_report::saving::Saver;
use tallyhouse_report::specimen::{save_all, split_of, walk_views};
use tallyhouse_words as words;

use crate::messages;
use crate::one_puzzle::OnePuzzle;
use crate::options::{
    DrawingOptions, Json, OutIfWanted, ReadingOptions, Replacing, Walk, parse_position,
};
use crate::progress::Bar;

/// Show the walk of one puzzle
///
/// Prints the board with its candidates at each quiet position, and each subset there in a sentence:
/// the house, the cells and digits of both sides, and what is removed.
///
/// With --out, DIR gets figures (SVG, PNG, PDF and CSV): start-board with the givens alone; for each quiet
/// position position-NN-board with nothing marked, and for each subset that is applied there
/// position-NN-HOUSE-CELLS-board with the split marked, -after with what is removed gone, -steps with
/// these boards together, and -house with the strip of its house; and end-board. HOUSE is as in row-4,
/// CELLS are those of the naked side. Intersections are not marked.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse inspect puzzles.txt
  tallyhouse inspect puzzles.txt --line 8 --position 1
  tallyhouse inspect puzzles.txt --theme print --no-key -o figures
  tallyhouse make --count 1 --needs-subset -o - | tallyhouse inspect -")]
pub(crate) struct Inspect {
    #[command(flatten)]
    puzzle: OnePuzzle,
    /// Show only the quiet position of this number, from 1
    #[arg(long, value_name = "N", value_parser = parse_position)]
    position: Option<u16>,
    #[command(flatten)]
    out: OutIfWanted,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    drawing: DrawingOptions,
    #[command(flatten)]
    walk: Walk,
    #[command(flatten)]
    reading: ReadingOptions,
}

impl Inspect {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let puzzle = self.puzzle.valid(&self.reading)?;
        let drawing = self.drawing.drawing()?;
        let folder = self.out.begin(&self.replacing)?;
        let options = self.walk.options();
        let mut story = Story::of(&puzzle, &options);
        if let Some(number) = self.position {
            story.keep_only(number)?;
        }
        if let Some(folder) = folder {
            let views = walk_views(&puzzle, &options, self.position, self.drawing.shown())?;
            let bar = Bar::new("drawing", "figures", None, quiet);
            let saver = Saver::below(folder.aside());
            save_all(&views, saver, "", &drawing, &bar)?;
            folder.finish_as("walk")?;
        }
        if self.json.json {
            return messages::print_json(&story);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}", if self.position.is_some() { story.scenes() } else { story.text() })?;
        if let Some(folder) = &self.out.out {
            writeln!(out, "\nFigures: {}", folder.display())?;
        }
        Ok(())
    }
}

/// The walk of a puzzle: the contract of `--json`.
#[derive(Debug, Serialize)]
struct Story {
    puzzle: String,
    clues: usize,
    outcome: &'static str,
    hardest_look: Option<String>,
    given_digits: u8,
    quiet_positions: Vec<Scene>,
    /// The board at the end, in the form of `board` of a quiet position.
    end: Vec<String>,
    /// What was applied after the last quiet position.
    steps_to_the_end: Vec<Applied>,
}

/// One quiet position.
#[derive(Debug, Serialize)]
struct Scene {
    number: u16,
    /// What was applied since the quiet position before, or since the givens.
    steps_before: Vec<Applied>,
    fixed_cells: u8,
    candidates_left: u16,
    /// One text per cell: the candidates of an open cell, `=` and the digit of a fixed one.
    board: Vec<String>,
    subsets: Vec<SubsetStory>,
    /// The look whose finds the walk applies here, `given digit`, or null at the end.
    look_applied: Option<String>,
    #[serde(skip)]
    look: Option<Look>,
}

/// Steps of the same look in a row.
#[derive(Debug, Serialize)]
struct Applied {
    look: String,
    placed_digits: usize,
    removed_candidates: usize,
}

#[derive(Debug, Serialize)]
struct SubsetStory {
    house: String,
    open: u8,
    naked: Side,
    hidden: Side,
    live_open: u8,
    live_naked: u8,
    live_hidden: u8,
    eliminations: Vec<Elimination>,
    naked_proper: bool,
    hidden_proper: bool,
    applied: bool,
}

#[derive(Debug, Serialize)]
struct Side {
    size: u8,
    cells: Vec<String>,
    digits: Vec<u8>,
}

#[derive(Debug, Serialize)]
struct Elimination {
    cell: String,
    digits: Vec<u8>,
}

struct Teller<'a> {
    looks: &'a [Look],
    scenes: Vec<Scene>,
    pending: Vec<Applied>,
    /// Subsets wait for the position itself, which comes with the step that follows.
    waiting: Vec<Subset>,
}

impl Story {
    fn of(puzzle: &Puzzle, options: &WalkOptions) -> Self {
        let looks = options.order.looks();
        let mut teller =
            Teller { looks, scenes: Vec::new(), pending: Vec::new(), waiting: Vec::new() };
        let result = walk(puzzle, options, &mut teller);
        teller.tell_waiting(&result.position);
        Self {
            puzzle: puzzle.to_string(),
            clues: puzzle.clues(),
            outcome: result.end.outcome.into(),
            hardest_look: result.end.hardest.map(|index| looks[index].to_string()),
            given_digits: result.end.given_digits,
            quiet_positions: teller.scenes,
            end: board(&result.position),
            steps_to_the_end: teller.pending,
        }
    }

    /// Leaves out all quiet positions but one.
    fn keep_only(&mut self, number: u16) -> anyhow::Result<()> {
        let count = self.quiet_positions.len();
        self.quiet_positions.retain(|scene| scene.number == number);
        if self.quiet_positions.is_empty() {
            let wanted = u32::from(number) + 1;
            return Err(ReportError::NoSuchPosition { wanted, positions: count }.into());
        }
        Ok(())
    }

    fn text(&self) -> String {
        let mut text = String::new();
        // Writing into a string cannot fail.
        let _ = self.write(&mut text);
        text
    }

    /// Returns the quiet positions alone.
    fn scenes(&self) -> String {
        let mut text = String::new();
        // Writing into a string cannot fail.
        let _ = self.quiet_positions.iter().try_for_each(|scene| scene.write(&mut text));
        text
    }

    fn write(&self, text: &mut String) -> std::fmt::Result {
        writeln!(text, "Puzzle   {}", self.puzzle)?;
        writeln!(text, "Clues    {}", self.clues)?;
        write!(text, "Outcome  {}", self.outcome)?;
        if let Some(look) = &self.hardest_look {
            let last =
                if self.outcome == "solved" { "last look needed" } else { "last look that helped" };
            write!(text, "; {last}: {look}")?;
        }
        if self.given_digits > 0 {
            let given = words::counted(self.given_digits.into(), "digit", "digits");
            write!(text, "; {given} given")?;
        }
        writeln!(text, "; quiet positions: {}", self.quiet_positions.len())?;
        for scene in &self.quiet_positions {
            writeln!(text)?;
            write_steps(text, &scene.steps_before)?;
            scene.write(text)?;
        }
        writeln!(text)?;
        write_steps(text, &self.steps_to_the_end)?;
        writeln!(text, "The end: {}\n", self.outcome)?;
        write_board(text, &self.end)
    }
}

impl Scene {
    fn write(&self, text: &mut String) -> std::fmt::Result {
        writeln!(
            text,
            "Quiet position {}: {} fixed, {} left\n",
            self.number + 1,
            words::counted(self.fixed_cells.into(), "cell", "cells"),
            words::counted(self.candidates_left.into(), "candidate", "candidates")
        )?;
        write_board(text, &self.board)?;
        match self.subsets.len() {
            0 => writeln!(text, "\nNo subset in any house.")?,
            count => writeln!(text, "\nSubsets: {count}")?,
        }
        self.subsets
            .iter()
            .try_for_each(|subset| writeln!(text, "  {}", subset.sentence(self.look)))
    }
}

impl Recorder for Teller<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.waiting = position.subsets.to_vec();
        let steps_before = std::mem::take(&mut self.pending);
        self.scenes.push(Scene {
            number: position.number,
            steps_before,
            fixed_cells: position.fixed_cells,
            candidates_left: position.candidates_left,
            board: Vec::new(),
            subsets: Vec::new(),
            look_applied: match position.applied {
                AppliedLook::Look(index) => Some(self.looks[index].to_string()),
                AppliedLook::Given => Some("given digit".to_owned()),
                AppliedLook::Nothing => None,
            },
            look: match position.applied {
                AppliedLook::Look(index) => Some(self.looks[index]),
                AppliedLook::Given | AppliedLook::Nothing => None,
            },
        });
    }

    fn step(&mut self, before: &Position, step: &Step) {
        self.tell_waiting(before);
        let look = step.look.map_or_else(|| "given digit".to_owned(), |(_, look)| look.to_string());
        let mut after = before.clone();
        let placed_digits = step.finds.iter().filter(|find| find.placement().is_some()).count();
        let removed = |find: &Find, after: &mut Position| -> usize {
            find.removals().into_iter().map(|(cell, digits)| after.remove(cell, digits)).sum()
        };
        let removed_candidates = step.finds.iter().map(|find| removed(find, &mut after)).sum();
        match self.pending.last_mut() {
            Some(last) if last.look == look => {
                last.placed_digits += placed_digits;
                last.removed_candidates += removed_candidates;
            }
            _ => self.pending.push(Applied { look, placed_digits, removed_candidates }),
        }
    }
}

impl Teller<'_> {
    /// Completes the scene of the last quiet position, if it still waits for its board.
    fn tell_waiting(&mut self, position: &Position) {
        if let Some(scene) = self.scenes.last_mut().filter(|scene| scene.board.is_empty()) {
            scene.board = board(position);
            scene.subsets =
                self.waiting.iter().map(|subset| SubsetStory::of(subset, position)).collect();
        }
    }
}

impl SubsetStory {
    fn of(subset: &Subset, position: &Position) -> Self {
        let split = split_of(position, subset);
        let side = |size, cells: CellSet, digits| Side {
            size,
            cells: cells.iter().map(|cell| cell.to_string()).collect(),
            digits: values(digits),
        };
        let removed = |&(cell, digits): &(Cell, DigitSet)| Elimination {
            cell: cell.to_string(),
            digits: values(digits),
        };
        Self {
            house: subset.house.to_string(),
            open: subset.open,
            naked: side(subset.naked, split.naked, split.naked_digits),
            hidden: side(subset.hidden(), split.hidden, split.hidden_digits),
            live_open: subset.live_open,
            live_naked: subset.live_naked,
            live_hidden: subset.live_hidden(),
            eliminations: split.eliminations.iter().map(removed).collect(),
            naked_proper: subset.naked_proper,
            hidden_proper: subset.hidden_proper,
            applied: subset.applied,
        }
    }

    /// Says what the subset is; the side that was applied, or else the smaller one, comes first.
    fn sentence(&self, applied: Option<Look>) -> String {
        let removed: Vec<String> = self
            .eliminations
            .iter()
            .map(|elimination| format!("{} from {}", spaced(&elimination.digits), elimination.cell))
            .collect();
        let proper = match (self.naked_proper, self.hidden_proper) {
            (true, true) => "",
            (true, false) => " Proper on the naked side only.",
            (false, true) => " Proper on the hidden side only.",
            (false, false) => " Not proper on either side.",
        };
        let [naked, hidden] = [("naked", &self.naked), ("hidden", &self.hidden)]
            .map(|(name, side)| format!("{name} {}", side.words()));
        let naked_first = match applied {
            Some(Look::Naked(size)) if self.applied && size.get() == self.naked.size => true,
            Some(Look::Hidden(size)) if self.applied && size.get() == self.hidden.size => false,
            _ => self.naked.size <= self.hidden.size,
        };
        let (first, second) = if naked_first { (naked, hidden) } else { (hidden, naked) };
        format!(
            "{}, {} open: {first}; its complement is the {second}. Removes {}.{proper}{}",
            words::sentence_start(&self.house),
            self.open,
            words::list(removed),
            if self.applied { " Applied." } else { "" }
        )
    }
}

impl Side {
    /// Writes `pair 2 3 in r8c5 r8c6`, or `set of six, 1 2 3 4 5 6 in …`.
    fn words(&self) -> String {
        let comma = if self.size > 5 { "," } else { "" };
        let (name, digits) = (words::set_name(self.size), spaced(&self.digits));
        format!("{name}{comma} {digits} in {}", self.cells.join(" "))
    }
}

fn values(digits: DigitSet) -> Vec<u8> {
    digits.iter().map(Digit::value).collect()
}

fn spaced(digits: &[u8]) -> String {
    digits.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

fn board(position: &Position) -> Vec<String> {
    let text = |cell: Cell| match position.fixed(cell) {
        Some(digit) => format!("={digit}"),
        None => position.candidates(cell).to_string(),
    };
    Cell::all().map(text).collect()
}

fn write_steps(text: &mut String, steps: &[Applied]) -> std::fmt::Result {
    for step in steps {
        match (step.placed_digits, step.removed_candidates) {
            (placed, 0) => writeln!(text, "{}: {placed} placed", step.look)?,
            (_, removed) => {
                let candidates = words::counted(removed as u64, "candidate", "candidates");
                writeln!(text, "{}: {candidates} removed", step.look)?;
            }
        }
    }
    Ok(())
}

/// Draws the board: one text line per row, each column as wide as it needs.
fn write_board(text: &mut String, board: &[String]) -> std::fmt::Result {
    let width = |column: usize| (0..9).map(|row| board[row * 9 + column].len()).max().unwrap_or(1);
    let widths: Vec<usize> = (0..9).map(width).collect();
    let mut header = "    ".to_owned();
    for (column, width) in widths.iter().enumerate() {
        let gap = if column % 3 == 0 { "  " } else { "" };
        write!(header, "{gap}{:<width$} ", format!("c{}", column + 1))?;
    }
    writeln!(text, "  {}", header.trim_end())?;
    for row in 0..9 {
        if row > 0 && row % 3 == 0 {
            writeln!(text)?;
        }
        let mut line = format!("  r{}  ", row + 1);
        for (column, width) in widths.iter().enumerate() {
            let gap = if column % 3 == 0 { "  " } else { "" };
            write!(line, "{gap}{:<width$} ", board[row * 9 + column])?;
        }
        writeln!(text, "{}", line.trim_end())?;
    }
    Ok(())
}
