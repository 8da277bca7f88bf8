//! How often a house shows each shape: `rates.csv` and the command `rates` against a plain count of the
//! tables of the same dataset.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::path::Path;

use polars::prelude::{AnyValue, DataFrame};
use polars_io::SerReader;
use polars_io::prelude::ParquetReader;
use tallyhouse_collection::{Entry, MinimalByDeletion, Weight};
use tallyhouse_stats::{Level, Rate, RateCluster};
use tallyhouse_tests::command::{Ran, run};

fn good(folder: &Path, words: &[&str]) -> Ran {
    let ran = run(folder, words);
    assert_eq!(ran.code, Some(0), "{words:?}: {ran:?}");
    ran
}

const COUNT: u64 = 3400;

/// Puzzles with and without weights and families; some families go over parts, one over three.
fn mixed() -> String {
    let puzzles = MinimalByDeletion { seed: 9 }.puzzles(0..COUNT);
    let entry = |(number, puzzle): (u64, _)| {
        let mut entry = Entry::new(number, puzzle);
        let weight = 1 + 999_999_999 * (number % 3) / 2;
        entry.weight = (number % 5 > 0).then(|| Weight::from_millionths(weight).unwrap());
        entry.family = match number {
            980..1003 => Some(7),
            1003..3020 => (number % 4 > 0).then_some(900),
            3020.. => (number % 2 > 0).then_some(number / 6),
            _ => (number % 3 > 0).then_some(1000 + number / 9),
        };
        format!("{entry}\n")
    };
    (0..).zip(puzzles).map(entry).collect()
}

fn plain() -> String {
    let puzzles = MinimalByDeletion { seed: 4 }.puzzles(0..COUNT);
    puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect()
}

/// The parts of a table below each other, column by column.
struct Table(Vec<DataFrame>);

impl Table {
    fn read(dataset: &Path, name: &str) -> Self {
        let mut paths: Vec<_> =
            fs::read_dir(dataset.join(name)).unwrap().map(|file| file.unwrap().path()).collect();
        paths.sort();
        let read = |path| ParquetReader::new(File::open(path).unwrap()).finish().unwrap();
        Self(paths.into_iter().map(read).collect())
    }

