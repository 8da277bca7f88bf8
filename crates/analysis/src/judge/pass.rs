//! One block of rows: walks, counts and rejects.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Reject, Weight};
use tallyhouse_engine::effort::{GlanceWeights, Glances, look_effort};
use tallyhouse_engine::{Order, Outcome, Position, Subset, WalkOptions};

use super::sums::{ClaimSums, Example, MOST_EXAMPLES, Sums};
use super::tally::Standing;
use super::walks::{BookWalker, StuckEnd, falls_short};
use crate::claims::{ClaimTest, LookPair, Per};
use crate::{AnalysisError, Rulebook, Shapes};

/// What is counted.
pub(super) struct Plan<'a> {
    pub(super) books: Vec<&'a Rulebook>,
    pub(super) claims: Vec<PlannedClaim<'a>>,
    pub(super) costs: Costs,
}

pub(super) struct PlannedClaim<'a> {
    pub(super) test: &'a ClaimTest,
    /// The index of the rulebook it speaks of.
    pub(super) book: Option<usize>,
}

/// Weights of glances as whole millionths, so that costs add up exactly.
#[derive(Clone, Copy, Debug)]
pub(super) struct Costs([u64; 3]);

impl Costs {
    pub(super) fn new(weights: &GlanceWeights) -> Result<Self, AnalysisError> {
        let kinds = [
            ("cell seen", weights.cell()),
            ("place gathered", weights.place()),
            ("try", weights.try_()),
        ];
        let mut costs = [0; 3];
        for (cost, (kind, found)) in costs.iter_mut().zip(kinds) {
            if !(1e-6..=1e6).contains(&found) {
                return Err(AnalysisError::GlanceWeight { kind, found });
            }
            *cost = (found * 1e6).round() as u64;
        }
        Ok(Self(costs))
    }

    fn of(self, glances: Glances) -> u64 {
        let counts = counts(glances);
        self.0.iter().zip(counts).map(|(cost, count)| cost * count).sum()
    }
}

fn counts(glances: Glances) -> [u64; 3] {
    [glances.cells_seen, glances.places_gathered, glances.tries]
}

/// Counts a block of rows; returns its rejects beside the sums.
pub(super) fn judge_block(plan: &Plan<'_>, block: Block) -> (Sums, Vec<Reject>) {
    let mut sums = Sums::new(plan.books.len(), plan.claims.len());
    let mut rejects = Vec::new();
    let ladder = WalkOptions::default();
    let mut scanner = Scanner::new(&ladder, true);
    let mut valid: Vec<&PuzzleScan> = Vec::with_capacity(block.len());
    for scanned in scanner.scan(block) {
        match scanned {
            Ok(scan) => valid.push(scan),
            Err(reject) => rejects.push(reject),
        }
    }

    let puzzles: Vec<Puzzle> = valid.iter().map(|scan| scan.entry.puzzle).collect();
    let ends: Vec<Vec<Option<StuckEnd>>> = plan
        .books
        .iter()
        .map(|book| {
            if *book.order() == Order::ladder() {
                valid.iter().map(|scan| ladder_end(scan)).collect()
            } else {
                BookWalker::new(book.order()).ends(&puzzles)
            }
        })
        .collect();
    for (index, scan) in valid.into_iter().enumerate() {
        let ends: Vec<Option<&StuckEnd>> = ends.iter().map(|ends| ends[index].as_ref()).collect();
        PuzzleJudge { plan, scan, standing: standing(scan) }.count(&ends, &mut sums);
    }
    (sums, rejects)
}

fn standing(scan: &PuzzleScan) -> Standing {
    Standing { weight: scan.entry.weight, family: scan.entry.family }
}

fn ladder_end(scan: &PuzzleScan) -> Option<StuckEnd> {
    let last = scan.positions.last()?;
    let subsets = || scan.subsets.iter().filter(|(number, _)| *number == last.number);
    (scan.outcome != Outcome::Solved).then_some(StuckEnd {
        subsets: subsets().map(|(_, subset)| *subset).collect(),
        states: last.states?,
        position: last.number,
    })
}

/// One valid puzzle with its walk on the full ladder.
struct PuzzleJudge<'a> {
    plan: &'a Plan<'a>,
    scan: &'a PuzzleScan,
    standing: Standing,
}

