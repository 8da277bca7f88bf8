//! Rulebooks head to head: against the trial and the search on the same puzzles, and against the simple
//! engine.

use tallyhouse_analysis::compare::{CompareReport, CompareSettings, ReaderCosts, compare};
use tallyhouse_analysis::order_search::{OrderSettings, search};
use tallyhouse_analysis::{
    AnalysisError, JudgeReport, JudgeSettings, RawGlances, ReaderFile, Rulebook, TrialWalk, judge,
};
use tallyhouse_board::{House, Puzzle};
use tallyhouse_collection::{MinimalByDeletion, Rejects, Silent, Source};
use tallyhouse_engine::effort::effort_walk;
use tallyhouse_engine::{CourseKind, Order, Outcome, WalkOptions, walk};
use tallyhouse_stats::{Level, Limits};

fn puzzles(seed: u64, count: u64) -> Vec<Puzzle> {
    MinimalByDeletion { seed }.puzzles(0..count)
}

fn text(puzzles: &[Puzzle], more: impl Fn(usize) -> String) -> String {
    let lines = puzzles.iter().enumerate();
    lines.map(|(index, puzzle)| format!("{puzzle}{}\n", more(index))).collect()
}

fn settings(rulebooks: &[Rulebook]) -> CompareSettings {
    CompareSettings {
        rulebooks: rulebooks.to_vec(),
        readers: ReaderFile::built_in_and(&[]).unwrap(),
        level: Level::default(),
    }
}

fn try_compare(rulebooks: &[Rulebook], text: &str) -> Result<CompareReport, AnalysisError> {
    let sources = vec![Source::memory("memory", text.as_bytes().to_vec())];
    let mut rejects = Rejects::counted(&sources);
    compare(&settings(rulebooks), sources, &mut rejects, &Silent)
}

fn compared(rulebooks: &[Rulebook], text: &str) -> CompareReport {
    try_compare(rulebooks, text).unwrap()
}

fn books(names: &[&str]) -> Vec<Rulebook> {
    names.iter().map(|name| Rulebook::load(name).unwrap()).collect()
}

fn own(name: &str, looks: &str) -> Rulebook {
    Rulebook::of_order(name, name, "test", "", &looks.parse().unwrap()).unwrap()
}

fn trial(rulebooks: &[Rulebook], text: &str) -> JudgeReport {
    let folder = tempfile::tempdir().unwrap();
    let settings = JudgeSettings {
        sources: vec![Source::memory("memory", text.as_bytes().to_vec())],
        rulebooks: rulebooks.to_vec(),
        claims: Vec::new(),
        readers: Vec::new(),
        walk: TrialWalk::OneByOne,
        level: Level::default(),
        shapes: false,
        out: folder.path().to_owned(),
    };
    judge(&settings, &Silent).unwrap()
}

/// The search reports the full ladder beside its start; the same rulebooks here, the start first.
#[test]
fn glances_and_reach_are_those_of_the_search_on_the_same_puzzles() {
    let held_out = puzzles(82, 400);
    let rulebooks = books(&["short-list", "full-ladder"]);
    let searched = search(
        &OrderSettings {
            training: puzzles(81, 20),
            held_out: held_out.clone(),
            population: OrderSettings::made_population(),
            start: rulebooks[0].clone(),
            weights: Default::default(),
            readers: ReaderFile::built_in_and(&[]).unwrap(),
            level: Level::default(),
            seed: 5,
            runs: 3,
            evaluations: 3,
            frontier: 1,
        },
        &|_| {},
    );
    let searched = searched.unwrap();
    let report = compared(&rulebooks, &text(&held_out, |_| String::new()));
    for (book, order) in report.rulebooks.iter().zip([&searched.start, &searched.ladder]) {
        assert_eq!(book.order, order.order);
        assert_eq!(book.reached.puzzles, order.held_out.reached.hits());
        assert_eq!(book.readers[0].glances, order.held_out.glances);
        assert_eq!(book.readers[0].glances_estimate, order.held_out.glances_estimate);
        for (costs, price) in book.readers.iter().zip(&order.readers) {
            assert_eq!((&costs.reader, &costs.glances), (&price.reader, &price.glances));
            assert_eq!(costs.glances_estimate, price.glances_estimate);
            let differences = [&costs.against_base, &price.against_start];
            let uncorrected = differences.map(|difference| {
                difference
                    .clone()
                    .map(|cost| (cost.more_glances_estimate, cost.relative_glances, cost.p))
            });
            assert_eq!(uncorrected[0], uncorrected[1], "{}", costs.reader);
        }
    }
    let reached = report.rulebooks[1].against_base.as_ref().unwrap().reached;
    let of_search = searched.ladder.against_start.unwrap();
    assert_eq!((reached.this_only, reached.base_only), (of_search.this_only, of_search.other_only));
    assert_eq!(reached.more, of_search.more_reached.into());
    assert!(reached.this_only > 0);
}

