//! Choosing specimens from the records of a census, without walking all puzzles again.
//!
//! The table of subsets tells everything that is wanted and nearly all of the score, so positions
//! are rebuilt only where they can still be chosen: the best possible score first.

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use tallyhouse_census::{Boards, Dataset, RecordedPosition};
use tallyhouse_collection::Progress;
use tallyhouse_engine::{Position, Subset};

use super::origin::walk_words;
use super::selection::{Candidate, Rank, Selection};
use super::{Examined, Origin, ScoreParts, Wanted, mark_easiest, score};
use crate::ReportError;

/// How many positions are rebuilt between two looks at what was chosen.
const BATCH: usize = 256;

/// A recorded subset that fits, as yet without its board.
struct Promise {
    /// The rank at the best possible score.
    rank: Rank,
    number: u64,
    quiet_position: u16,
    given_digits: u8,
    /// How many subsets the position has.
    subsets: usize,
    subset: Subset,
}

/// What one part gave: the specimens chosen so far, and how many subsets were read.
type PartResult = Result<(Selection, u64), ReportError>;

/// Adds what fits in a dataset to a selection. The positions are those of the dataset's walk; that
/// nothing easier is in a position is judged by the full ladder, from the position's own subsets.
pub(super) fn search_dataset(
    dataset: &Dataset,
    wanted: &Wanted,
    mut selection: Selection,
    progress: &dyn Progress,
) -> Result<(Selection, Examined), ReportError> {
    let manifest = dataset.manifest();
    let mut rows_left = manifest.totals.rows;
    progress.expect(rows_left);
    let mut subsets = 0;
    let parts: Vec<u64> = dataset.parts().collect();
    // One part a thread, so that memory is bounded by them; each begins with what was chosen before.
    for round in parts.chunks(rayon::current_num_threads().max(1)) {
        let chosen = &selection;
        let results: Vec<PartResult> = round
            .par_iter()
            .map(|&part| search_part(dataset, part, wanted, chosen.clone()))
            .collect();
        for result in results {
            let (more, read) = result?;
            selection.merge(more);
            subsets += read;
            let rows = rows_left.min(manifest.part_size);
            rows_left -= rows;
            progress.advance(rows);
        }
    }
    dataset.check_subsets(subsets)?;
    Ok((selection, examined(dataset)?))
}

fn examined(dataset: &Dataset) -> Result<Examined, ReportError> {
    let manifest = dataset.manifest();
    let sources = manifest.collection.sources.join(", ");
    Ok(Examined {
        collection: format!("{}: {sources}", name(dataset)),
        notes: manifest.collection.notes.clone(),
        digest: Some(manifest.collection.blake3.clone()),
        walk: walk_words(dataset.walk()),
        puzzles: manifest.totals.puzzles,
        rejected: manifest.totals.rows - manifest.totals.puzzles,
        first_reject: dataset.first_reject()?,
    })
}

fn name(dataset: &Dataset) -> String {
    dataset.title()
}

fn search_part(
    dataset: &Dataset,
    part: u64,
    wanted: &Wanted,
    mut selection: Selection,
) -> PartResult {
    let mut promises = Vec::new();
    let mut gather = |at: &RecordedPosition<'_>| {
        let mut subsets = at.subsets.to_vec();
        mark_easiest(&mut subsets);
        for subset in subsets.iter().filter(|subset| wanted.fits(at.position, subset)) {
            let best = ScoreParts::at_best(subsets.len(), subset).score();
            let rank = Rank::new(best, at.puzzle, at.position, subset);
            if selection.has_room_for(&rank, subset.shape()) {
                promises.push(Promise {
                    rank,
                    number: at.puzzle,
                    quiet_position: at.position,
                    given_digits: at.given_digits,
                    subsets: subsets.len(),
                    subset: *subset,
                });
            }
        }
    };
    let read = dataset.each_position(part, &mut gather)?;
    if !promises.is_empty() {
        promises.sort_unstable_by_key(|promise| promise.rank);
        choose(&promises, &dataset.boards(part)?, &name(dataset), &mut selection)?;
    }
    Ok((selection, read))
}

fn choose(
    promises: &[Promise],
    boards: &Boards<'_>,
    source: &str,
    selection: &mut Selection,
) -> Result<(), ReportError> {
    let mut waiting = promises.iter();
    loop {
        // What was chosen meanwhile leaves less room.
        let has_room =
            |promise: &&Promise| selection.has_room_for(&promise.rank, promise.subset.shape());
        let batch: Vec<&Promise> = waiting.by_ref().filter(has_room).take(BATCH).collect();
        if batch.is_empty() {
            return Ok(());
        }
        let keys: Vec<(u64, u16)> =
            batch.iter().map(|promise| (promise.number, promise.quiet_position)).collect();
        for (promise, (puzzle, position)) in batch.iter().zip(boards.rebuild(&keys)?) {
            check_split(promise, &position)?;
            let candidate = Candidate {
                number: promise.number,
                puzzle,
                quiet_position: promise.quiet_position,
                position: &position,
                subsets: promise.subsets,
                subset: &promise.subset,
            };
            selection.offer(&candidate, || Origin {
                source: source.to_owned(),
                number: promise.number,
                given_digits: promise.given_digits,
                ..Origin::default()
            });
        }
    }
}

