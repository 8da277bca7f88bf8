use std::cell::RefCell;

use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::effort::effort_walk;
use tallyhouse_engine::{WalkOptions, walk};

use super::draft::draft;
use super::*;

fn rulebook(order: &Order) -> Rulebook {
    Rulebook::of_order("old", "Old", "me", "none", order).unwrap()
}

fn settings() -> OrderSettings {
    let puzzles = |seed, count| MinimalByDeletion { seed }.puzzles(0..count);
    OrderSettings {
        training: puzzles(31, 450),
        held_out: puzzles(32, 120),
        population: OrderSettings::made_population(),
        start: rulebook(&Order::ladder()),
        weights: GlanceWeights::default(),
        readers: ReaderFile::built_in_and(&[]).unwrap(),
        level: Level::default(),
        seed: 3,
        runs: 3,
        evaluations: 40,
        frontier: 5,
    }
}

fn in_threads(threads: usize, settings: &OrderSettings) -> OrderReport {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| search(settings, &|_| {}).unwrap())
}

fn texts(report: &OrderReport) -> Vec<String> {
    let files = report.files().unwrap().map(|(_, csv)| String::from_utf8(csv).unwrap());
    [serde_json::to_string(report).unwrap(), report.to_text()].into_iter().chain(files).collect()
}

#[test]
fn the_report_depends_on_the_seed_and_not_on_threads() {
    let settings = settings();
    let report = in_threads(1, &settings);
    assert_eq!(texts(&report), texts(&in_threads(3, &settings)));
    let other = OrderSettings { seed: 4, ..settings };
    assert_ne!(texts(&report)[0], texts(&in_threads(2, &other))[0]);
}

#[test]
fn the_budget_is_kept_and_told() {
    let told = RefCell::new(Vec::new());
    let report = search(&settings(), &|more| told.borrow_mut().push(more)).unwrap();
    assert_eq!(report.evaluations.made, 120);
    // A bar adds up what it is told.
    assert_eq!(told.borrow().iter().sum::<u64>(), 120);
    assert!(report.evaluations.stopped_early > 0);
    assert_eq!(report.frontier.len(), report.undominated_in_training.min(5));
}

#[test]
fn reported_numbers_equal_a_recomputation() {
    let weights = GlanceWeights::new(1.0, 0.5, 2.0).unwrap();
    let settings = OrderSettings { weights, ..settings() };
    let report = search(&settings, &|_| {}).unwrap();
    let houses: Vec<_> = tallyhouse_board::House::all().collect();
    let naive = |puzzles: &[Puzzle], order: &Order| -> (f64, u64) {
        let (mut cost, mut reached) = (0.0, 0);
        for puzzle in puzzles {
            let effort = effort_walk(puzzle, order, &houses, |_, _, _| {});
            cost += effort.total().cost(&weights);
            let ladder = walk(puzzle, &WalkOptions::default(), &mut ());
            reached += u64::from(ladder.position == effort.end);
        }
        (cost / puzzles.len() as f64, reached)
    };
    let start = naive(&settings.held_out, &report.start.order);
    for order in report.orders() {
        for (measured, puzzles) in
            [(&order.training, &settings.training), (&order.held_out, &settings.held_out)]
        {
            let (cost, reached) = naive(puzzles, &order.order);
            assert!((measured.glances.value - cost).abs() < 1e-6, "{}", order.name);
            assert_eq!(measured.reached.hits(), reached, "{}", order.name);
            assert_eq!(measured.reached.trials(), puzzles.len() as u64);
        }
        let Some(compared) = &order.against_start else {
            assert_eq!(order.order, report.start.order);
            continue;
        };
        let (cost, reached) = naive(&settings.held_out, &order.order);
        assert!((compared.cost.more_glances.value - (cost - start.0)).abs() < 1e-6);
        assert_eq!(
            compared.this_only as i64 - compared.other_only as i64,
            reached as i64 - start.1 as i64
        );
        assert!(compared.cost.p_holm >= compared.cost.p);
        assert!(compared.reached_p_holm >= compared.reached_p);
    }
    // In training each costs more than the one before, and reaches more.
    for pair in report.frontier.windows(2) {
        assert!(pair[0].training.glances.value < pair[1].training.glances.value);
        assert!(pair[0].training.reached.hits() < pair[1].training.reached.hits());
    }
}

