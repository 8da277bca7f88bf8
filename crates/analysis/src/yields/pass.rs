//! One pass over the puzzles: positions, looks and rejects.

use std::sync::Arc;

use tallyhouse_board::{House, PlaceSet, Puzzle};
use tallyhouse_census::{PositionRecord, PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Part, Progress, Reject, Rejects, Rows};
use tallyhouse_engine::effort::{DueLooks, DueWalk, DueWalker, FailureSums, LookSums, each_look};
use tallyhouse_engine::{AppliedLook, Look, Order, Position, Subset, WalkOptions, brings_single};
use tallyhouse_stats::InTurn;

use super::count::{Counter, Counts, LINES, PLACES, Place, Way, line_of};
use super::sums::{Cluster, Reading, YieldSums};
use super::{Frame, YieldSettings};
use crate::AnalysisError;

/// How many rows one thread looks at.
const BLOCK: usize = 1000;

/// Everything that was counted.
pub(super) struct Counted {
    /// For each reading the frame and the number of the reader.
    pub(super) frames: Vec<(Frame, usize)>,
    pub(super) readings: Arc<[Reading]>,
    pub(super) sums: YieldSums,
    /// Counts without weights, by way and place.
    pub(super) plain: Vec<Counts>,
    /// The same of looks that failed everywhere, by way and line.
    pub(super) failures: Vec<Counts>,
    pub(super) puzzles: u64,
    pub(super) positions: u64,
}

/// What is counted, for all threads.
struct Plan {
    ways: Vec<Way>,
    /// The order of the walk that makes looks when they are due.
    order: Order,
    /// The looks that are asked about, by place.
    asked: [bool; PLACES],
    readings: Arc<[Reading]>,
}

/// What comes of a block of rows.
struct BlockCounts {
    run: InTurn<YieldSums>,
    plain: Vec<Counts>,
    failures: Vec<Counts>,
    puzzles: u64,
    positions: u64,
    rejects: Vec<Reject>,
}