/// Fails if the board does not show the recorded split.
fn check_split(promise: &Promise, position: &Position) -> Result<(), ReportError> {
    let Promise { subset, number, quiet_position, .. } = promise;
    let house = subset.house;
    let open = position.open_places(house);
    let candidates = subset.cells.iter().map(|place| position.candidates(house.cells()[place]));
    let digits = candidates.reduce(|all, more| all | more).unwrap_or_default();
    let removed = score::eliminations(position, subset);
    let removed: usize = removed.iter().map(|(_, digits)| digits.len()).sum();
    let agrees = (subset.cells - open).is_empty()
        && open.len() == usize::from(subset.open)
        && digits == subset.digits
        && removed == usize::from(subset.eliminations);
    if agrees {
        return Ok(());
    }
    Err(ReportError::OtherSplit { number: *number, quiet_position: *quiet_position, house })
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use tallyhouse_board::House;
    use tallyhouse_census::Settings;
    use tallyhouse_collection::{MinimalByDeletion, Silent, Source};
    use tallyhouse_engine::{
        Course, HouseSplits, Order, QuietPosition, Recorder, WalkOptions, WhenStuck, walk,
    };

    use super::*;
    use crate::specimen::{Found, ProperSide, Puzzles, Specimen, find, gallery};

    const COUNT: u64 = 2400;

    /// Made puzzles with a bad row, a row twice and a label.
    fn source() -> Source {
        let puzzles = MinimalByDeletion { seed: 11 }.puzzles(0..COUNT);
        let lines: String = puzzles.iter().map(|puzzle| format!("{puzzle} own\n")).collect();
        let again = puzzles[7];
        Source::memory("in.txt", format!("bad\n{lines}{again}\n").into_bytes())
    }

    fn dataset(folder: &Path, walk: &WalkOptions, keep_states: bool) -> Dataset {
        let out = folder.join(format!("census-{keep_states}"));
        let settings = Settings {
            walk: walk.clone(),
            keep_states,
            part_size: 1000,
            ..Settings::new(vec![source()], out.clone())
        };
        tallyhouse_census::run(&settings, &Silent).unwrap();
        Dataset::open(&out).unwrap()
    }

    fn wishes() -> [Wanted; 6] {
        [
            Wanted::default(),
            Wanted { proper: ProperSide::Hidden, open: Some(6..=9), ..Wanted::default() },
            Wanted { nothing_easier: true, ..Wanted::default() },
            Wanted { quiet_position: Some(0), least_eliminations: 4, ..Wanted::default() },
            Wanted { live_open: Some(5..=6), naked: Some(2..=2), ..Wanted::default() },
            Wanted { least_eliminations: 60, ..Wanted::default() },
        ]
    }

    /// A dataset does not know lines and labels of its sources.
    fn without_origin(specimens: Vec<Specimen>) -> Vec<Specimen> {
        let bare = |specimen: Specimen| {
            let number = specimen.origin.number;
            Specimen { origin: Origin { number, ..Origin::default() }, ..specimen }
        };
        specimens.into_iter().map(bare).collect()
    }

    #[test]
    fn a_dataset_gives_what_its_puzzles_give() {
        let folder = tempfile::tempdir().unwrap();
        let sources = Puzzles::Sources(vec![source()]);
        for keep_states in [false, true] {
            let dataset = dataset(folder.path(), &WalkOptions::default(), keep_states);
            let recorded = Puzzles::Dataset(Box::new(dataset));
            for wanted in wishes() {
                for most in [1, 7, 100_000] {
                    let walked = find(&sources, &wanted, most, &Silent).unwrap();
                    let read = find(&recorded, &wanted, most, &Silent).unwrap();
                    assert_eq!(walked.specimens.is_empty(), wanted.least_eliminations == 60);
                    assert!(
                        without_origin(read.specimens) == without_origin(walked.specimens),
                        "{wanted}, {most}"
                    );
                    let notes = |examined: &Examined| Examined {
                        collection: String::new(),
                        ..examined.clone()
                    };
                    assert_eq!(notes(&read.examined), notes(&walked.examined));
                    assert!(read.examined.collection.ends_with(": in.txt"));
                }
                let walked = gallery(&sources, &wanted, &Silent).unwrap().specimens;
                let read = gallery(&recorded, &wanted, &Silent).unwrap().specimens;
                assert!(without_origin(read) == without_origin(walked), "{wanted}");
            }
        }
    }

    /// All splits that fit at the quiet positions of a walk; easiness straight from the definition.
    fn counted_by_walking(options: &WalkOptions, wanted: &Wanted) -> usize {
        struct Fitting<'a>(&'a Wanted, usize);
        impl Recorder for Fitting<'_> {
            fn quiet_position(&mut self, at: &QuietPosition<'_>) {
                let found_by = |look: &tallyhouse_engine::Look| {
                    at.subsets.iter().filter(|subset| look.finds(subset)).collect::<Vec<_>>()
                };
                let ladder = Order::ladder();
                let easiest = ladder.looks().iter().map(found_by).find(|found| !found.is_empty());
                let easiest = easiest.unwrap_or_default();
                let fits = |subset: &&Subset| {
                    let applied = easiest.contains(subset);
                    self.0.fits(at.number, &Subset { applied, ..**subset })
                };
                self.1 += at.subsets.iter().filter(fits).count();
            }
        }
        let mut fitting = Fitting(wanted, 0);
        for puzzle in (MinimalByDeletion { seed: 11 }).puzzles(0..COUNT) {
            walk(&puzzle, options, &mut fitting);
        }
        fitting.1
    }

    #[test]
    fn a_dataset_of_another_walk_keeps_its_positions() {
        let narrow = vec!["naked 1".parse().unwrap(), "hidden 2 open 6..9".parse().unwrap()];
        let walks = [
            WalkOptions { course: Course::OneByOne(House::all().collect()), ..Default::default() },
            WalkOptions { order: Order::ladder().with_intersections(), ..Default::default() },
            WalkOptions {
                order: Order::new(narrow).unwrap(),
                when_stuck: WhenStuck::GiveDigit,
                ..Default::default()
            },
        ];
        for walk in walks {
            let mut all: Vec<Vec<Specimen>> = Vec::new();
            for keep_states in [false, true] {
                let folder = tempfile::tempdir().unwrap();
                let recorded = dataset(folder.path(), &walk, keep_states);
                let recorded = Puzzles::Dataset(Box::new(recorded));
                for wanted in wishes() {
                    let Found { specimens, examined } =
                        find(&recorded, &wanted, 100_000, &Silent).unwrap();
                    assert_eq!(specimens.len(), counted_by_walking(&walk, &wanted), "{wanted}");
                    assert_eq!(examined.walk, walk_words(&walk));
                    all.push(without_origin(specimens));
                }
            }
            assert!(all[..6] == all[6..], "states kept or not");
            // Each is what one who sets up the split by hand gets: see its own slow check.
            for specimen in all[0].iter().step_by(37) {
                let by_hand = Specimen::of_split(
                    specimen.origin.clone(),
                    specimen.puzzle,
                    specimen.quiet_position,
                    specimen.position.clone(),
                    specimen.house(),
                    specimen.subset.cells,
                );
                assert_eq!(&by_hand.unwrap(), specimen);
            }
        }
    }

    #[test]
    fn given_digits_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let order = Order::new(vec!["naked 1".parse().unwrap()]).unwrap();
        let walk = WalkOptions { order, when_stuck: WhenStuck::GiveDigit, ..Default::default() };
        let recorded = Puzzles::Dataset(Box::new(dataset(folder.path(), &walk, false)));
        let found = find(&recorded, &Wanted::default(), 300, &Silent).unwrap().specimens;
        let given: Vec<u8> = found.iter().map(|specimen| specimen.origin.given_digits).collect();
        assert!(given.contains(&0) && given.contains(&1), "{given:?}");
        for specimen in &found {
            let told = specimen.words().contains("of the solution");
            assert_eq!(told, specimen.origin.given_digits > 0);
            assert_eq!(told, specimen.origin.to_string().contains(", given digits before: "));
        }
    }

    #[test]
    fn no_subset_scores_above_its_promise() {
        let source = Puzzles::Sources(vec![source()]);
        let found = find(&source, &Wanted::default(), 100_000, &Silent).unwrap().specimens;
        let mut reached = false;
        for specimen in &found {
            let others = usize::from(specimen.parts.other_subsets);
            let best = ScoreParts::at_best(others + 1, &specimen.subset).score();
            assert!(specimen.score() <= best);
            reached |= specimen.score() == best;
        }
        assert!(reached, "the bound is the best there is");
    }

    #[test]
    fn a_board_without_the_recorded_split_is_damage() {
        let source = Puzzles::Sources(vec![source()]);
        let found = find(&source, &Wanted::default(), 1, &Silent).unwrap().specimens;
        let specimen = &found[0];
        let promise = |change: fn(&mut Subset)| {
            let mut subset = specimen.subset;
            change(&mut subset);
            let rank = Rank::new(0, 5, 0, &subset);
            let (quiet_position, given_digits) = (specimen.quiet_position, 0);
            Promise { rank, number: 5, quiet_position, given_digits, subsets: 1, subset }
        };
        let check = |change| check_split(&promise(change), &specimen.position);
        check(|_| {}).unwrap();
        let changes: [fn(&mut Subset); 4] = [
            |subset| subset.digits = subset.digits.complement(),
            |subset| subset.eliminations += 1,
            |subset| subset.open -= 1,
            |subset| subset.cells = subset.cells.complement(),
        ];
        for change in changes {
            let error = check(change).unwrap_err().to_string();
            assert!(error.starts_with("the dataset is damaged: puzzle 5 at quiet"), "{error}");
        }
        let splits = HouseSplits::of_house(&specimen.position, specimen.house()).unwrap();
        assert!(splits.subsets(specimen.house()).any(|s| s.cells == specimen.subset.cells));
    }
}