#[test]
fn nothing_that_any_run_walked_dominates_the_frontier() {
    let settings = OrderSettings { frontier: 1000, ..settings() };
    let report = search(&settings, &|_| {}).unwrap();
    // Each run by itself, as part of no report.
    let (training, start) =
        (PuzzleSet::new(&settings.training), Draft::of(settings.start.order()).unwrap());
    let starts =
        [start.clone(), start, RatioTable::measure(&settings.training).order(&settings.weights)];
    let OrderSettings { weights, seed, .. } = settings;
    let search = Search { training: &training, weights, seed, starts: &starts, progress: &|_| {} };
    let point = |order: &ReportedOrder| Point {
        cost: order.training.glances.value * settings.training.len() as f64,
        reached: order.training.reached.hits(),
        item: (),
    };
    let mut met = 0;
    for run in 0..settings.runs {
        let (found, _) = search.run(run, settings.evaluations);
        for walked in found.frontier.points() {
            let dominated =
                report.frontier.iter().map(point).any(|order| {
                    order.reached >= walked.reached && order.cost <= walked.cost + 1e-6
                });
            assert!(dominated, "run {run}: {}", walked.item.draft.order());
            let order = walked.item.draft.order();
            met += usize::from(report.frontier.iter().any(|found| found.order == order));
        }
    }
    assert!(met >= report.frontier.len());
    for (index, order) in report.frontier.iter().enumerate() {
        let others = report.frontier.iter().enumerate().filter(|(other, _)| *other != index);
        assert!(!others.map(|(_, other)| point(other)).any(|other| other.dominates(&point(order))));
    }
    for start in [&report.start, &report.ladder, &report.ratio_rule] {
        let no_worse = |order: &ReportedOrder| {
            order.training.glances.value <= start.training.glances.value
                && order.training.reached.hits() >= start.training.reached.hits()
        };
        assert!(report.frontier.iter().any(no_worse), "{}", start.name);
    }
}

#[test]
fn what_is_dominated_is_not_shown_as_frontier() {
    let report = search(&settings(), &|_| {}).unwrap();
    let held_out =
        |order: &ReportedOrder| (order.held_out.glances.value, order.held_out.reached.hits());
    let mut shown = 0;
    for order in report.orders().filter(|order| order.on_frontier) {
        shown += 1;
        let (cost, reached) = held_out(order);
        for (other_cost, other_reached) in report.orders().map(held_out) {
            let no_worse = other_cost <= cost && other_reached >= reached;
            assert!(!no_worse || (other_cost, other_reached) == (cost, reached), "{}", order.name);
        }
        // It was found in training.
        let found = report.frontier.iter().any(|found| found.order == order.order);
        assert!(found || order.name == "recommended", "{}", order.name);
    }
    assert!(shown > 0 && report.orders().any(|order| !order.on_frontier));
}

#[test]
fn what_is_recommended_looks_for_all_that_the_start_looks_for_and_costs_least_in_training() {
    let looks = ["naked 1", "hidden 1", "naked 2", "hidden 3 open 8"];
    let looks = looks.map(|look| look.parse().unwrap());
    let settings =
        OrderSettings { start: rulebook(&Order::new(looks.to_vec()).unwrap()), ..settings() };
    let report = search(&settings, &|_| {}).unwrap();
    let coverage = crate::Coverage::of(&report.recommended.order);
    for shape in crate::Coverage::of(&report.start.order).shapes {
        let of_found = coverage
            .shapes
            .iter()
            .find(|other| (other.open, other.naked) == (shape.open, shape.naked));
        assert!(shape.is_gap() || !of_found.unwrap().is_gap(), "{}", shape.name());
    }
    assert!(report.recommended.training.glances.value <= report.start.training.glances.value);
    assert!(report.recommended.training.reached.hits() >= report.start.training.reached.hits());
}

/// Robust means: each reader saves for sure, and no fewer puzzles are reached.
#[test]
fn a_saving_is_robust_if_each_reader_makes_it_and_reach_is_kept() {
    let level = Level::default();
    let costs = |by: &dyn Fn(i128) -> i128| (0..40).map(by).collect::<Vec<i128>>();
    let old = costs(&|puzzle| 5_000_000_000 + puzzle * 1_000_000);
    let clear =
        CostDifference::of(&costs(&|p| old[p as usize] - 9_000_000 - p), &old, level).unwrap();
    // Less on average, but the interval holds 0.
    let loose = |puzzle: i128| {
        old[puzzle as usize] + if puzzle % 2 == 0 { -90_000_000 } else { 80_000_000 }
    };
    let loose = CostDifference::of(&costs(&loose), &old, level).unwrap();
    let dear =
        CostDifference::of(&costs(&|p| old[p as usize] + 9_000_000 + p), &old, level).unwrap();
    assert!(loose.more_glances.value < 0.0 && dear.more_glances.value > 0.0);
    let reached = |here: &[bool], there: &[bool]| {
        let efforts = |reached: &[bool]| -> Vec<PuzzleEffort> {
            let glances = tallyhouse_engine::effort::Glances::default();
            reached.iter().map(|&reached| PuzzleEffort { glances, reached }).collect()
        };
        Comparison::of(&efforts(here), &efforts(there), &GlanceWeights::default(), level).unwrap()
    };
    let kept = reached(&[true, true, false], &[true, false, true]);
    let lost = reached(&[true, false, false], &[true, false, true]);
    assert!(is_robust([&clear, &clear], &kept));
    assert!(!is_robust([&clear, &clear], &lost));
    assert!(!is_robust([&clear, &loose], &kept));
    assert!(!is_robust([&dear, &clear], &kept));
}

