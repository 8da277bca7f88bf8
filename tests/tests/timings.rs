//! Times of people: simulated ones give back what they were made with, and files that are not as they
//! should be are told with their lines.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_analysis::ReaderFile;
use tallyhouse_analysis::timings::{TimingSettings, TimingsReport, Told, timings};
use tallyhouse_board::{House, Puzzle};
use tallyhouse_census::Scanner;
use tallyhouse_collection::{Entry, MinimalByDeletion, Rejects};
use tallyhouse_engine::effort::{Learning, LookCounts, each_look};
use tallyhouse_engine::{Look, Position, WalkOptions};
use tallyhouse_stats::Level;
use tallyhouse_tests::command::{Ran, run};
use tallyhouse_tests::simulated;
use tempfile::TempDir;

/// One look in one house, with what it goes through.
#[derive(Clone)]
struct Item {
    puzzle: Puzzle,
    number: u16,
    house: House,
    look: Look,
    counts: LookCounts,
    is_there: bool,
}

/// The houses of some quiet positions, each with all its looks.
fn houses() -> Vec<Vec<Item>> {
    let mut scanner = Scanner::new(&WalkOptions::default(), true);
    let puzzles = MinimalByDeletion { seed: 21 }.puzzles(0..60);
    let block = puzzles.into_iter().map(|puzzle| Ok(Entry::new(0, puzzle))).collect();
    let mut houses = Vec::new();
    for scan in scanner.scan(block).into_iter().flatten() {
        for record in scan.positions.iter().take(1) {
            let position = Position::from_states(record.states.as_deref().unwrap()).unwrap();
            for house in House::all() {
                let mut looks = Vec::new();
                each_look(&position, house, |look, counts, found| {
                    let (puzzle, number) = (scan.entry.puzzle, record.number);
                    let is_there = found.is_some();
                    looks.push(Item { puzzle, number, house, look, counts, is_there });
                });
                houses.push(looks);
            }
        }
    }
    houses
}

/// Looks with something to find: few of each kind, size and open count, and never two in a row in one
/// house; behind them, two looks in each of some houses if `in_a_row` says so.
fn items(singly: usize, in_a_row: usize) -> Vec<Item> {
    let houses = houses();
    let mut items: Vec<Item> = Vec::new();
    let most_alike = singly.div_ceil(10);
    for looks in &houses {
        let is_rare = |item: &&Item| {
            let is_alike =
                |other: &&Item| (other.look, other.counts.open) == (item.look, item.counts.open);
            items.iter().filter(is_alike).count() < most_alike
        };
        let next = looks.iter().filter(|item| item.is_there).find(is_rare).cloned();
        if items.len() < singly {
            items.extend(next);
        }
    }
    assert_eq!(items.len(), singly);
    let rich = houses.iter().rev().filter(|looks| looks.iter().any(|item| item.is_there));
    for looks in rich.filter(|looks| looks.len() >= 4).take(in_a_row) {
        // Two naked looks, two hidden ones.
        for at in [0, 2, 1, 3] {
            items.push(looks[at].clone());
        }
    }
    items
}

fn items_csv(items: &[Item]) -> String {
    let mut text = "item,kind,puzzle,position,house,look\n".to_owned();
    for (item, number) in items.iter().zip(1..) {
        let Item { puzzle, number: at, house, look, .. } = item;
        writeln!(text, "{number},house,{puzzle},{},{house},{look}", at + 1).unwrap();
    }
    text
}

/// People who are made up, and what they are like.
struct Simulation {
    learning: Learning,
    /// Seconds to begin a look, for a cell seen, a place gathered, a try.
    truth: [f64; 4],
    people: usize,
    /// How much the logarithm of a time varies.
    by: f64,
    /// The share of searches that are broken off.
    gave_up: f64,
    seed: u64,
}

impl Simulation {
    const fn of(learning: Learning, truth: [f64; 4], people: usize, seed: u64) -> Self {
        Self { learning, truth, people, by: 0.3, gave_up: 0.03, seed }
    }

