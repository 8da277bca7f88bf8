//! The quiet positions of one puzzle's walk as pictures.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_engine::{
    AppliedLook, Look, Outcome, Position, QuietPosition, Recorder, Subset, WalkOptions, walk,
};
use tallyhouse_figures::{CellContent, Diagram, Side, Sides};

use super::board::{bare_board, board_cells};
use super::figures::View;
use super::{Origin, Specimen, cell_words};
use crate::ReportError;

/// A quiet position with what the walk does there.
struct Stop {
    number: u16,
    board: [u16; Cell::COUNT],
    fixed_cells: u8,
    candidates_left: u16,
    applied: AppliedLook,
    subsets: Vec<Subset>,
}

#[derive(Default)]
struct Stops(Vec<Stop>);

impl Recorder for Stops {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.0.push(Stop {
            number: position.number,
            board: (position.states)(),
            fixed_cells: position.fixed_cells,
            candidates_left: position.candidates_left,
            applied: position.applied,
            subsets: position.subsets.to_vec(),
        });
    }
}

impl Stops {
    fn get(&self, number: u16) -> Result<&Stop, ReportError> {
        let Self(stops) = self;
        let (wanted, positions) = (u32::from(number) + 1, stops.len());
        stops.get(usize::from(number)).ok_or(ReportError::NoSuchPosition { wanted, positions })
    }
}

/// Returns the quiet position of this number, from 0, with all its subsets.
///
/// # Errors
/// If the walk has no such position.
pub(super) fn stop(
    puzzle: &Puzzle,
    options: &WalkOptions,
    number: u16,
) -> Result<(Position, Vec<Subset>), ReportError> {
    let mut stops = Stops::default();
    walk(puzzle, options, &mut stops);
    let stop = stops.get(number)?;
    Ok((Position::from_states(&stop.board)?, stop.subsets.clone()))
}

/// Draws the walk of a puzzle: the givens, each quiet position with nothing marked and once more for
/// each subset that is applied there, marked and after it, with the strip of its house, and the end. With `only`, draws
/// the quiet position of this number alone, from 0.
///
/// # Errors
/// If the walk has no such position.
pub fn walk_views(
    puzzle: &Puzzle,
    options: &WalkOptions,
    only: Option<u16>,
    shown: Sides,
) -> Result<Vec<View>, ReportError> {
    let mut stops = Stops::default();
    let result = walk(puzzle, options, &mut stops);
    if let Some(number) = only {
        return stops.get(number)?.views(puzzle, options, shown);
    }
    let Stops(stops) = stops;
    let mut views = vec![View::board("start", givens(puzzle))];
    for stop in &stops {
        views.extend(stop.views(puzzle, options, shown)?);
    }
    views.push(View::board("end", end(puzzle, &result.position, result.end.outcome)));
    Ok(views)
}

/// The board before anything is worked out: cells without a given are blank.
pub(crate) fn givens(puzzle: &Puzzle) -> Diagram {
    let content =
        |cell| puzzle.get(cell).map_or(CellContent::Marks(Default::default()), CellContent::Given);
    let givens = format!("{} givens.", puzzle.clues());
    Diagram {
        cells: std::array::from_fn(|index| content(cell_at(index))),
        alt: format!("A puzzle with {givens} The puzzle: {puzzle}."),
        ..plain("The puzzle".to_owned(), givens)
    }
}

fn end(puzzle: &Puzzle, position: &Position, outcome: Outcome) -> Diagram {
    let title = match outcome {
        Outcome::Solved => "The solution",
        Outcome::Stuck => "The end: no look finds anything",
        Outcome::Contradiction => "The end: no solution is left",
    };
    let caption = match position.open_cells().len() {
        0 => String::new(),
        open => format!("Open cells: {open}; candidates left: {}.", position.candidates_left()),
    };
    Diagram {
        cells: board_cells(puzzle, position),
        alt: format!("{title}. {caption} The puzzle: {puzzle}."),
        ..plain(title.to_owned(), caption)
    }
}

/// A board with nothing marked; what it shows is filled in.
fn plain(title: String, caption: String) -> Diagram {
    Diagram { title, caption, ..bare_board() }
}

fn cell_at(index: usize) -> Cell {
    Cell::at(index / 9, index % 9)
}

impl Stop {
    /// Returns the side by which the walk finds what is applied here.
    fn lead(&self, options: &WalkOptions) -> Option<Side> {
        let AppliedLook::Look(index) = self.applied else { return None };
        match options.order.looks().get(index)? {
            Look::Naked(_) => Some(Side::Naked),
            Look::Hidden(_) => Some(Side::Hidden),
            _ => None,
        }
    }

    fn views(
        &self,
        puzzle: &Puzzle,
        options: &WalkOptions,
        shown: Sides,
    ) -> Result<Vec<View>, ReportError> {
        let position = Position::from_states(&self.board)?;
        let name = format!("position-{:02}", self.number + 1);
        let mut views = vec![View::board(&name, self.unmarked(puzzle, &position, options))];
        for subset in self.subsets.iter().filter(|subset| subset.applied) {
            let house = subset.house;
            let specimen = Specimen::of_split(
                Origin::default(),
                *puzzle,
                self.number,
                position.clone(),
                house,
                subset.cells,
            )?;
            let cells = cell_words(specimen.split().naked.iter()).join("-");
            let name = format!("{name}-{}-{}-{cells}", house.kind(), house.number());
            let specimen = specimen.led_by(self.lead(options));
            // The board before the step is that of the position.
            let [_, after @ ..] = specimen.all_views(&name, shown);
            views.extend(after);
        }
        Ok(views)
    }

