//! Finding exercises in puzzles.

use tallyhouse_board::Puzzle;
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Reject};
use tallyhouse_engine::{Look, Order, Outcome, Recorder, Subset, WalkEnd, WalkOptions, Walker};

use super::draw::{Draw, Exercise, lot};
use super::{ItemKind, WorksheetSettings};
use crate::ReportError;
use crate::specimen::{Examined, Hearing, Origin, each_block};

/// Draws exercises from all puzzles.
pub(super) fn draw(
    settings: &WorksheetSettings,
    hearing: &Hearing<'_>,
) -> Result<(Draw, Examined), ReportError> {
    let mut all = Draw::new(settings.seed, settings.count);
    let work = |block| settings.examine(block);
    let examined = each_block(&settings.sources, hearing, work, |more| all.merge(more))?;
    Ok((all, examined))
}

impl WorksheetSettings {
    fn examine(&self, block: Block) -> Result<(Draw, Vec<Reject>), ReportError> {
        let mut scanner = Scanner::new(&WalkOptions::default(), true);
        let (scans, rejects) = scanner.scan_apart(block);
        let before = self.wish.order_before();
        let easier = before.as_ref().map_or(&[][..], Order::looks);
        let exercises = scans.into_iter().filter_map(|scan| self.exercise(scan, easier));
        let mut exercises: Vec<Exercise> = exercises.collect();
        if self.kind == ItemKind::Board {
            self.keep_fitting(&mut exercises, before.as_ref());
        }
        let mut draw = Draw::new(self.seed, self.count);
        exercises.into_iter().for_each(|exercise| draw.offer(exercise));
        Ok((draw, rejects))
    }

    /// Returns where a puzzle's walk shows what is wanted, on a board where nothing easier helps.
    fn exercise(&self, scan: &PuzzleScan, easier: &[Look]) -> Option<Exercise> {
        let positions = scan.subsets.chunk_by(|one, other| one.0 == other.0);
        let (number, subset, look, others) = match self.kind {
            ItemKind::Board => {
                let is_easy = |subset: &Subset| easier.iter().any(|look| look.finds(subset));
                let mut hard =
                    positions.filter(|subsets| !subsets.iter().any(|(_, subset)| is_easy(subset)));
                hard.find_map(|subsets| self.first_applied(subsets))?
            }
            ItemKind::House => {
                let alone = positions.flat_map(|subsets| self.alone(subsets));
                // Any of them, by the seed.
                let by_lot = |(number, subset, _, _): &(u16, Subset, Look, u16)| {
                    let [low, high] = number.to_le_bytes();
                    let place = [low, high, subset.house.index() as u8];
                    lot(self.seed, &[&scan.entry.puzzle.values()[..], &place].concat())
                };
                alone.min_by_key(by_lot)?
            }
        };
        // Of a house that stands alone, the others are not in sight.
        let is_in_sight = |other: &Subset| match self.kind {
            ItemKind::Board => look.everywhere().finds(other),
            ItemKind::House => *other == subset,
        };
        let at_position = scan.subsets.iter().filter(|(at, _)| *at == number);
        let found = at_position.map(|(_, other)| *other).filter(is_in_sight).collect();
        let states = scan.positions.get(usize::from(number))?.states.clone()?;
        Some(Exercise {
            origin: Origin::of(&scan.entry, &self.sources),
            puzzle: scan.entry.puzzle,
            quiet_position: number,
            states,
            subset,
            look,
            found,
            others,
        })
    }

    /// Returns the first subset of a position that is wanted and applied there: nothing easier is.
    fn first_applied(&self, subsets: &[(u16, Subset)]) -> Option<(u16, Subset, Look, u16)> {
        let mut applied = subsets.iter().filter(|(_, subset)| subset.applied);
        let wanted = |(number, subset): &(u16, Subset)| {
            let look = self.wish.look_for(subset)?;
            Some((*number, *subset, look, subsets.len() as u16 - 1))
        };
        applied.find_map(wanted)
    }

    /// Returns the wanted subsets of a position that are the only ones of their houses.
    fn alone(&self, subsets: &[(u16, Subset)]) -> Vec<(u16, Subset, Look, u16)> {
        let houses = subsets.chunk_by(|(_, one), (_, other)| one.house == other.house);
        let wanted = |house: &[(u16, Subset)]| match house {
            [(number, subset)] => Some((*number, *subset, self.wish.look_for(subset)?, 0)),
            _ => None,
        };
        houses.filter_map(wanted).collect()
    }

    /// Keeps the puzzles that the looks solve, and do not without what is wanted, nor before it.
    fn keep_fitting(&self, exercises: &mut Vec<Exercise>, before: Option<&Order>) {
        keep(exercises, Some(self.wish.order()), |outcome| outcome == Outcome::Solved);
        let without = self.wish.order_without();
        for fewer in [without.as_ref(), before] {
            keep(exercises, fewer, |outcome| outcome != Outcome::Solved);
        }
    }
}

/// Keeps the puzzles of which the walk by some looks has a wanted outcome; without looks it is stuck.
fn keep(exercises: &mut Vec<Exercise>, order: Option<&Order>, is_wanted: fn(Outcome) -> bool) {
    let mut outcomes = Outcomes(vec![Outcome::Stuck; exercises.len()]);
    if let Some(order) = order {
        let puzzles: Vec<Puzzle> = exercises.iter().map(|exercise| exercise.puzzle).collect();
        let options = WalkOptions { order: order.clone(), ..WalkOptions::default() };
        Walker::new(options).walk(&puzzles, &mut outcomes);
    }
    let mut outcomes = outcomes.0.into_iter();
    exercises.retain(|_| outcomes.next().is_some_and(is_wanted));
}

struct Outcomes(Vec<Outcome>);

impl Recorder for Outcomes {
    fn end(&mut self, puzzle: usize, end: &WalkEnd, _: &dyn Fn() -> [u16; 81]) {
        self.0[puzzle] = end.outcome;
    }
}