/// Plain puzzles, and puzzles with weights in families.
#[test]
fn reach_is_that_of_the_trial_on_the_same_puzzles() {
    let rulebooks = books(&["full-ladder", "short-list", "naked-only", "up-to-triples"]);
    let all = puzzles(83, 600);
    let plain = text(&all, |_| String::new());
    let weighted = text(&all, |index| format!(" weight={} family={}", 1 + index % 3, index / 2));
    for (text, clusters) in [(plain, 600), (weighted, 300)] {
        let (report, judged) = (compared(&rulebooks, &text), trial(&rulebooks, &text));
        assert_eq!((report.puzzles, report.clusters), (600, clusters));
        for (book, of_trial) in report.rulebooks.iter().zip(&judged.books) {
            assert_eq!(book.solved.puzzles, of_trial.solved, "{}", book.name);
            assert_eq!(600 - book.reached.puzzles, of_trial.short, "{}", book.name);
            let Limits { value, low, high } = book.reached.share;
            let Some(short) = of_trial.estimate else {
                assert!(book.reaches_all && (value, low, high) == (Some(1.0), None, None));
                continue;
            };
            let close =
                |ours: Option<f64>, theirs: f64| (1.0 - ours.unwrap() - theirs).abs() < 1e-12;
            assert!(close(value, short.value), "{}: {value:?}, {short:?}", book.name);
            assert!(close(low, short.interval.high) && close(high, short.interval.low));
        }
    }
}

#[test]
fn each_look_costs_and_each_walk_ends_as_in_the_simple_engine() {
    let all = puzzles(84, 300);
    let own = own("own", "hidden 1, naked 3 open 5..9, naked 1, intersections, hidden 2 open 6..8");
    let rulebooks = [&books(&["full-ladder", "short-list"])[..], &[own]].concat();
    let report = compared(&rulebooks, &text(&all, |_| String::new()));
    let houses: Vec<House> = House::all().collect();
    for book in &report.rulebooks {
        let mut expected = vec![(0, RawGlances::default()); book.order.looks().len()];
        let (mut solved, mut reached) = (0, 0);
        for puzzle in &all {
            let walked = effort_walk(puzzle, &book.order, &houses, |_, _, _| {});
            let ladder = walk(puzzle, &WalkOptions::default(), &mut ());
            for ((finds, sum), look) in expected.iter_mut().zip(&walked.looks) {
                *finds += look.found;
                sum.cells_seen += look.glances.cells_seen;
                sum.places_gathered += look.glances.places_gathered;
                sum.tries += look.glances.tries;
            }
            let open = walked.end.open_cells().len();
            solved += u64::from(open == 0);
            // Nothing is left that the ladder removes or fixes.
            let left =
                |cell| walked.end.candidates(cell).is_subset(ladder.position.candidates(cell));
            reached += u64::from(
                tallyhouse_board::Cell::all().all(left)
                    && open <= ladder.position.open_cells().len(),
            );
        }
        assert_eq!((book.solved.puzzles, book.reached.puzzles), (solved, reached), "{}", book.name);
        let marking = &book.readers[0];
        let ours: Vec<_> = marking.looks.iter().map(|look| (look.finds, look.raw)).collect();
        assert_eq!(ours, expected, "{}", book.name);
        book.readers.iter().for_each(looks_sum_to_the_whole);
    }
}

fn looks_sum_to_the_whole(costs: &ReaderCosts) {
    let sum = |of: fn(&tallyhouse_analysis::compare::LookCosts) -> Limits| -> f64 {
        costs.looks.iter().map(|look| of(look).value.unwrap()).sum()
    };
    let glances = sum(|look| look.glances);
    assert!((glances - costs.glances.value).abs() < 1e-9 * glances, "{}", costs.reader);
    assert!((sum(|look| look.share) - 1.0).abs() < 1e-12, "{}", costs.reader);
}

#[test]
fn a_rulebook_beside_itself_differs_in_nothing() {
    let short_list = &books(&["short-list"])[0];
    let copy = own("copy", &short_list.order().to_string());
    let report = compared(&[short_list.clone(), copy], &text(&puzzles(85, 200), |_| String::new()));
    let (book, against) = report.others().next().unwrap();
    for pairs in [against.solved, against.reached] {
        assert_eq!((pairs.this_only, pairs.base_only, pairs.more.value), (0, 0, Some(0.0)));
        assert!(pairs.both > 0 && pairs.neither > 0);
    }
    assert!(against.base_stops.is_empty() && against.this_stops.is_empty());
    for (costs, base) in book.readers.iter().zip(&report.base().readers) {
        assert_eq!((&costs.glances, &costs.looks), (&base.glances, &base.looks));
        for difference in [&costs.against_base, &costs.where_both_solve] {
            let difference = difference.as_ref().unwrap();
            assert_eq!((difference.more_glances.value, difference.p_holm), (0.0, 1.0));
            assert_eq!(difference.more_glances_estimate, None);
        }
    }
}