    fn csv(&self, items: &[Item]) -> String {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let mut text = "person,item,look,seconds,found\n".to_owned();
        for person in 1..=self.people {
            let pace = factor(&mut rng, 0.35);
            let mut before: Option<&Item> = None;
            let mut known = [false; 2];
            for (item, number) in items.iter().zip(1..) {
                let is_same = |other: &Item| {
                    (other.puzzle, other.number, other.house)
                        == (item.puzzle, item.number, item.house)
                };
                if !before.is_some_and(is_same) {
                    known = [false; 2];
                }
                let mut counts = item.counts;
                let side = usize::from(matches!(item.look, Look::Hidden(_)));
                if known[side] && self.learning == Learning::Remembered {
                    (counts.cells, counts.digits) = (0, 0);
                }
                known[side] = true;
                before = Some(item);
                let glances = counts.glances(self.learning);
                let [cells, places, tries] =
                    [glances.cells_seen, glances.places_gathered, glances.tries];
                let counts = [1, cells, places, tries].map(|count| count as f64);
                let seconds: f64 = counts.iter().zip(self.truth).map(|(n, each)| n * each).sum();
                let seconds = pace * seconds * factor(&mut rng, self.by);
                let found = match (rng.random::<f64>() < self.gave_up, item.is_there) {
                    (true, _) => {
                        // Whoever broke off does not know the whole house.
                        (before, known) = (None, [false; 2]);
                        "gave-up"
                    }
                    (false, true) => "yes",
                    (false, false) => "no",
                };
                writeln!(text, "{person},{number},{},{seconds:.2},{found}", item.look).unwrap();
            }
        }
        text
    }
}

/// A factor of mean 1 whose logarithm varies by this (G. E. P. Box & M. E. Muller, 1958).
fn factor(rng: &mut ChaCha8Rng, by: f64) -> f64 {
    let [radius, angle] = [rng.random::<f64>().max(1e-12), rng.random::<f64>()];
    let normal = (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * angle).cos();
    (by * normal - by * by / 2.0).exp()
}

fn folder_of(items: &str, times: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("items.csv"), items).unwrap();
    fs::write(folder.path().join("times.csv"), times).unwrap();
    folder
}

fn report_in(folder: &Path) -> Result<TimingsReport, String> {
    let settings = TimingSettings { level: Level::default(), seed: 1 };
    let at = |name: &str| folder.join(name).display().to_string();
    let mut rejects = Rejects::counted(&[]);
    timings(settings, &at("times.csv"), &at("items.csv"), &mut rejects)
        .map_err(|error| error.to_string())
}

fn report(items: &[Item], simulation: &Simulation) -> TimingsReport {
    let folder = folder_of(&items_csv(items), &simulation.csv(items));
    report_in(folder.path()).unwrap()
}

const TRUTH: [f64; 4] = [2.0, 0.9, 0.15, 0.4];

/// Twelve samples: of 48 intervals that each hold the truth 95 times in 100, fewer than 41 do so three times
/// in 1,000, were they independent.
#[test]
fn weights_that_times_were_made_with_come_out_again() {
    let items = items(30, 3);
    let (mut holding, mut means) = (0, [0.0; 4]);
    for seed in 0..12 {
        let report = report(&items, &Simulation::of(Learning::CellByCell, TRUTH, 20, seed));
        let marking = &report.readers[0];
        assert_eq!(marking.reader, "marking");
        for ((weight, truth), mean) in marking.weights.iter().zip(TRUTH).zip(&mut means) {
            assert_eq!(weight.told, Told::Fitted);
            let seconds = weight.seconds;
            let [value, low, high] = [seconds.value, seconds.low, seconds.high].map(Option::unwrap);
            holding += u32::from(low <= truth && truth <= high);
            *mean += value / truth / 12.0;
        }
        // A glance is as long as makes the rows cost as many glances as before.
        let fitted = marking.fitted.as_ref().unwrap().model.weights;
        let glance = marking.seconds_a_glance.unwrap();
        for (weight, column) in [fitted.cell(), fitted.place(), fitted.try_()].into_iter().zip(1..)
        {
            let expected = marking.weights[column].seconds.value.unwrap() / glance;
            assert!((weight - expected).abs() < 1e-5, "{weight}, {expected}");
        }
    }
    assert!(holding >= 41, "{holding} of 48");
    assert!(means.iter().all(|mean| (mean - 1.0).abs() < 0.1), "{means:?}");
}

#[test]
fn the_reader_that_times_were_made_with_explains_them_best() {
    let items = items(40, 6);
    for (learning, name, others) in [
        (Learning::CellByCell, "marking", ["sharing", "remembering"]),
        (Learning::WholeHouse, "sharing", ["marking", "unmarked"]),
        (Learning::Remembered, "remembering", ["marking", "sharing"]),
        (Learning::CrossingHouses, "unmarked", ["sharing", "remembering"]),
    ] {
        let report = report(&items, &Simulation::of(learning, TRUTH, 40, 7));
        let best = report.best().unwrap();
        assert_eq!(best.reader, name, "{}", report.text());
        // By chance alone times are off by a factor of e^0.3.
        assert!((1.3..1.4).contains(&best.off_by.unwrap()), "{}", report.text());
        let as_good: Vec<&str> = report.as_good().map(|fit| fit.reader.as_str()).collect();
        assert!(others.iter().all(|other| !as_good.contains(other)), "{name}: {as_good:?}");
    }
}

