//! The local search of one run.

use std::collections::HashSet;
use std::ops::AddAssign;
use std::rc::Rc;

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use tallyhouse_engine::effort::GlanceWeights;

use super::archive::{Archive, Point};
use super::draft::Draft;
use super::evaluate::{PuzzleEffort, PuzzleSet, Totals};
use super::moves::Changer;

/// After so many puzzles a candidate that is so many standard errors behind is walked no further.
const SLICES: [(usize, f64); 3] = [(100, 3.0), (400, 2.5), (1200, 2.0)];
/// One proposal in so many is two changes away from an order that was found.
const TWO_CHANGES: u32 = 4;
/// After so many proposals in a row that were known already, a run ends.
const MOST_KNOWN: u32 = 2_000;

/// How many orders were tried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Evaluations {
    /// Orders walked on training puzzles.
    pub made: u64,
    /// Those of them that were clearly behind on the first puzzles and went no further.
    pub stopped_early: u64,
    /// Proposals that had been walked before and were not walked again.
    pub known: u64,
}

impl AddAssign for Evaluations {
    fn add_assign(&mut self, other: Self) {
        self.made += other.made;
        self.stopped_early += other.stopped_early;
        self.known += other.known;
    }
}

/// An order walked on all training puzzles.
#[derive(Debug)]
pub(super) struct Candidate {
    pub(super) draft: Draft,
    /// What the first puzzles cost.
    first: Vec<PuzzleEffort>,
    pub(super) totals: Totals,
}

type Candidates = Archive<Rc<Candidate>>;

/// The best of all orders that a search has walked on all training puzzles.
pub(super) struct Found {
    /// Those that no other dominates.
    pub(super) frontier: Candidates,
    /// Of those that look for every shape of the start: those that no other of them dominates.
    pub(super) covering: Candidates,
}

impl Found {
    pub(super) const fn new() -> Self {
        Self { frontier: Candidates::new(), covering: Candidates::new() }
    }

    /// Takes in what another search has found.
    pub(super) fn merge(&mut self, other: &Self) {
        for (to, from) in
            [(&mut self.frontier, &other.frontier), (&mut self.covering, &other.covering)]
        {
            for point in from.points() {
                insert(to, point.clone());
            }
        }
    }
}

/// What all runs share.
pub(super) struct Search<'a> {
    pub(super) training: &'a PuzzleSet<'a>,
    pub(super) weights: GlanceWeights,
    pub(super) seed: u64,
    /// Where each run begins. What is recommended looks for every shape of the first.
    pub(super) starts: &'a [Draft],
    pub(super) progress: &'a dyn Fn(u64),
}

/// One run under way; it knows nothing of the others.
struct Run<'a> {
    search: &'a Search<'a>,
    rng: ChaCha8Rng,
    changer: Changer,
    known: HashSet<Draft>,
    found: Found,
    evaluations: Evaluations,
}

impl Search<'_> {
    /// Changes orders at random until so many are walked. The starts are walked whatever the budget.
    pub(super) fn run(&self, number: u64, budget: u64) -> (Found, Evaluations) {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(number);
        let mut run = Run {
            search: self,
            rng,
            changer: Changer::default(),
            known: HashSet::new(),
            found: Found::new(),
            evaluations: Evaluations::default(),
        };
        for start in self.starts {
            run.consider(start.clone());
        }
        run.climb(budget);
        (run.found, run.evaluations)
    }
}