    fn unmarked(&self, puzzle: &Puzzle, position: &Position, options: &WalkOptions) -> Diagram {
        let applied = match self.applied {
            AppliedLook::Look(index) => {
                let look = options.order.looks().get(index).map(ToString::to_string);
                format!("Applied here: {}.", look.unwrap_or_default())
            }
            AppliedLook::Given => {
                "No look finds anything; a digit of the solution is given here.".to_owned()
            }
            AppliedLook::Nothing => "No look finds anything here.".to_owned(),
        };
        let title = format!("Quiet position {}", self.number + 1);
        let caption = format!(
            "Fixed cells: {}; candidates left: {}. {applied}",
            self.fixed_cells, self.candidates_left
        );
        Diagram {
            cells: board_cells(puzzle, position),
            alt: format!("{title}. {caption} The puzzle: {puzzle}."),
            ..plain(title, caption)
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use tallyhouse_engine::{Course, Order, WhenStuck};

    use super::*;
    use crate::specimen::Content;

    /// From our own generator: needs a hidden pair.
    const PAIR: &str =
        "..623....2.....6..9.7....8.1..5...6.8.....54....91....7.9..2......3.18.....7.9.5.";

    fn drawn(options: &WalkOptions, only: Option<u16>) -> Vec<View> {
        walk_views(&PAIR.parse().unwrap(), options, only, Sides::Both).unwrap()
    }

    fn diagram(view: &View) -> &Diagram {
        match &view.content {
            Content::Board(board) => board,
            _ => panic!("{} is no board", view.name),
        }
    }

    #[test]
    fn each_stop_of_the_walk_is_drawn_with_and_without_marks() {
        let puzzle: Puzzle = PAIR.parse().unwrap();
        let options = WalkOptions::default();
        let views = drawn(&options, None);
        let mut stops = Stops::default();
        walk(&puzzle, &options, &mut stops);
        let subsets = stops.0.iter().flat_map(|stop| &stop.subsets);
        let marked = subsets.filter(|subset| subset.applied).count();
        assert!(stops.0.len() > 1 && marked > stops.0.len());
        assert_eq!(views.len(), 2 + stops.0.len() + 4 * marked);
        let names: BTreeSet<&str> = views.iter().map(|view| &*view.name).collect();
        assert_eq!(names.len(), views.len(), "no name twice");

        let start = diagram(&views[0]);
        assert_eq!(views[0].name, "start-board");
        for cell in Cell::all() {
            let blank = CellContent::Marks(Default::default());
            let expected = puzzle.get(cell).map_or(blank, CellContent::Given);
            assert_eq!(start.cells[cell.index()], expected);
        }
        let end = views.last().unwrap();
        assert_eq!((&*end.name, &*diagram(end).title), ("end-board", "The solution"));
        for stop in &stops.0 {
            let name = format!("position-{:02}", stop.number + 1);
            let board = views.iter().find(|p| p.name == format!("{name}-board")).unwrap();
            let position = Position::from_states(&stop.board).unwrap();
            assert_eq!(diagram(board).cells, board_cells(&puzzle, &position));
            assert!(diagram(board).split.is_none());
            for subset in stop.subsets.iter().filter(|subset| subset.applied) {
                let house = format!("{name}-{}-", subset.house.to_string().replace(' ', "-"));
                let splits = views.iter().filter(|view| view.name.starts_with(&house));
                let eliminations: Vec<_> = splits
                    .filter_map(|view| match &view.content {
                        Content::Board(board) => board.split.clone(),
                        Content::House(strip) => strip.split.clone(),
                        Content::Steps(_) | Content::Stairs(_) => None,
                    })
                    .map(|split| split.eliminations.iter().map(|(_, d)| d.len()).sum::<usize>())
                    .collect();
                let here = |n: &&usize| **n == usize::from(subset.eliminations);
                assert!(eliminations.iter().filter(here).count() >= 2, "{house}");
            }
        }
    }

    #[test]
    fn one_position_can_be_drawn_alone() {
        let options = WalkOptions::default();
        let all = drawn(&options, None);
        let second = drawn(&options, Some(1));
        let of_second = all.into_iter().filter(|view| view.name.starts_with("position-02"));
        assert_eq!(second, of_second.collect::<Vec<_>>());
        let error =
            walk_views(&PAIR.parse().unwrap(), &options, Some(70), Sides::Both).unwrap_err();
        assert!(error.to_string().ends_with("found --position 71"), "{error}");
    }

    #[test]
    fn what_is_applied_is_told_where_no_split_can_be_marked() {
        let caption = |options: &WalkOptions| diagram(&drawn(options, Some(0))[0]).caption.clone();
        let singles_and = |more: &[&str]| {
            let looks = ["naked 1", "hidden 1"].iter().chain(more);
            let looks = looks.map(|look| look.parse().unwrap()).collect();
            WalkOptions { order: Order::new(looks).unwrap(), ..WalkOptions::default() }
        };
        assert!(
            caption(&singles_and(&["intersections"])).ends_with("Applied here: intersections.")
        );
        assert!(caption(&singles_and(&[])).ends_with("No look finds anything here."));
        let given = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..singles_and(&[]) };
        assert!(caption(&given).ends_with("a digit of the solution is given here."));
        let end = drawn(&singles_and(&[]), None).pop().unwrap();
        assert!(diagram(&end).caption.starts_with("Open cells: "));
        let houses = tallyhouse_board::House::all().collect();
        let one = WalkOptions { course: Course::OneByOne(houses), ..WalkOptions::default() };
        assert_eq!(drawn(&one, Some(0)).len(), 5, "one find: marked, after, steps and house");
    }
}
