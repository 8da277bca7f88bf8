use std::cell::RefCell;

use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::effort::effort_walk;
use tallyhouse_engine::{WalkOptions, walk};

use super::*;

fn settings() -> OrderSettings {
    let puzzles = |seed, count| MinimalByDeletion { seed }.puzzles(0..count);
    OrderSettings {
        evaluations: 60,
        frontier: 5,
        seed: 3,
        ..OrderSettings::new(puzzles(31, 450), puzzles(32, 120), Order::ladder())
    }
}

fn in_threads(threads: usize, settings: &OrderSettings) -> OrderReport {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| search(settings, &|_| {}).unwrap())
}

fn texts(report: &OrderReport) -> [String; 4] {
    let (csv, ratios) = (report.csv().unwrap(), report.ratio_csv().unwrap());
    [
        serde_json::to_string(report).unwrap(),
        String::from_utf8(csv).unwrap(),
        String::from_utf8(ratios).unwrap(),
        report.to_text(),
    ]
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
    assert_eq!(report.evaluations.made, 60);
    // A bar adds up what it is told.
    assert_eq!(told.borrow().iter().sum::<u64>(), 60);
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
        assert!((compared.more_glances.value - (cost - start.0)).abs() < 1e-6);
        assert_eq!(
            compared.this_only as i64 - compared.other_only as i64,
            reached as i64 - start.1 as i64
        );
        assert!(compared.glances_p_holm >= compared.glances_p);
        assert!(compared.reached_p_holm >= compared.reached_p);
    }
    // In training each costs more than the one before, and reaches more.
    for pair in report.frontier.windows(2) {
        assert!(pair[0].training.glances.value < pair[1].training.glances.value);
        assert!(pair[0].training.reached.hits() < pair[1].training.reached.hits());
    }
}

#[test]
fn the_frontier_dominates_its_starts() {
    let settings = OrderSettings { frontier: 1000, ..settings() };
    let report = search(&settings, &|_| {}).unwrap();
    for start in [&report.start, &report.ladder, &report.ratio_rule] {
        let no_worse = |order: &ReportedOrder| {
            order.training.glances.value <= start.training.glances.value
                && order.training.reached.hits() >= start.training.reached.hits()
        };
        assert!(report.frontier.iter().any(no_worse), "{}", start.name);
    }
}

#[test]
fn a_short_start_is_compared_with() {
    let looks = ["naked 1", "hidden 1", "naked 2"].map(|look| look.parse().unwrap());
    let start = Order::new(looks.to_vec()).unwrap();
    let report = search(&OrderSettings { start, ..settings() }, &|_| {}).unwrap();
    let ladder = report.ladder.against_start.as_ref().unwrap();
    assert!(ladder.this_only > 0 && ladder.other_only == 0);
    assert!(ladder.more_glances.value > 0.0);
    assert_eq!(report.ladder.held_out.reached.hits(), 120);
    assert!(report.ladder.changes[0].starts_with("hidden 2 is looked for too"));
    let csv = report.csv().unwrap();
    let rows: Vec<csv::StringRecord> =
        csv::Reader::from_reader(&csv[..]).records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3 + report.frontier.len());
    assert_eq!((&rows[1][0], &rows[1][13]), ("ladder", "120"));
    assert!(report.to_text().contains("120 of 120, 100 % (97–100 %)"));
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
    let start = Order::ladder().with_intersections();
    assert!(refused(&OrderSettings { start, ..settings() }).contains("intersections"));
}