impl Run<'_> {
    fn climb(&mut self, budget: u64) {
        let mut known_in_a_row = 0;
        while self.evaluations.made < budget && known_in_a_row < MOST_KNOWN {
            let (Some(parent), Some(other)) = (self.pick(), self.pick()) else { return };
            let mut changed = parent.draft.clone();
            let mut ways = Vec::new();
            let changes = if self.rng.random_ratio(1, TWO_CHANGES) { 2 } else { 1 };
            for _ in 0..changes {
                let (way, draft) = self.changer.change(&changed, &other.draft, &mut self.rng);
                ways.push(way);
                changed = draft;
            }
            match self.consider(changed.without_idle()) {
                None => known_in_a_row += 1,
                Some(good) => {
                    known_in_a_row = 0;
                    ways.iter().for_each(|&way| self.changer.learn(way, good));
                }
            }
        }
    }

    /// Picks an order that was found: one like another, by the gap of reach below it, or of those that
    /// look for all that the start looks for.
    fn pick(&mut self) -> Option<Rc<Candidate>> {
        let Found { frontier, covering } = &self.found;
        let point = match self.rng.random_range(0..4) {
            0 => covering.points().choose(&mut self.rng)?,
            1 => {
                let reaches = [frontier.points().first()?, frontier.points().last()?];
                let [low, high] = reaches.map(|point| point.reached);
                frontier.at_least(self.rng.random_range(low..=high))?
            }
            _ => frontier.points().choose(&mut self.rng)?,
        };
        Some(Rc::clone(&point.item))
    }

    /// Walks an order unless it is known, and keeps it if nothing dominates it: then it is good.
    fn consider(&mut self, draft: Draft) -> Option<bool> {
        if !self.known.insert(draft.clone()) {
            self.evaluations.known += 1;
            return None;
        }
        let Some(candidate) = self.walk(draft).map(Rc::new) else { return Some(false) };
        let cost = candidate.totals.glances.cost(&self.search.weights);
        let covers = self.covers(&candidate.draft);
        let point = Point { cost, reached: candidate.totals.reached, item: candidate };
        let covering = covers && insert(&mut self.found.covering, point.clone());
        Some(insert(&mut self.found.frontier, point) || covering)
    }

    fn covers(&self, draft: &Draft) -> bool {
        self.search.starts.first().is_some_and(|start| start.is_within(draft))
    }

    /// Walks an order on more and more puzzles, as long as it is not clearly behind.
    fn walk(&mut self, draft: Draft) -> Option<Candidate> {
        self.evaluations.made += 1;
        (self.search.progress)(1);
        let (training, order) = (self.search.training, draft.order());
        let rivals = if self.covers(&draft) { &self.found.covering } else { &self.found.frontier };
        let mut efforts = Vec::new();
        for (slice, clearly) in SLICES {
            let slice = slice.min(training.puzzles().len());
            efforts.extend(training.evaluate(&order, efforts.len()..slice));
            let behind = |rival: &Point<Rc<Candidate>>| {
                self.is_behind(&draft, &efforts, &rival.item, clearly)
            };
            if rivals.points().iter().any(behind) {
                self.evaluations.stopped_early += 1;
                return None;
            }
        }
        let first = efforts.clone();
        efforts.extend(training.evaluate(&order, efforts.len()..training.puzzles().len()));
        Some(Candidate { draft, first, totals: Totals::of(&efforts) })
    }

    /// Tests if a candidate is clearly dominated on the first puzzles.
    ///
    /// A rare gain in reach does not show there. So a costlier candidate that reaches no less is
    /// stopped only if it looks for nothing that the other order does not look for.
    fn is_behind(
        &self,
        draft: &Draft,
        efforts: &[PuzzleEffort],
        rival: &Candidate,
        clearly: f64,
    ) -> bool {
        let weights = &self.search.weights;
        let (mut sum, mut squares) = (0.0, 0.0);
        let (mut here_only, mut there_only) = (0u32, 0u32);
        for (here, there) in efforts.iter().zip(&rival.first) {
            let more = here.glances.cost(weights) - there.glances.cost(weights);
            sum += more;
            squares += more * more;
            here_only += u32::from(here.reached && !there.reached);
            there_only += u32::from(there.reached && !here.reached);
        }
        // With t = mean/SE of the sample: t > c exactly if sum > c·√(sum of squares) but for terms of
        // order c²/n.
        let clearly_costlier = sum > clearly * f64::sqrt(squares);
        let (fewer, differing) =
            (f64::from(there_only) - f64::from(here_only), f64::from(there_only + here_only));
        let clearly_less = fewer > clearly * differing.sqrt();
        clearly_costlier && (fewer > 0.0 || fewer == 0.0 && draft.is_within(&rival.draft))
            || sum >= 0.0 && clearly_less
    }
}

fn insert(archive: &mut Candidates, point: Point<Rc<Candidate>>) -> bool {
    archive.insert(point, |candidate| candidate.draft.complexity())
}