    fn values<T>(&self, column: &str, of: impl Fn(AnyValue<'_>) -> T) -> Vec<T> {
        let mut values = Vec::new();
        for part in &self.0 {
            let column = part.column(column).unwrap();
            values.extend((0..part.height()).map(|row| of(column.get(row).unwrap())));
        }
        values
    }

    fn numbers(&self, column: &str) -> Vec<Option<f64>> {
        self.values(column, |value| if value.is_null() { None } else { value.extract() })
    }

    fn whole(&self, column: &str) -> Vec<u64> {
        self.values(column, |value| value.extract().unwrap())
    }

    fn words(&self, column: &str) -> Vec<String> {
        self.values(column, |value| value.to_string().replace('"', ""))
    }

    fn truths(&self, column: &str) -> Vec<bool> {
        self.values(column, |value| value == AnyValue::Boolean(true))
    }
}

/// A quiet position: its puzzle, its number, whether something was applied, and the open cells of each
/// house from the kept board.
struct Quiet {
    puzzle: u64,
    number: u64,
    moves: bool,
    open: [usize; 27],
}

fn quiet_positions(dataset: &Path) -> Vec<Quiet> {
    let positions = Table::read(dataset, "positions");
    let states = positions.values("state", |value| {
        let AnyValue::List(state) = value else { panic!("state is a list") };
        state.u16().unwrap().into_no_null_iter().collect::<Vec<u16>>()
    });
    let applied = positions.words("look_applied");
    let numbers = positions.whole("position");
    let puzzles = positions.whole("puzzle").into_iter().zip(numbers);
    let quiet = |(((puzzle, number), state), applied): (((u64, u64), Vec<u16>), String)| {
        let mut open = [0; 27];
        for (cell, state) in state.iter().enumerate().filter(|(_, state)| **state >> 9 == 0) {
            assert!(*state > 0);
            let (row, column) = (cell / 9, cell % 9);
            for house in [row, 9 + column, 18 + row / 3 * 3 + column / 3] {
                open[house] += 1;
            }
        }
        Quiet { puzzle, number, moves: applied != "null", open }
    };
    puzzles.zip(states).zip(applied).map(quiet).collect()
}

/// A subset of the table.
#[derive(Clone)]
struct Found {
    puzzle: u64,
    number: u64,
    house: usize,
    open: usize,
    naked: usize,
    proper: bool,
    new: bool,
}

fn found(dataset: &Path) -> Vec<Found> {
    let table = Table::read(dataset, "subsets");
    let [puzzle, position, house, open, naked] =
        ["puzzle", "position", "house", "open", "naked"].map(|name| table.whole(name));
    let kinds = table.words("house_kind");
    let [one, other, new] = ["naked_proper", "hidden_proper", "new"].map(|name| table.truths(name));
    let row = |row: usize| Found {
        puzzle: puzzle[row],
        number: position[row],
        house: 9 * ["row", "column", "box"].iter().position(|kind| *kind == kinds[row]).unwrap()
            + house[row] as usize
            - 1,
        open: open[row] as usize,
        naked: naked[row] as usize,
        proper: one[row] || other[row],
        new: new[row],
    };
    (0..puzzle.len()).map(row).collect()
}

/// The cluster of each puzzle, and its weight in millionths.
fn clusters(dataset: &Path) -> BTreeMap<u64, ((bool, u64), i128)> {
    let puzzles = Table::read(dataset, "puzzles");
    let weights = puzzles.numbers("weight");
    let families = puzzles.numbers("family");
    let cluster = |((puzzle, weight), family): ((u64, Option<f64>), Option<f64>)| {
        let weight = (weight.unwrap() * 1e6).round() as i128;
        (puzzle, (family.map_or((false, puzzle), |family| (true, family as u64)), weight))
    };
    puzzles.whole("puzzle").into_iter().zip(weights).zip(families).map(cluster).collect()
}

/// The weights of its puzzles, and its hits and trials by weight.
type OfCluster = (BTreeMap<u64, i128>, i128, i128);

/// Sums of clusters, hits and trials.
#[derive(Default)]
struct Sums {
    clusters: BTreeMap<(bool, u64), OfCluster>,
    hits: u64,
    trials: u64,
}

impl Sums {
    fn add(
        &mut self,
        of: &BTreeMap<u64, ((bool, u64), i128)>,
        puzzle: u64,
        hit: bool,
        trial: bool,
    ) {
        let (cluster, weight) = of[&puzzle];
        let sums = self.clusters.entry(cluster).or_default();
        sums.0.insert(puzzle, weight);
        sums.1 += if hit { weight } else { 0 };
        sums.2 += if trial { weight } else { 0 };
        self.hits += u64::from(hit);
        self.trials += u64::from(trial);
    }

