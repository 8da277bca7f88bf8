//! The local search.

use std::collections::HashMap;
use std::rc::Rc;

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use tallyhouse_engine::effort::GlanceWeights;

use super::archive::{Archive, Point};
use super::draft::Draft;
use super::evaluate::{PuzzleEffort, PuzzleSet, Totals};
use super::moves::change;

/// Puzzles on which a candidate is tried before all others.
const FIRST_SLICE: usize = 400;
/// How many standard errors a candidate must be behind to be stopped after the first slice.
const CLEARLY: f64 = 3.0;
/// One candidate in so many is two changes away from an order of the archive.
const TWO_CHANGES: u32 = 4;
/// After so many candidates in a row that were known already, a climb ends.
const MOST_KNOWN: u32 = 2_000;

/// How many orders were tried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Evaluations {
    /// Orders walked on training puzzles.
    pub made: u64,
    /// Those of them that were clearly behind on the first slice and went no further.
    pub stopped_early: u64,
    /// Proposals that had been walked before and were not walked again.
    pub known: u64,
    /// Puzzles in the first slice.
    pub first_slice: u64,
}

/// An order walked on all training puzzles.
#[derive(Debug)]
pub(super) struct Candidate {
    pub(super) draft: Draft,
    slice: Vec<PuzzleEffort>,
    pub(super) totals: Totals,
}

pub(super) type Found = Archive<Rc<Candidate>>;

pub(super) struct Search<'a> {
    training: &'a PuzzleSet<'a>,
    weights: GlanceWeights,
    seed: u64,
    progress: &'a dyn Fn(u64),
    /// `None` for orders that were stopped early.
    known: HashMap<Draft, Option<Rc<Candidate>>>,
    pub(super) evaluations: Evaluations,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        training: &'a PuzzleSet<'a>,
        weights: GlanceWeights,
        seed: u64,
        progress: &'a dyn Fn(u64),
    ) -> Self {
        let first_slice = FIRST_SLICE.min(training.puzzles().len()) as u64;
        let evaluations = Evaluations { first_slice, ..Evaluations::default() };
        Self { training, weights, seed, progress, known: HashMap::new(), evaluations }
    }

    /// Climbs from each start on its own, then from all that was found, each with an equal part of
    /// the budget. The starts are tried whatever the budget.
    pub(super) fn run(&mut self, starts: &[Draft], budget: u64) -> Found {
        let mut all = Found::new();
        let climbs = starts.len() as u64 + 1;
        for (number, start) in (1..).zip(starts) {
            let mut found = Found::new();
            self.consider(start, &mut found);
            self.climb(&mut found, budget * number / climbs, number);
            for point in found.points() {
                insert(&mut all, point.clone());
            }
        }
        self.climb(&mut all, budget, climbs);
        all
    }

    /// Changes orders of the archive at random until so many evaluations are made in all.
    fn climb(&mut self, found: &mut Found, until: u64, stream: u64) {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(stream);
        let mut known_in_a_row = 0;
        while self.evaluations.made < until && known_in_a_row < MOST_KNOWN {
            let Some(point) = found.points().choose(&mut rng) else { return };
            let mut draft = change(&point.item.draft, &mut rng);
            if rng.random_ratio(1, TWO_CHANGES) {
                draft = change(&draft, &mut rng);
            }
            known_in_a_row = if self.consider(&draft, found) { 0 } else { known_in_a_row + 1 };
        }
    }

    /// Walks an order unless it is known and offers it to the archive; returns if it was new.
    fn consider(&mut self, draft: &Draft, found: &mut Found) -> bool {
        let known = self.known.get(draft).cloned();
        let is_new = known.is_none();
        let candidate = match known {
            Some(candidate) => {
                self.evaluations.known += 1;
                candidate
            }
            None => {
                let candidate = self.walk(draft, found).map(Rc::new);
                self.known.insert(draft.clone(), candidate.clone());
                candidate
            }
        };
        if let Some(candidate) = candidate {
            let cost = candidate.totals.glances.cost(&self.weights);
            insert(found, Point { cost, reached: candidate.totals.reached, item: candidate });
        }
        is_new
    }

    /// Walks an order on the first slice and, if it is not clearly behind there, on all puzzles.
    fn walk(&mut self, draft: &Draft, found: &Found) -> Option<Candidate> {
        self.evaluations.made += 1;
        (self.progress)(1);
        let order = draft.order();
        let first = self.evaluations.first_slice as usize;
        let slice = self.training.evaluate(&order, 0..first);
        let behind = |point: &Point<Rc<Candidate>>| self.is_behind(draft, &slice, &point.item);
        if found.points().iter().any(behind) {
            self.evaluations.stopped_early += 1;
            return None;
        }
        let mut efforts = slice.clone();
        efforts.extend(self.training.evaluate(&order, first..self.training.puzzles().len()));
        Some(Candidate { draft: draft.clone(), slice, totals: Totals::of(&efforts) })
    }

    /// Tests if a candidate is clearly dominated on the first slice.
    ///
    /// A rare gain in reach does not show there. So a costlier candidate that reaches no less is
    /// stopped only if it looks for nothing that the other order does not look for.
    fn is_behind(&self, draft: &Draft, slice: &[PuzzleEffort], other: &Candidate) -> bool {
        let (mut sum, mut squares) = (0.0, 0.0);
        let (mut here_only, mut there_only) = (0u32, 0u32);
        for (here, there) in slice.iter().zip(&other.slice) {
            let more = here.glances.cost(&self.weights) - there.glances.cost(&self.weights);
            sum += more;
            squares += more * more;
            here_only += u32::from(here.reached && !there.reached);
            there_only += u32::from(there.reached && !here.reached);
        }
        // With t = mean/SE of the sample: t > c exactly if sum > c·√(sum of squares) but for terms of
        // order c²/n.
        let clearly_costlier = sum > CLEARLY * f64::sqrt(squares);
        let (fewer, differing) =
            (f64::from(there_only) - f64::from(here_only), f64::from(there_only + here_only));
        let clearly_less = fewer > CLEARLY * differing.sqrt();
        clearly_costlier && (fewer > 0.0 || fewer == 0.0 && draft.is_within(&other.draft))
            || sum >= 0.0 && clearly_less
    }
}

fn insert(archive: &mut Found, point: Point<Rc<Candidate>>) {
    archive.insert(point, |candidate| candidate.draft.complexity());
}