impl PuzzleJudge<'_> {
    fn count(&self, ends: &[Option<&StuckEnd>], sums: &mut Sums) {
        sums.puzzles += 1;
        sums.weighted += u64::from(self.standing.weight.is_some());
        sums.in_families += u64::from(self.standing.family.is_some());
        sums.quiet_positions += u64::from(self.scan.quiet_positions);
        let ladder = match self.scan.outcome {
            Outcome::Solved => None,
            _ => self.scan.positions.last().and_then(|position| position.states.as_ref()),
        };
        let short: Vec<bool> = ends
            .iter()
            .map(|end| end.is_some_and(|end| falls_short(&end.states, ladder)))
            .collect();
        for ((end, &short), sums) in ends.iter().zip(&short).zip(&mut sums.books) {
            sums.short.add(self.standing, u64::from(short), 1);
            match end {
                None => sums.solved += 1,
                Some(end) => count_missed(&end.subsets, &mut sums.missed),
            }
        }
        for (claim, sums) in self.plan.claims.iter().zip(&mut sums.claims) {
            match claim.test {
                ClaimTest::Complete { .. } => {
                    let book = claim.book.unwrap_or(0);
                    let end = ends[book].filter(|_| short[book]);
                    self.leave(end, |_| true, sums);
                }
                ClaimTest::FlushedOut { shapes, .. } => {
                    let end = ends[claim.book.unwrap_or(0)]
                        .filter(|end| end.subsets.iter().any(|subset| shapes.includes(subset)));
                    self.leave(end, |subset| shapes.includes(subset), sums);
                }
                ClaimTest::Rare { shapes, per, .. } => self.occur(shapes, *per, sums),
                ClaimTest::Implies { when, then, per, .. } => self.imply(when, then, *per, sums),
                ClaimTest::Easier { looks, ratio_below } => {
                    self.compare(looks, |ratio| ratio >= *ratio_below, sums);
                }
                ClaimTest::AsHardAs { looks, band: [low, high] } => {
                    self.compare(looks, |ratio| ratio < *low || *high < ratio, sums);
                }
            }
        }
    }

    /// Counts a puzzle with what a rulebook leaves there; `None` if it leaves nothing.
    fn leave(
        &self,
        end: Option<&StuckEnd>,
        is_meant: impl Fn(&Subset) -> bool,
        sums: &mut ClaimSums,
    ) {
        sums.tally.add(self.standing, u64::from(end.is_some()), 1);
        if let Some(end) = end
            && sums.examples.len() < MOST_EXAMPLES
        {
            let mut remaining = end.subsets.iter().filter(|subset| is_meant(subset));
            let subset = remaining.clone().find(|subset| subset.is_proper());
            sums.examples.push(Example {
                puzzle: self.scan.entry.number,
                givens: self.scan.entry.puzzle,
                position: end.position,
                states: end.states,
                subset: subset.or_else(|| remaining.next()).copied(),
            });
        }
    }

    /// Iterates over the subsets of these shapes, each with its position.
    fn meant<'a>(&'a self, shapes: &'a Shapes) -> impl Iterator<Item = &'a (u16, Subset)> {
        self.scan.subsets.iter().filter(|(_, subset)| shapes.includes(subset))
    }

    fn occur(&self, shapes: &Shapes, per: Per, sums: &mut ClaimSums) {
        let units: u64 = match per {
            Per::Puzzle => 1,
            Per::Position => self.scan.positions.len() as u64,
            Per::House => {
                let exposure = self.scan.positions.iter().flat_map(|position| {
                    position.exposure.iter().enumerate().filter(|(open, _)| shapes.fits(*open))
                });
                exposure.map(|(_, houses)| u64::from(*houses)).sum()
            }
        };
        let with = first_of_each(self.meant(shapes), per);
        sums.tally.add(self.standing, with.len() as u64, units);
        for (position, subset) in with {
            self.keep(position, subset, sums);
        }
    }

    fn imply(&self, when: &Shapes, then: &Shapes, per: Per, sums: &mut ClaimSums) {
        let with = first_of_each(self.meant(when), per);
        let lacks = |(position, subset): &&(u16, &Subset)| {
            !self.meant(then).any(|(other, found)| {
                per == Per::Puzzle
                    || other == position && (per == Per::Position || found.house == subset.house)
            })
        };
        let without: Vec<_> = with.iter().filter(lacks).collect();
        sums.tally.add(self.standing, (with.len() - without.len()) as u64, with.len() as u64);
        for &&(position, subset) in &without {
            self.keep(position, subset, sums);
        }
    }

    fn compare(
        &self,
        looks: &LookPair,
        speaks_against: impl Fn(f64) -> bool,
        sums: &mut ClaimSums,
    ) {
        let mut board: Option<(u16, Position)> = None;
        let mut costs = [0; 2];
        let mut houses = 0;
        for (number, subset) in first_of_each(self.meant(&looks.houses), Per::House) {
            let position = match &board {
                Some((known, position)) if *known == number => position,
                _ => {
                    let Some(position) = self.position(number) else { continue };
                    &board.insert((number, position)).1
                }
            };
            let sides = [looks.look, looks.than]
                .map(|look| look_effort(position, subset.house, look).glances);
            let here = sides.map(|glances| self.plan.costs.of(glances));
            let weight = self.standing.weight.unwrap_or(Weight::ONE).millionths();
            for side in 0..2 {
                costs[side] += here[side];
                sums.glances[side] += sides[side];
                for (sum, count) in sums.weighted[side].iter_mut().zip(counts(sides[side])) {
                    *sum += i128::from(weight) * i128::from(count);
                }
            }
            houses += 1;
            if speaks_against(here[0] as f64 / here[1] as f64) {
                self.keep(number, subset, sums);
            }
        }
        sums.houses += houses;
        sums.puzzles += u64::from(houses > 0);
        sums.tally.add(self.standing, costs[0], costs[1]);
    }

    fn states(&self, number: u16) -> Option<[u16; Cell::COUNT]> {
        self.scan.positions.get(usize::from(number))?.states
    }

    fn position(&self, number: u16) -> Option<Position> {
        Position::from_states(&self.states(number)?).ok()
    }

    fn keep(&self, number: u16, subset: &Subset, sums: &mut ClaimSums) {
        if sums.examples.len() < MOST_EXAMPLES
            && let Some(states) = self.states(number)
        {
            sums.examples.push(Example {
                puzzle: self.scan.entry.number,
                givens: self.scan.entry.puzzle,
                position: number,
                states,
                subset: Some(*subset),
            });
        }
    }
}