#[test]
fn what_the_items_do_not_tell_is_said_and_not_written() {
    let all = items(40, 0);
    let naked = |item: &&Item| matches!(item.look, Look::Naked(_));
    let of_naked: Vec<Item> = all.iter().filter(naked).cloned().collect();
    let simulation = Simulation::of(Learning::CellByCell, TRUTH, 10, 3);
    let report_of_naked = report(&of_naked, &simulation);
    let marking = &report_of_naked.readers[0];
    let told: Vec<Told> = marking.weights.iter().map(|weight| weight.told).collect();
    assert_eq!(told, [Told::Fitted, Told::Fitted, Told::NeverCounted, Told::Fitted]);
    assert!(marking.fitted.is_none() && marking.weights[2].seconds.value.is_none());
    // Who reads the house once gathers no places, so nothing is missing.
    let sharing = &report_of_naked.readers[1];
    assert!(sharing.fitted.as_ref().unwrap().to_toml().unwrap().contains("cell = "));
    assert!(!sharing.fitted.as_ref().unwrap().to_toml().unwrap().contains("place = "));
    // These readers do the same with naked looks, so nothing tells them apart.
    let as_good: Vec<&str> = report_of_naked.as_good().map(|fit| fit.reader.as_str()).collect();
    assert_eq!(as_good, ["sharing", "unmarked"]);
    assert!(report_of_naked.text().contains("can't tell it from sharing and unmarked"));
    assert!(report_of_naked.text().contains("Not identifiable for marking: place gathered, which"));
    assert_eq!(
        report_of_naked.readers[2].not_judged,
        Some("no look follows another of its kind in the same house")
    );

    // Of one open count, cells go with the start.
    let open = of_naked[0].counts.open;
    let of_one: Vec<Item> =
        of_naked.iter().filter(|item| item.counts.open == open).cloned().collect();
    let report_of_one = report(&of_one, &simulation);
    assert_eq!(report_of_one.readers[0].weights[1].told, Told::GoesWithOthers);
    assert!(report_of_one.readers.iter().all(|fit| fit.fitted.is_none()));
    assert!(report_of_one.warnings[0].contains("too few to trust the weights"));
}

#[test]
fn few_people_get_weights_without_intervals() {
    let items = items(20, 0);
    for people in [1, 7] {
        let report = report(&items, &Simulation::of(Learning::WholeHouse, TRUTH, people, 2));
        let weight = &report.readers[1].weights[1];
        assert!(weight.seconds.value.is_some() && weight.seconds.low.is_none());
        assert!(report.readers.iter().all(|fit| fit.p.is_none()));
        assert!(report.text().contains("too few to tell readers apart"), "{}", report.text());
        let (one, many) = ("1 person: too few", "7 people: too few");
        assert!(report.warnings[0].starts_with(if people == 1 { one } else { many }));
    }
}

