//! Prices of a few looks held beside each other: what claims of effort are judged by.
//!
//! The counts, the clusters and the estimates are those of [`super::yields`]; only the looks that are
//! asked about are made.

use std::collections::HashMap;
use std::ops::{AddAssign, RangeInclusive};
use std::sync::Arc;

use tallyhouse_board::{House, HouseKind, Puzzle};
use tallyhouse_census::{PositionRecord, PuzzleScan};
use tallyhouse_engine::effort::{ComparedWalker, Learning, LookSums, Reader, due_with, make_looks};
use tallyhouse_engine::{Look, Order, Position};
use tallyhouse_stats::{AddClusters, InTurn, RateCluster, RatePair};

use super::Frame;
use super::count::{Counter, Counts, PLACES, Place, Sheet, Way};
use super::sums::{Cluster, Reading};

/// A look in houses of some open counts and kinds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PricedLook {
    pub(crate) look: Look,
    pub(crate) kinds: Vec<HouseKind>,
}

/// One price, or two beside each other, as one reader pays them in one frame.
#[derive(Clone, Debug)]
pub(crate) struct PriceQuestion {
    pub(crate) frame: Frame,
    pub(crate) reader: Reader,
    /// One look or two.
    pub(crate) looks: Vec<PricedLook>,
    /// The open counts that are summed.
    pub(crate) opens: RangeInclusive<u8>,
    /// The order of the walk that makes looks due.
    pub(crate) order: Order,
}

/// The open counts of houses where a look is made at quiet positions.
pub(crate) fn quiet_opens(look: Look) -> impl Iterator<Item = u8> + Clone {
    let size = look.size();
    (4..=9).filter(move |&open| size.is_some_and(|s| s.covers(open) && s.get() + 2 <= open))
}

/// What is counted for some questions.
pub(crate) struct PricePlan {
    questions: Arc<Questions>,
    ways: Vec<Way>,
    /// The looks that are made at quiet positions, by open count and kind of house.
    wanted: [[Vec<Look>; HouseKind::ALL.len()]; 10],
    /// The groups of looks that are compared where one is due, by the order of the walk.
    due: Vec<(Order, Vec<Group>)>,
    lines: usize,
}

/// Looks compared where one is due, and their first line.
struct Group {
    looks: Vec<Look>,
    line: usize,
}

/// So many lines has a look where it is due: one for each open count and way to learn.
const LINES_OF_LOOK: usize = 10 * Learning::ALL.len();

/// The questions, as the sums ask them.
struct Questions {
    readings: Vec<Reading>,
    /// Of each line the questions and sides that it counts for.
    uses: Vec<Vec<(usize, usize)>>,
}

/// What a question counted.
#[derive(Clone, Debug, Default)]
pub(crate) struct PriceAnswer {
    pub(crate) pair: RatePair,
    /// Counts without weights, by side.
    pub(crate) plain: [PlainCounts; 2],
}

/// What a look went through, without weights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct PlainCounts {
    pub(crate) made: u64,
    pub(crate) finds: u64,
    pub(crate) cells_seen: u64,
    pub(crate) places_gathered: u64,
    pub(crate) tries: u64,
}

impl From<Counts> for PlainCounts {
    fn from(counts: Counts) -> Self {
        let number = |count: i128| u64::try_from(count).unwrap_or(u64::MAX);
        Self {
            made: number(counts.made),
            finds: number(counts.finds),
            cells_seen: number(counts.cells_seen),
            places_gathered: number(counts.places_gathered),
            tries: number(counts.tries),
        }
    }
}