pub(super) fn pass(
    settings: &YieldSettings,
    rows: &mut Rows,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<Counted, AnalysisError> {
    let (mut ways, mut readings, mut frames) = (Vec::<Way>::new(), Vec::new(), Vec::new());
    for (number, reader) in settings.readers.iter().enumerate() {
        for &frame in Frame::ALL.iter().filter(|frame| frame.allows(reader)) {
            let way = Way { frame, learning: reader.model.learning };
            let known = ways.iter().position(|other| *other == way);
            let place = known.unwrap_or_else(|| {
                ways.push(way);
                ways.len() - 1
            });
            readings.push(Reading { way: place, weights: reader.model.weights });
            frames.push((frame, number));
        }
    }
    let mut asked = [false; PLACES];
    for place in Place::all() {
        place.index().into_iter().for_each(|index| asked[index] = settings.asks(place));
    }
    let plan = Plan { ways, order: settings.order(), asked, readings: readings.into() };

    let mut run = InTurn::default();
    let [mut plain, mut failures] = plan.no_counts();
    let (mut puzzles, mut positions) = (0, 0);
    let work = |part: Part<'_>| part.map(|block| plan.count(block)).collect::<Vec<_>>();
    rows.pass(BLOCK, progress, work, |blocks| {
        for block in blocks {
            run.append(block.run);
            plain.iter_mut().zip(block.plain).for_each(|(sum, more)| *sum += more);
            failures.iter_mut().zip(block.failures).for_each(|(sum, more)| *sum += more);
            puzzles += block.puzzles;
            positions += block.positions;
            block.rejects.iter().try_for_each(|reject| rejects.take(reject))?;
        }
        Ok::<(), AnalysisError>(())
    })?;
    let readings = plan.readings;
    Ok(Counted { frames, readings, sums: run.finish(), plain, failures, puzzles, positions })
}

impl Plan {
    fn count(&self, block: Block) -> BlockCounts {
        let ladder = WalkOptions::default();
        let mut scanner = Scanner::new(&ladder, true);
        let mut counter = Counter::new(&self.ways, 0);
        let mut failed = Counter::new(&[], self.ways.len() * LINES);
        let [plain, failures] = self.no_counts();
        let (valid, rejects) = scanner.scan_apart(block);
        let mut counts = BlockCounts {
            run: InTurn::default(),
            plain,
            failures,
            puzzles: 0,
            positions: 0,
            rejects,
        };
        let puzzles: Vec<Puzzle> = valid.iter().map(|scan| scan.entry.puzzle).collect();
        DueWalker::new(&self.order).walk(&puzzles, |index, due| {
            self.count_due(due, &mut counter, &mut failed);
            self.count_puzzle(valid[index], &mut counter, &mut failed, &mut counts);
        });
        counts
    }

    /// Room for the counts of all ways by place, and by line.
    fn no_counts(&self) -> [Vec<Counts>; 2] {
        [PLACES, LINES].map(|length| vec![Counts::default(); self.ways.len() * length])
    }

    fn count_due(&self, due: DueWalk<'_>, counter: &mut Counter<'_>, failed: &mut Counter<'_>) {
        let look = |index: usize| self.order.looks()[index].everywhere();
        for of_look in due.looks {
            let &DueLooks { look: index, open, kind, .. } = of_look;
            if let Some(place) = (Place { look: look(index), open, kind }).index() {
                counter
                    .add(place, |way| (way.frame == Frame::Due).then(|| *of_look.of(way.learning)));
            }
        }
        for failure in due.failures {
            let Some(line) = line_of(look(failure.look), failure.open) else { continue };
            let ways = self.ways.iter().enumerate();
            for (number, way) in ways.filter(|(_, way)| way.frame == Frame::Due) {
                let &FailureSums { positions: made, then_later: finds } = failure.of(way.learning);
                let sums = LookSums { made, finds, ..LookSums::default() };
                failed.add_line(number * LINES + line, sums);
            }
        }
    }

    fn count_puzzle(
        &self,
        scan: &PuzzleScan,
        counter: &mut Counter<'_>,
        failed: &mut Counter<'_>,
        to: &mut BlockCounts,
    ) {
        for position in &scan.positions {
            let subsets = scan.subsets.iter().filter(|(number, _)| *number == position.number);
            self.make_looks(position, subsets.map(|(_, subset)| subset), counter);
        }
        to.puzzles += 1;
        to.positions += scan.positions.len() as u64;
        let (sheet, failures) = (counter.take(), failed.take());
        sheet.lines.iter().for_each(|&(index, counts)| to.plain[index] += counts);
        failures.lines.iter().for_each(|&(index, counts)| to.failures[index] += counts);
        let unit = Cluster::of_puzzle(&self.readings, &scan.entry, sheet).with_failures(failures);
        to.run.add(scan.entry.family, &unit);
    }

    /// Makes all looks that are asked about in all houses of a quiet position.
    fn make_looks<'s>(
        &self,
        record: &PositionRecord,
        subsets: impl Iterator<Item = &'s Subset>,
        counter: &mut Counter<'_>,
    ) {
        // The naked sizes of the proper subsets of each house, as bits.
        let mut proper = [0u16; House::COUNT];
        for subset in subsets.filter(|subset| subset.is_proper()) {
            proper[subset.house.index()] |= 1 << subset.naked;
        }
        // The states of a scan are always whole.
        let Some(states) = record.states.as_deref() else { return };
        let Ok(position) = Position::from_states(states) else { return };
        let moves = record.applied != AppliedLook::Nothing;
        // Two looks or more end at the same split.
        let mut known: Vec<(PlaceSet, bool)> = Vec::new();
        for house in House::all() {
            let proper = proper[house.index()];
            known.clear();
            each_look(&position, house, |look, counts, found| {
                let open = counts.open as u8;
                let place = Place { look, open, kind: house.kind() };
                let Some(place) = place.index().filter(|&place| self.asked[place]) else { return };
                let is_present = proper >> naked_size(look, open) & 1 == 1;
                let then_single = found.is_some_and(|subset| {
                    let before = known.iter().find(|(cells, _)| *cells == subset.cells);
                    if let Some(&(_, brings)) = before {
                        return brings;
                    }
                    let brings = brings_single(|cell| position.candidates(cell), &subset);
                    known.push((subset.cells, brings));
                    brings
                });
                let one =
                    |glances| LookSums::one(glances, found.is_some()).then_single(then_single);
                counter.add(place, |way| {
                    let is_in = match way.frame {
                        Frame::Every => true,
                        Frame::Present => is_present,
                        Frame::Moving => moves,
                        Frame::Due => false,
                    };
                    is_in.then(|| one(counts.glances(way.learning)))
                });
            });
        }
    }
}

/// The size of the naked side that a look is for.
fn naked_size(look: Look, open: u8) -> u8 {
    match look {
        Look::Naked(size) => size.get(),
        Look::Hidden(size) => open - size.get(),
        _ => 0,
    }
}