    /// The share and its ends as files have them. The weight of a cluster is the mean of its puzzles',
    /// those without a quiet position included.
    fn fields(&self, of: &BTreeMap<u64, ((bool, u64), i128)>) -> [String; 3] {
        let mut members: BTreeMap<(bool, u64), Vec<i128>> = BTreeMap::new();
        of.values()
            .for_each(|(cluster, weight)| members.entry(*cluster).or_default().push(*weight));
        let mut rate = Rate::default();
        for (cluster, (_, hits, trials)) in &self.clusters {
            let members = &members[cluster];
            let weight = RateCluster::mean_weight(members.iter().sum(), members.len() as i128);
            rate.add(RateCluster { weight, hits: *hits, trials: *trials, cost: 0 });
        }
        let share = rate.share(Level::default()).unwrap();
        [share.value, share.low, share.high]
            .map(|number| number.map_or_else(String::new, |number| number.to_string()))
    }
}

/// All rows of `rates.csv` by a plain count.
fn expected(dataset: &Path) -> String {
    let (quiet, found, clusters) = (quiet_positions(dataset), found(dataset), clusters(dataset));
    let proper: Vec<&Found> = found.iter().filter(|found| found.proper).collect();
    let shown: BTreeSet<_> =
        proper.iter().map(|f| (f.puzzle, f.number, f.house, f.naked)).collect();
    let mut text =
        "moment,house_kind,open,naked,hidden,houses,houses_with,subsets,share,low,high\n"
            .to_owned();
    for moment in ["every", "first", "moving"] {
        let counts = |q: &&Quiet| match moment {
            "first" => q.number == 0,
            "moving" => q.moves,
            _ => true,
        };
        let positions: Vec<&Quiet> = quiet.iter().filter(counts).collect();
        let at: BTreeSet<_> = positions.iter().map(|q| (q.puzzle, q.number)).collect();
        for (kind, houses) in [("all", 0..27), ("row", 0..9), ("column", 9..18), ("box", 18..27)] {
            for open in 2..=9 {
                for naked in 1..open {
                    let mut sums = Sums::default();
                    for q in &positions {
                        for house in houses.clone().filter(|house| q.open[*house] == open) {
                            let hit = shown.contains(&(q.puzzle, q.number, house, naked));
                            sums.add(&clusters, q.puzzle, hit, true);
                        }
                    }
                    let of_shape = proper.iter().filter(|f| {
                        (f.open, f.naked) == (open, naked)
                            && houses.contains(&f.house)
                            && at.contains(&(f.puzzle, f.number))
                    });
                    let (subsets, hidden) = (of_shape.count(), open - naked);
                    let [share, low, high] = sums.fields(&clusters);
                    let (houses, with) = (sums.trials, sums.hits);
                    text += &format!(
                        "{moment},{kind},{open},{naked},{hidden},{houses},{with},{subsets},{share},\
                         {low},{high}\n"
                    );
                }
            }
        }
    }
    text
}

#[test]
fn rates_are_those_of_a_plain_count_whatever_the_parts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (name, text) in [("plain", plain()), ("mixed", mixed())] {
        let file = format!("{name}.txt");
        fs::write(folder.join(&file), text).unwrap();
        let stuck = if name == "plain" { "stop" } else { "give-digit" };
        let scan = |more: &str| {
            let out = format!("{name}{}", more.replace(' ', ""));
            let census = format!("census {file} --when-stuck {stuck} {more} -o {out}");
            good(folder, &census.split_whitespace().collect::<Vec<_>>());
            fs::read_to_string(folder.join(out).join("rates.csv")).unwrap()
        };
        let rates = scan("--part-size 1000 --keep-states");
        let expected = expected(&folder.join(format!("{name}--part-size1000--keep-states")));
        rates.lines().zip(expected.lines()).for_each(|(found, wanted)| assert_eq!(found, wanted));
        assert_eq!(rates, expected);
        // Neither tables nor where parts end matter.
        assert_eq!(scan("--tables none"), rates);
        assert_eq!(scan("--part-size 2000 --tables none"), rates);
    }
}

/// The rows that the command writes, below their header.
fn asked(folder: &Path, words: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let out = folder.join("answer");
    let line = format!("rates {words} -o answer");
    let mut quoted: Vec<String> = Vec::new();
    // What stands in quotes is one word.
    for (at, piece) in line.split('"').enumerate() {
        match at % 2 {
            1 => quoted.push(piece.to_owned()),
            _ => quoted.extend(piece.split_whitespace().map(str::to_owned)),
        }
    }
    good(folder, &quoted.iter().map(String::as_str).collect::<Vec<_>>());
    let mut csv = csv::Reader::from_path(out.join("rates.csv")).unwrap();
    let header = csv.headers().unwrap().iter().map(str::to_owned).collect();
    let row = |row: csv::StringRecord| row.iter().map(str::to_owned).collect();
    let rows = csv.into_records().map(|record| row(record.unwrap())).collect();
    fs::remove_dir_all(out).unwrap();
    (header, rows)
}