impl PricePlan {
    pub(crate) fn new(questions: &[PriceQuestion]) -> Self {
        let mut plan = Self {
            questions: Arc::new(Questions { readings: Vec::new(), uses: Vec::new() }),
            ways: Vec::new(),
            wanted: Default::default(),
            due: Vec::new(),
            lines: 0,
        };
        for question in questions.iter().filter(|question| question.frame != Frame::Due) {
            plan.want(question);
        }
        let mut line = plan.ways.len() * PLACES;
        let mut groups: HashMap<(usize, Vec<Look>), usize> = HashMap::new();
        let mut uses: Vec<(usize, usize, usize)> = Vec::new();
        for (number, question) in questions.iter().enumerate() {
            if question.frame == Frame::Due {
                let first = plan.group(question, &mut groups, &mut line);
                for side in 0..question.looks.len() {
                    let first = first + side * LINES_OF_LOOK;
                    let of_open = |open: u8| usize::from(open) * Learning::ALL.len();
                    let lines = question.opens.clone().map(of_open);
                    let learning = question.reader.learning as usize;
                    uses.extend(lines.map(|line| (first + line + learning, number, side)));
                }
            } else {
                let way = plan.way(question) * PLACES;
                let sides = question.looks.iter().enumerate();
                uses.extend(sides.flat_map(|(side, priced)| {
                    let places = places(priced, question.opens.clone());
                    places.map(move |place| (way + place, number, side))
                }));
            }
        }
        let mut by_line = vec![Vec::new(); line];
        uses.into_iter().for_each(|(line, number, side)| by_line[line].push((number, side)));
        let readings = questions
            .iter()
            .map(|question| Reading { way: plan.way(question), weights: question.reader.weights });
        let readings = readings.collect();
        plan.questions = Arc::new(Questions { readings, uses: by_line });
        plan.lines = line;
        plan
    }

    fn way(&self, question: &PriceQuestion) -> usize {
        let way = Way { frame: question.frame, learning: question.reader.learning };
        self.ways.iter().position(|known| *known == way).unwrap_or_default()
    }

    /// Notes the looks that a question needs at quiet positions.
    fn want(&mut self, question: &PriceQuestion) {
        let way = Way { frame: question.frame, learning: question.reader.learning };
        if !self.ways.contains(&way) {
            self.ways.push(way);
        }
        for priced in &question.looks {
            let look = priced.look.everywhere();
            for open in quiet_opens(priced.look).filter(|open| question.opens.contains(open)) {
                for &kind in &priced.kinds {
                    let looks = &mut self.wanted[usize::from(open)][kind as usize];
                    if !looks.contains(&look) {
                        looks.push(look);
                    }
                }
            }
        }
    }

    /// Returns the first line of the group that a question compares; makes it if there is none yet.
    fn group(
        &mut self,
        question: &PriceQuestion,
        groups: &mut HashMap<(usize, Vec<Look>), usize>,
        line: &mut usize,
    ) -> usize {
        let looks: Vec<Look> = question.looks.iter().map(|priced| priced.look).collect();
        let known = self.due.iter().position(|(order, _)| *order == question.order);
        let order = known.unwrap_or_else(|| {
            self.due.push((question.order.clone(), Vec::new()));
            self.due.len() - 1
        });
        *groups.entry((order, looks.clone())).or_insert_with(|| {
            let first = *line;
            *line += looks.len() * LINES_OF_LOOK;
            self.due[order].1.push(Group { looks, line: first });
            first
        })
    }

    /// Counts the puzzles of a block; their scans keep all board states.
    pub(crate) fn count(&self, scans: &[&PuzzleScan], puzzles: &[Puzzle]) -> PriceCounts {
        let mut counts =
            PriceCounts { run: InTurn::default(), plain: vec![Counts::default(); self.lines] };
        if self.lines == 0 {
            return counts;
        }
        let mut due: Vec<Vec<(usize, LookSums)>> = vec![Vec::new(); scans.len()];
        for (order, groups) in &self.due {
            let looks = groups.iter().map(|group| group.looks.clone()).collect();
            ComparedWalker::new(order, looks).walk(puzzles, |index, compared| {
                for look in compared {
                    let first = groups[look.group].line
                        + look.look * LINES_OF_LOOK
                        + usize::from(look.open) * Learning::ALL.len();
                    for &learning in Learning::ALL {
                        due[index].push((first + learning as usize, *look.of(learning)));
                    }
                }
            });
        }
        let mut counter = Counter::new(&self.ways, self.lines - self.ways.len() * PLACES);
        for (scan, due) in scans.iter().zip(due) {
            scan.positions.iter().for_each(|position| self.look(position, &mut counter));
            let made = due.into_iter().filter(|(_, sums)| sums.made > 0);
            made.for_each(|(line, sums)| counter.add_line(line, sums));
            let sheet: Sheet = counter.take();
            for (index, more) in &sheet.lines {
                counts.plain[*index] += *more;
            }
            let unit = Cluster::of_puzzle(&self.questions, &scan.entry, sheet);
            counts.run.add(scan.entry.family, &unit);
        }
        counts
    }