#[test]
fn a_short_start_is_compared_with() {
    let looks = ["naked 1", "hidden 1", "naked 2"].map(|look| look.parse().unwrap());
    let start = rulebook(&Order::new(looks.to_vec()).unwrap());
    let report = search(&OrderSettings { start, ..settings() }, &|_| {}).unwrap();
    let ladder = report.ladder.against_start.as_ref().unwrap();
    assert!(ladder.this_only > 0 && ladder.other_only == 0);
    assert!(ladder.cost.more_glances.value > 0.0);
    assert_eq!(report.ladder.held_out.reached.hits(), 120);
    let csv = report.csv().unwrap();
    let rows: Vec<csv::StringRecord> =
        csv::Reader::from_reader(&csv[..]).records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 4 + report.frontier.len());
    assert_eq!((&rows[1][0], &rows[1][13]), ("ladder", "120"));
    assert!(report.to_text().contains("120 of 120, 100 % (96–100 %)"));
}

#[test]
fn what_has_no_answer_is_refused() {
    let refused = |settings: &OrderSettings| search(settings, &|_| {}).unwrap_err().to_string();
    let mut shared = settings();
    let turned = shared.training[4];
    // The same puzzle turned over its diagonal.
    let turned: String = (0..81)
        .map(|cell| turned.to_string().as_bytes()[cell % 9 * 9 + cell / 9] as char)
        .collect();
    shared.held_out[2] = turned.parse().unwrap();
    let message = refused(&shared);
    assert!(
        message.contains("held-out puzzle 3") && message.contains("training puzzle 5"),
        "{message}"
    );

    let mut blank = settings();
    blank.training[1] = ".".repeat(81).parse().unwrap();
    assert!(refused(&blank).contains("training puzzle 2"));
    let few = OrderSettings { held_out: Vec::new(), ..settings() };
    assert!(refused(&few).contains("at least 2 held-out puzzles, found 0"));
    assert!(refused(&OrderSettings { frontier: 0, ..settings() }).contains("at least 1 rulebook"));
    let start = rulebook(&Order::ladder().with_intersections());
    assert!(refused(&OrderSettings { start, ..settings() }).contains("intersections"));
}

/// What can be left out of an order is left out of what is recommended, and nothing else.
#[test]
fn needless_looks_are_left_out() {
    let OrderSettings { training, weights, .. } = settings();
    let training = PuzzleSet::new(&training);
    let measure = |draft: &Draft| {
        let totals = Totals::of(&training.evaluate_all(&draft.order()));
        (totals.reached, totals.glances.cost(&weights))
    };
    let start = draft("naked 1, hidden 1, naked 2");
    // A house seldom shows both sides of one shape apart, and never a naked 8 or a hidden 8.
    let long =
        draft("naked 1, hidden 1, naked 2, hidden 7 open 9, naked 8, naked 3, hidden 4 open 6");
    let short = without_needless(&long, &start, &training, &weights);
    let ((reached, cost), (reached_before, cost_before)) = (measure(&short), measure(&long));
    assert!(reached >= reached_before && cost <= cost_before);
    assert!(start.is_within(&short) && short.rungs().len() < long.rungs().len());
    let looks = |draft: &Draft, kind: &str| draft.order().to_string().contains(kind);
    assert!(!looks(&short, "naked 8") && !looks(&short, "hidden 7"), "{}", short.order());
    assert!(looks(&short, "naked 3"), "some puzzles need it: {}", short.order());
    // Nothing more can be left out.
    let covering = short.shorter().into_iter().filter(|shorter| start.is_within(shorter));
    let mut no_worse =
        covering.map(|draft| measure(&draft)).filter(|m| m.0 >= reached && m.1 <= cost);
    assert_eq!(no_worse.next(), None);
    assert_eq!(without_needless(&start, &start, &training, &weights), start);
}