#[test]
fn questions_are_answered_as_by_a_plain_count() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (name, text) in [("plain", plain()), ("mixed", mixed())] {
        fs::write(folder.join("in.txt"), text).unwrap();
        let census = "census in.txt --part-size 1000 --keep-states -o";
        good(folder, &[&census.split_whitespace().collect::<Vec<_>>()[..], &[name]].concat());
        let dataset = folder.join(name);
        let file = fs::read_to_string(dataset.join("rates.csv")).unwrap();
        // Where the questions are those of the census, so are the answers.
        for moment in ["every", "first", "moving"] {
            let ask = |by: &str| {
                let question =
                    format!("{name} --by {by} --where \"proper=true and moment = {moment}\"");
                asked(folder, &question).1
            };
            let of_kind = |kind: &str, rows: &[Vec<String>], at: usize| {
                let wanted = file.lines().filter_map(|line| {
                    let fields: Vec<&str> = line.split(',').collect();
                    let of_kind = (fields[0], fields[1]) == (moment, kind) && fields[5] != "0";
                    // Open, naked; hits, houses; share, low, high.
                    let place = [2, 3, 6, 5, 8, 9, 10];
                    of_kind.then(|| place.map(|at| fields[at].to_owned()).to_vec())
                });
                let found = |row: &Vec<String>| [&row[at..at + 2], &row[at + 3..at + 8]].concat();
                assert_eq!(rows.iter().map(found).collect::<Vec<_>>(), wanted.collect::<Vec<_>>());
                assert!(!rows.is_empty());
            };
            of_kind("all", &ask("open,naked"), 0);
            let rows = ask("house_kind,open,naked");
            for kind in ["row", "column", "box"] {
                let rows: Vec<_> = rows.iter().filter(|row| row[0] == kind).cloned().collect();
                of_kind(kind, &rows, 1);
            }
        }
        // Per puzzle, they are the shares of the census.
        let (_, rows) = asked(
            folder,
            &format!("{name} --per puzzle --by open,naked --where \"proper = true\""),
        );
        let shares = fs::read_to_string(dataset.join("shares.csv")).unwrap();
        let wanted: Vec<Vec<String>> = shares
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>())
            .map(|fields| [0, 1, 3, 4, 5, 6].map(|at| fields[at].clone()).to_vec())
            .collect();
        let found: Vec<Vec<String>> =
            rows.iter().map(|row| [0, 1, 3, 5, 6, 7].map(|at| row[at].clone()).to_vec()).collect();
        assert_eq!(found, wanted);
        others(folder, name, &dataset);
    }
}

/// Questions that no census answers.
fn others(folder: &Path, name: &str, dataset: &Path) {
    let (quiet, found, clusters) = (quiet_positions(dataset), found(dataset), clusters(dataset));
    let puzzles = Table::read(dataset, "puzzles");
    let clues: BTreeMap<u64, u64> =
        puzzles.whole("puzzle").into_iter().zip(puzzles.whole("clues")).collect();
    let positions = Table::read(dataset, "positions");
    let fixed = positions.whole("fixed_cells");
    let at = quiet.iter().zip(fixed).filter(|(_, fixed)| *fixed > 30).map(|(q, _)| q);
    let counted: Vec<&Quiet> = at.collect();
    // Positions by clues: new subsets with two cells on the hidden side, proper or not.
    let hits: BTreeSet<(u64, u64)> = found
        .iter()
        .filter(|f| f.new && f.open - f.naked == 2)
        .map(|f| (f.puzzle, f.number))
        .collect();
    let mut by_clues: BTreeMap<u64, Sums> = BTreeMap::new();
    let mut boxes = Sums::default();
    let in_boxes: BTreeSet<_> = found
        .iter()
        .filter(|f| f.new && f.open - f.naked == 2)
        .map(|f| (f.puzzle, f.number, f.house))
        .collect();
    for q in &counted {
        let hit = hits.contains(&(q.puzzle, q.number));
        by_clues.entry(clues[&q.puzzle]).or_default().add(&clusters, q.puzzle, hit, true);
        for house in (18..27).filter(|house| (7..=8).contains(&q.open[*house])) {
            let hit = in_boxes.contains(&(q.puzzle, q.number, house));
            boxes.add(&clusters, q.puzzle, hit, true);
        }
    }
    let new = "new = true and hidden = 2 and fixed_cells > 30";
    let (header, rows) =
        asked(folder, &format!("{name} --per position --by clues --where \"{new}\""));
    assert_eq!(
        header,
        ["clues", "per", "hits", "of", "share", "low", "high", "moment", "population"]
    );
    let row = |place: &[String], sums: &Sums| {
        let counts = [sums.hits.to_string(), sums.trials.to_string()];
        [place, &counts, &sums.fields(&clusters)].concat()
    };
    let wanted: Vec<Vec<String>> =
        by_clues.iter().map(|(clues, sums)| row(&[clues.to_string()], sums)).collect();
    let without_unit = |row: &Vec<String>| [&row[..1], &row[2..7]].concat();
    assert_eq!(rows.iter().map(without_unit).collect::<Vec<_>>(), wanted);
    let large = format!("{new} and house_kind = box and open >= 7 and open != 9");
    let (_, rows) = asked(folder, &format!("{name} --where \"{large}\""));
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0][1..6], row(&[], &boxes));
    assert!(boxes.hits > 0 && by_clues.values().any(|sums| sums.hits > 30));
}