#[test]
fn rows_that_can_not_be_used_are_counted_with_their_lines() {
    let items = items(3, 0);
    let looks: Vec<String> = items.iter().map(|item| item.look.to_string()).collect();
    let text = format!("{}4,board,{},1,,\n", items_csv(&items), items[0].puzzle);
    let [a, b, c] = &looks[..] else { unreachable!() };
    let rows = [
        (format!("1,1,{a},12.5,yes"), ""),
        (format!("1,2,{b},30,no"), ""),
        (format!("1,3,{c},,gave-up"), ""),
        ("1,4,,200,yes".to_owned(), ""),
        (format!(",2,{b},,"), ""),
        (format!("1,1,{a},13,yes"), "item: person 1 has item 1 on line 2 already"),
        (format!("2,99,{a},13,yes"), "item: found '99', expected one of the 4 items of"),
        (format!("2,1,{a},-4,yes"), "seconds: found '-4', expected a number above 0"),
        (format!("2,2,{b},0,yes"), "seconds: found '0', expected a number above 0"),
        (format!("2,3,{c},nan,yes"), "seconds: found 'nan'"),
        ("3,1,naked 7,9,yes".to_owned(), "look: found 'naked 7', but item 1 asks for"),
        (format!("3,2,{b},9,perhaps"), "found: found 'perhaps', expected yes, no or gave-up"),
        (format!("0,2,{b},9,yes"), "person: found '0', expected a number from 1"),
        (format!(",2,{b},9,yes"), "person: found '', expected a number from 1"),
        (format!("3,2,{b},9"), "found 4 fields, expected 5"),
    ];
    let lines: Vec<&str> = rows.iter().map(|(row, _)| row.as_str()).collect();
    let times = format!("person,item,look,seconds,found\n{}\n", lines.join("\n"));
    let folder = folder_of(&text, &times);
    let ran = run(folder.path(), &["timings", "times.csv", "--items", "items.csv", "-o", "out"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.err.contains("10 of 15 rows were rejected; first: times.csv, line 7: item: "));
    assert!(ran.err.contains("1 person: too few"), "{ran:?}");
    assert!(ran.out.contains(
        "Used: 2 of 15 rows of times.csv, for 2 items; not used: 10 rejected, 1 not filled in, 1 given up and"
    ));
    let mut list = csv::Reader::from_path(folder.path().join("out/rejects.csv")).unwrap();
    let list: Vec<csv::StringRecord> = list.records().map(Result::unwrap).collect();
    let expected = rows.iter().zip(2..).filter(|((_, reason), _)| !reason.is_empty());
    let expected: Vec<_> = expected.collect();
    assert_eq!(list.len(), expected.len());
    for (found, ((row, reason), line)) in list.iter().zip(expected) {
        assert_eq!((&found[0], &found[1]), ("times.csv", line.to_string().as_str()));
        assert_eq!(&found[2], row);
        assert!(found[3].starts_with(reason), "{found:?}, {reason}");
    }
    // Without a folder the rest is told all the same.
    let told = run(folder.path(), &["timings", "times.csv", "--items", "items.csv"]);
    assert_eq!(told.code, Some(0));
    assert!(told.err.contains("all are listed with --out DIR"), "{told:?}");
}

fn refused(items: &str, times: &str, message: &str) -> Ran {
    let folder = folder_of(items, times);
    let ran = run(folder.path(), &["timings", "times.csv", "--items", "items.csv", "-o", "out"]);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    assert!(ran.err.contains(message), "{message}: {ran:?}");
    assert!(!folder.path().join("out/manifest.json").exists() || ran.err.contains("no row"));
    ran
}

#[test]
fn files_that_are_not_what_they_should_be_are_refused_with_file_and_line() {
    let items = items(2, 0);
    let good = items_csv(&items);
    let look = items[0].look.to_string();
    let head = "person,item,look,seconds,found";
    let times = format!("{head}\n1,1,{look},12,yes\n");
    refused(
        &good,
        "# mine\nperson,item,seconds\n1,1,3\n",
        "times.csv, line 2: found the columns person, item, seconds, expected look and found too",
    );
    let named = refused(
        &good,
        &format!("{head}\n1,1,{look},12,yes\nMaxine,1,{look},12,yes\n"),
        "times.csv, line 3: person: found letters, expected a number; number the people",
    );
    assert!(!named.err.contains("Maxine"), "{named:?}");
    refused(&good, &format!("{head}\n"), "times.csv: no row can be used: 0 rows rejected");
    refused(
        &good,
        &format!("{head}\n1,1,{look},-1,yes\n"),
        "no row can be used: 1 row rejected; the first: times.csv, line 2: seconds: found '-1'",
    );
    for (from, to, message) in [
        ("1,house,", "1,room,", "items.csv, line 2: kind: found 'room', expected house or board"),
        ("kind,", "sort,", "items.csv, line 1: found the columns item, sort, puzzle"),
        (",1,", ",40,", "items.csv, line 2: position: found 40, but the puzzle has"),
        (",1,", ",0,", "items.csv, line 2: position: found '0', expected a number from 1"),
        ("\n2,", "\n1,", "items.csv, line 3: found item 1 again"),
        (look.as_str(), "naked 1", "items.csv, line 2: look: found naked 1, expected one for"),
        (look.as_str(), "naked 8", "items.csv, line 2: look: naked 8 does not fit into"),
        (look.as_str(), "glance", "items.csv, line 2: look: 'glance' is not a look"),
    ] {
        let ran = refused(&good.replacen(from, to, 1), &times, message);
        assert!(ran.err.contains("take items.csv as worksheet wrote it"), "{ran:?}");
    }
    let short = good.replacen(&items[0].puzzle.to_string(), "123", 1);
    refused(&short, &times, "items.csv, line 2: puzzle: 3 characters instead of 81");
}

#[test]
fn a_fitted_reader_is_one_for_all_commands() {
    let items = items(30, 3);
    let simulation = Simulation::of(Learning::CellByCell, TRUTH, 12, 4);
    let folder = folder_of(&items_csv(&items), &simulation.csv(&items));
    let folder = folder.path();
    let good = |line: &str| {
        let ran = run(folder, &line.split(' ').collect::<Vec<_>>());
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
        ran
    };
    let first = good("timings times.csv --items items.csv -o fitted --threads 1");
    good("timings times.csv --items items.csv -o again --threads 2");
    for name in ["weights.csv", "readers.csv", "marking-fitted.toml", "sharing-fitted.toml"] {
        let read = |out: &str| fs::read(folder.join(out).join(name)).unwrap();
        assert_eq!(read("fitted"), read("again"), "{name}");
    }
    assert!(first.out.starts_with("The reader marking "), "{}", first.out);
    let file = folder.join("fitted/marking-fitted.toml").display().to_string();
    assert_eq!(ReaderFile::load(&file).unwrap().name, "marking-fitted");
    good("make --count 30 --seed 3 -o in.txt");
    for line in [
        "yields in.txt --reader fitted/marking-fitted.toml --reader fitted/sharing-fitted.toml -o y",
        "judge in.txt --claims common-claims --reader fitted/marking-fitted.toml -o j",
        "order --training-count 9 --held-out-count 9 --evaluations 3 --reader \
         fitted/marking-fitted.toml -o o",
        "compare in.txt --rulebook full-ladder --rulebook short-list --reader fitted/marking-fitted.toml \
         -o c",
    ] {
        good(line);
    }
    let seeds = |seed: u64| good(&format!("timings times.csv --items items.csv --seed {seed}")).out;
    assert_ne!(seeds(1), seeds(2), "intervals depend on who is drawn");
    let json = good("timings times.csv --items items.csv --json").out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["people"], &json["readers"][0]["reader"]), (&12.into(), &"marking".into()));
}