/// The stuck rulebook ends on that board, the other one solves the puzzle, and what it finds is there.
#[test]
fn where_a_rulebook_stops_is_the_end_of_its_walk() {
    let rulebooks = books(&["up-to-triples", "short-list"]);
    let report = compared(&rulebooks, &text(&puzzles(86, 3000), |_| String::new()));
    let (_, against) = report.others().next().unwrap();
    let end = |puzzle: &Puzzle, order: &Order| {
        let course = CourseKind::OneByOne.into();
        walk(puzzle, &WalkOptions { order: order.clone(), course, ..Default::default() }, &mut ())
    };
    let [base, other] = [0, 1].map(|index| rulebooks[index].order());
    let sides = [(&against.base_stops, base, other), (&against.this_stops, other, base)];
    for (stops, stuck, solver) in sides {
        for stop in stops {
            let walked = end(&stop.givens, stuck);
            assert_eq!(walked.position.states(), stop.states);
            assert_eq!(walked.position.open_cells().len(), stop.open_cells);
            assert_eq!(end(&stop.givens, solver).end.outcome, Outcome::Solved);
            let find = stop.find.unwrap();
            assert!(solver.looks().contains(&find.look) && find.look.finds(&find.subset));
            assert!(!stuck.looks().iter().any(|look| look.finds(&find.subset)));
        }
    }
    let kept = against.base_stops.len() as u64 + against.this_stops.len() as u64;
    assert_eq!(kept, against.solved.this_only.min(20) + against.solved.base_only.min(20));
    assert!(kept > 0);
}

#[test]
fn weights_count_and_one_weight_for_all_changes_nothing() {
    let rulebooks = books(&["full-ladder", "short-list"]);
    let all = puzzles(87, 90);
    let one = |index: usize| compared(&rulebooks, &text(&all[index..=index], |_| String::new()));
    let [first, second] = [0, 1].map(|index| one(index).rulebooks);
    let both = text(&all[..2], |index| [" weight=3", " weight=1"][index].to_owned());
    for (book, report) in compared(&rulebooks, &both).rulebooks.iter().enumerate() {
        for (reader, costs) in report.readers.iter().enumerate() {
            let of = |books: &[tallyhouse_analysis::compare::ComparedRulebook]| {
                books[book].readers[reader].glances.value
            };
            let mean = (3.0 * of(&first) + of(&second)) / 4.0;
            assert!((costs.glances.value - mean).abs() < 1e-9 * mean);
        }
    }
    let plain = compared(&rulebooks, &text(&all, |_| String::new()));
    let heavy = compared(&rulebooks, &text(&all, |_| " weight=2.5".to_owned()));
    assert_eq!(plain.files().unwrap(), heavy.files().unwrap());
    // A puzzle and its repeat in one family tell no more than the puzzle.
    let twice: Vec<Puzzle> = all.iter().flat_map(|puzzle| [*puzzle; 2]).collect();
    let families = compared(&rulebooks, &text(&twice, |index| format!(" family={}", index / 2)));
    assert_eq!((families.puzzles, families.clusters), (180, 90));
    let [ours, theirs] = [&families, &plain].map(|report| &report.rulebooks[1]);
    for (ours, theirs) in ours.readers.iter().zip(&theirs.readers) {
        assert_eq!(ours.against_base, theirs.against_base);
    }
    assert_eq!(ours.reached.share, theirs.reached.share);
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let rulebooks = books(&["full-ladder", "short-list"]);
    let text = text(&puzzles(88, 3500), |index| format!(" family={}", index / 3));
    let of = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| compared(&rulebooks, &text))
    };
    assert_eq!(of(1), of(3));
}

#[test]
fn what_can_not_be_compared_is_refused() {
    let text = text(&puzzles(89, 3), |_| String::new());
    let message =
        |names: &[&str], text: &str| try_compare(&books(names), text).unwrap_err().to_string();
    let two = ["short-list", "naked-only"];
    assert!(message(&two[..1], &text).contains("at least two rulebooks to compare, found 1"));
    assert!(message(&["short-list"; 2], &text).contains("two rulebooks are named 'short-list'"));
    assert!(message(&two, "").contains("no puzzles in memory"));
    let returns =
        text.lines().zip([1, 2, 1]).map(|(line, family)| format!("{line} family={family}\n"));
    assert!(message(&two, &returns.collect::<String>()).contains("family 1"));
    // A bad row is left out.
    let report = compared(&books(&two), &format!("{text}none\n"));
    assert_eq!((report.rows, report.puzzles), (4, 3));
}