#[test]
fn questions_that_make_no_sense_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    good(folder, &["census", "--make", "deletion", "--count", "200", "--seed", "3", "-o", "data"]);
    good(
        folder,
        &["census", "--make", "deletion", "--count", "9", "--tables", "none", "-o", "lean"],
    );
    for (words, code, says) in [
        (&["data", "--by", "cluse"][..], 2, "no column \"cluse\"; expected one of puzzle, clues"),
        (&["data", "--where", "open"], 2, "found \"open\", expected conditions joined by 'and'"),
        (&["data", "--where", "open = 8 and"], 2, "found \"\", expected conditions"),
        (
            &["data", "--where", "open = eight"],
            2,
            "found \"eight\" for the column open, expected a whole",
        ),
        (&["data", "--where", "proper = 1"], 2, "expected true or false"),
        (&["data", "--where", "outcome > stuck"], 2, "the column outcome holds words: use = or !="),
        (&["data", "--where", "look_applied = naked 9"], 2, "given digit or none"),
        (&["data", "--by", "moment"], 2, "moments share positions"),
        (&["data", "--where", "moment != first"], 2, "one moment"),
        (&["data", "--by", "weight"], 2, "too many values"),
        (&["data", "--by", "open,open"], 2, "named twice"),
        (&["data", "--by", "house"], 2, "ask for house per position or per puzzle"),
        (&["data", "--per", "cell"], 2, "invalid value 'cell'"),
        (&["lean"], 1, "it has no tables"),
        (&["none"], 1, "none"),
    ] {
        let ran = run(folder, &[&["rates"], words].concat());
        assert_eq!(ran.code, Some(code), "{words:?}: {ran:?}");
        assert!(ran.err.contains(says), "{words:?}: {}", ran.err);
        assert!(ran.out.is_empty());
    }
    // Rows without a value are asked for as none; threads don't matter.
    let ask = |more: &[&str]| {
        let question = ["rates", "data", "--per", "position", "--by", "look_applied", "--json"];
        good(folder, &[&question[..], more].concat()).out
    };
    let all = ask(&[]);
    assert_eq!(ask(&["-j", "1"]), all);
    let rows: Vec<serde_json::Value> = serde_json::from_str(&all).unwrap();
    let ends = rows.iter().find(|row| row["by"]["look_applied"] == "none").unwrap();
    // Where the walk ends, there is no subset.
    assert_eq!(ends["hits"], 0);
    assert_eq!(ends["population"], "200 puzzles made by random deletion");
    let only = ask(&["--where", "look_applied = none"]);
    let only: Vec<serde_json::Value> = serde_json::from_str(&only).unwrap();
    assert_eq!((only.len(), &only[0]), (1, ends));
    // A damaged table is named.
    let table = folder.join("data/subsets/part-00000000.parquet");
    let mut bytes = fs::read(&table).unwrap();
    bytes[100] ^= 1;
    fs::write(&table, bytes).unwrap();
    let ran = run(folder, &["rates", "data"]);
    assert_eq!(ran.code, Some(1));
    assert!(ran.err.contains("part-00000000.parquet is not as it was written"), "{}", ran.err);
}