#[test]
fn the_form_of_a_worksheet_is_what_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let ran = |line: &str| run(folder, &line.split(' ').collect::<Vec<_>>());
    let good = |line: &str| assert_eq!(ran(line).code, Some(0), "{line}: {:?}", ran(line));
    good("make --count 400 --seed 8 -o in.txt");
    for kind in ["house", "board"] {
        good(&format!(
            "worksheet in.txt --rulebook up-to-triples --kind {kind} --count 6 -o {kind}"
        ));
        let form = fs::read_to_string(folder.join(kind).join("times.csv")).unwrap();
        let (head, rows) = form.split_once('\n').unwrap();
        let mut filled = format!("{head}\n");
        for person in 1..=3 {
            for (row, number) in rows.lines().zip(1..) {
                let seconds = 10 * person + number;
                let row = row.strip_suffix(",,").unwrap();
                writeln!(filled, "{person}{row},{seconds},yes").unwrap();
            }
        }
        fs::write(folder.join(format!("{kind}.csv")), filled + rows).unwrap();
    }
    let of_houses = ran("timings house.csv --items house/items.csv");
    assert_eq!(of_houses.code, Some(0), "{of_houses:?}");
    let used = "Used: 18 of 24 rows of house.csv, for 6 items; not used: 6 not filled in.";
    assert!(of_houses.out.contains(used), "{of_houses:?}");
    let of_boards = ran("timings board.csv --items board/items.csv");
    assert_eq!(of_boards.code, Some(1), "{of_boards:?}");
    assert!(of_boards.err.contains("0 rows rejected; 24 rows left out"), "{of_boards:?}");
}

/// The example of the documents is made by this simulation: with `UPDATE_DOCUMENTS` it is written.
#[test]
fn the_simulated_example_is_as_it_was_made() {
    let items = items(20, 2);
    let simulation = Simulation::of(Learning::CellByCell, TRUTH, 12, 11);
    let mark = "# SIMULATED: made by the model with a seed (tests/tests/timings.rs). No person was timed.\n";
    for (name, text) in [
        ("simulated-items.csv", items_csv(&items)),
        ("simulated-times.csv", simulation.csv(&items)),
    ] {
        let (path, text) = (simulated::folder().join(name), format!("{mark}{text}"));
        if std::env::var_os("UPDATE_DOCUMENTS").is_some() {
            fs::write(&path, text).unwrap();
        } else {
            let found = fs::read_to_string(&path).unwrap();
            assert_eq!(found, text, "{name}: run again with UPDATE_DOCUMENTS=1");
        }
    }
}