/// Returns the first subset of each unit; subsets come by position and house.
fn first_of_each<'a>(
    subsets: impl Iterator<Item = &'a (u16, Subset)>,
    per: Per,
) -> Vec<(u16, &'a Subset)> {
    let mut first: Vec<(u16, &Subset)> = Vec::new();
    for (number, subset) in subsets {
        let is_same = first.last().is_some_and(|(last, other)| match per {
            Per::Puzzle => true,
            Per::Position => last == number,
            Per::House => last == number && other.house == subset.house,
        });
        if !is_same {
            first.push((*number, subset));
        }
    }
    first
}

fn count_missed(subsets: &[Subset], missed: &mut [[super::sums::Missed; 10]; 10]) {
    // One bit per shape: which ones this puzzle has shown already.
    let mut shown = 0u128;
    for subset in subsets {
        let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
        let shape = &mut missed[open][naked];
        shape.subsets += 1;
        if subset.is_proper() {
            let bit = 1 << (open * 10 + naked);
            shape.proper += 1;
            shape.puzzles += u64::from(shown & bit == 0);
            shown |= bit;
        }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::MinimalByDeletion;

    use super::*;

    #[test]
    fn positions_are_rebuilt_from_their_states() {
        let options = WalkOptions::default();
        for index in 0..20 {
            let puzzle = MinimalByDeletion { seed: 5 }.puzzle(index);
            let end = tallyhouse_engine::walk(&puzzle, &options, &mut Check).position;
            assert_eq!(Position::from_states(&end.states()), Ok(end));
        }
    }

    struct Check;

    impl tallyhouse_engine::Recorder for Check {
        fn quiet_position(&mut self, position: &tallyhouse_engine::QuietPosition<'_>) {
            let states = (position.states)();
            assert_eq!(Position::from_states(&states).unwrap().states(), states);
        }
    }

    #[test]
    fn costs_are_whole_millionths() {
        let costs = Costs::new(&GlanceWeights::new(1.0, 0.5, 2.0).unwrap()).unwrap();
        let glances = Glances { cells_seen: 5, places_gathered: 25, tries: 9 };
        assert_eq!(costs.of(glances), 35_500_000);
        let error = Costs::new(&GlanceWeights::new(1.0, 1e7, 1.0).unwrap()).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the weight of a place gathered must lie from 0.000001 to 1000000, found 10000000"
        );
    }
}