    /// Makes the wanted looks at a quiet position.
    fn look(&self, record: &PositionRecord, counter: &mut Counter<'_>) {
        if self.ways.is_empty() {
            return;
        }
        // The states of a scan are always whole.
        let Some(states) = record.states.as_deref() else { return };
        let Ok(position) = Position::from_states(states) else { return };
        for house in House::all() {
            let open = position.open_places(house).len();
            let wanted = &self.wanted[open][house.kind() as usize];
            if wanted.is_empty() {
                continue;
            }
            make_looks(&position, house, wanted.iter().copied(), |look, counts, found| {
                let place = Place { look, open: open as u8, kind: house.kind() };
                let Some(place) = place.index() else { return };
                let found = found.is_some();
                counter.add(place, |way| Some(LookSums::one(counts.glances(way.learning), found)));
            });
        }
    }

    /// Returns the answer to each question.
    pub(crate) fn answers(&self, counts: PriceCounts) -> Vec<PriceAnswer> {
        let sums = counts.run.finish();
        let mut answers = vec![PriceAnswer::default(); self.questions.readings.len()];
        for (answer, pair) in answers.iter_mut().zip(sums.pairs) {
            answer.pair = pair;
        }
        let mut plain = vec![[Counts::default(); 2]; answers.len()];
        for (uses, counts) in self.questions.uses.iter().zip(&counts.plain) {
            uses.iter().for_each(|&(number, side)| plain[number][side] += *counts);
        }
        for (answer, plain) in answers.iter_mut().zip(plain) {
            answer.plain = plain.map(PlainCounts::from);
        }
        answers
    }
}

/// The indices of the places of a look in houses of these open counts.
fn places(priced: &PricedLook, opens: RangeInclusive<u8>) -> impl Iterator<Item = usize> + use<'_> {
    let look = priced.look.everywhere();
    let opens = quiet_opens(priced.look).filter(move |open| opens.contains(open));
    let places = opens
        .flat_map(move |open| priced.kinds.iter().map(move |&kind| Place { look, open, kind }));
    places.filter_map(Place::index)
}

/// Tests if the walk of a question makes any of its looks due, in houses of these open counts.
pub(crate) fn is_ever_due(question: &PriceQuestion) -> bool {
    let looks: Vec<Look> = question.looks.iter().map(|priced| priced.look).collect();
    question.opens.clone().any(|open| due_with(&question.order, &looks, open).is_some())
}

/// What was counted, mergeable in the order of puzzles.
#[derive(Default)]
pub(crate) struct PriceCounts {
    run: InTurn<PriceSums>,
    /// Counts without weights, by line.
    plain: Vec<Counts>,
}

impl PriceCounts {
    /// Appends what was counted for the puzzles that follow.
    pub(crate) fn append(&mut self, next: Self) {
        self.run.append(next.run);
        if self.plain.len() < next.plain.len() {
            self.plain.resize(next.plain.len(), Counts::default());
        }
        self.plain.iter_mut().zip(next.plain).for_each(|(sum, more)| *sum += more);
    }
}

/// Pairs of rates by question.
#[derive(Default)]
struct PriceSums {
    pairs: Vec<RatePair>,
}

impl AddClusters for PriceSums {
    type Cluster = Cluster<Questions>;

    fn add_cluster(&mut self, cluster: &Cluster<Questions>) {
        let Some(asked) = &cluster.asked else { return };
        let weight = cluster.mean_weight();
        if self.pairs.len() < asked.readings.len() {
            self.pairs.resize_with(asked.readings.len(), Default::default);
        }
        let nothing = RateCluster { weight, hits: 0, trials: 0, cost: 0 };
        let mut sides = vec![[nothing; 2]; asked.readings.len()];
        for (line, counts) in &cluster.sheet.lines {
            for &(number, side) in &asked.uses[*line] {
                let rate = &mut sides[number][side];
                rate.hits += counts.finds;
                rate.trials += counts.made;
                rate.cost += asked.readings[number].cost(counts);
            }
        }
        for (pair, sides) in self.pairs.iter_mut().zip(sides) {
            pair.add(sides);
        }
    }

    fn merge(&mut self, other: Self) {
        if self.pairs.len() < other.pairs.len() {
            self.pairs.resize_with(other.pairs.len(), Default::default);
        }
        for (mine, theirs) in self.pairs.iter_mut().zip(other.pairs) {
            mine.add_assign(theirs);
        }
    }
}
