//! What a rulebook leaves, counted a second time: by brute force without the engine.

use std::collections::{BTreeMap, BTreeSet};

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_analysis::{
    ClaimFile, Coverage, JudgeReport, JudgeSettings, ReaderFile, Rulebook, TrialWalk, judge,
};
use tallyhouse_collection::{MinimalByDeletion, Silent, Source};
use tallyhouse_engine::{Look, Order};
use tallyhouse_oracles::brute_force::{Candidates, house_cells, tight_sets};
use tallyhouse_stats::{Decision, Level, Threshold};
use tallyhouse_storage::Files;

fn run(text: &str, rulebooks: &[&str], claims: &[&str]) -> (JudgeReport, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let settings = JudgeSettings {
        sources: vec![Source::memory("memory", text.as_bytes().to_vec())],
        rulebooks: rulebooks.iter().map(|text| book(text)).collect(),
        claims: claims.iter().map(|text| claim_file(text)).collect(),
        readers: ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap()).collect(),
        walk: TrialWalk::Together,
        level: Level::default(),
        shapes: false,
        out: folder.path().join("out"),
    };
    (judge(&settings, &Silent).unwrap(), folder)
}

fn book(text: &str) -> Rulebook {
    if text.contains('\n') { Rulebook::parse("book", text) } else { Rulebook::load(text) }.unwrap()
}

fn claim_file(text: &str) -> ClaimFile {
    if text.contains('\n') { ClaimFile::parse("claims", text) } else { ClaimFile::load(text) }
        .unwrap()
}

fn puzzles(seed: u64, count: u64) -> String {
    (0..count).map(|index| MinimalByDeletion { seed }.puzzle(index).to_string() + "\n").collect()
}

/// A look as (is naked, size, least and most open cells).
type PlainLook = (bool, usize, usize, usize);

const ANY: (usize, usize) = (1, 9);

const fn everywhere(naked: bool, size: usize) -> PlainLook {
    (naked, size, ANY.0, ANY.1)
}

fn ladder(sizes: usize) -> Vec<PlainLook> {
    (1..=sizes).flat_map(|size| [everywhere(true, size), everywhere(false, size)]).collect()
}

fn naked_only() -> Vec<PlainLook> {
    let mut looks = Vec::new();
    for size in 1..=4 {
        looks.push(everywhere(true, size));
        looks.extend((size + 1..=9).map(|open| (true, open - size, open, open)));
    }
    looks
}

fn short_list() -> Vec<PlainLook> {
    let mut looks = ladder(2);
    looks.push(everywhere(true, 3));
    let ranged =
        [(true, 4, 8), (true, 5, 8), (true, 4, 9), (false, 5, 9), (true, 5, 9), (false, 4, 9)];
    looks.extend(ranged.map(|(naked, size, open)| (naked, size, open, open)));
    looks
}

/// A house that falls into two: the places of the naked side, of all open ones.
#[derive(Clone, PartialEq)]
struct Split {
    house: usize,
    cells: Vec<usize>,
    open: Vec<usize>,
}

impl Split {
    fn of(house: usize, cells: &BTreeSet<usize>, open: &[usize]) -> Self {
        Self { house, cells: cells.iter().copied().collect(), open: open.to_vec() }
    }

    fn shape(&self) -> (u8, u8) {
        (self.open.len() as u8, self.cells.len() as u8)
    }

    /// Tests if this is another split after some of its cells were placed.
    fn comes_of(&self, earlier: &Self) -> bool {
        let left = |places: &[usize]| -> Vec<usize> {
            places.iter().copied().filter(|place| self.open.contains(place)).collect()
        };
        self.house == earlier.house
            && self.cells == left(&earlier.cells)
            && self.open == left(&earlier.open)
    }
}

#[derive(Clone, PartialEq)]
struct Board {
    fixed: [u8; 81],
    candidates: Candidates,
}

impl Board {
    fn new(line: &str) -> Self {
        let mut board =
            Self { fixed: [0; 81], candidates: std::array::from_fn(|_| Some((1..=9).collect())) };
        for (cell, byte) in line.bytes().enumerate().filter(|(_, byte)| *byte != b'.') {
            board.place(cell, byte - b'0');
        }
        board
    }

    fn place(&mut self, cell: usize, digit: u8) {
        self.fixed[cell] = digit;
        self.candidates[cell] = None;
        for house in (0..27).map(house_cells).filter(|house| house.contains(&cell)) {
            for peer in house {
                if let Some(candidates) = &mut self.candidates[peer] {
                    candidates.remove(&digit);
                }
            }
        }
    }

    /// Makes one look everywhere; true if it changed anything.
    fn look(&mut self, look: PlainLook) -> bool {
        self.look_without(look, None).is_some()
    }

    /// The same where a shape may not be found; returns the splits that were applied, if anything
    /// changed.
    fn look_without(
        &mut self,
        (naked, size, least, most): PlainLook,
        left_out: Option<(u8, u8)>,
    ) -> Option<Vec<Split>> {
        let (mut placements, mut removals, mut splits) = (Vec::new(), Vec::new(), Vec::new());
        for house in 0..27 {
            let cells = house_cells(house);
            let marks: Vec<_> = cells.iter().map(|&cell| self.candidates[cell].clone()).collect();
            let open: Vec<usize> = (0..9).filter(|&place| marks[place].is_some()).collect();
            if !(least..=most).contains(&open.len()) {
                continue;
            }
            if size == 1 {
                for &place in &open {
                    for &digit in marks[place].iter().flatten() {
                        let holds = |other: &usize| {
                            marks[*other].as_ref().is_some_and(|marks| marks.contains(&digit))
                        };
                        let single = if naked {
                            marks[place].as_ref().is_some_and(|marks| marks.len() == 1)
                        } else {
                            open.iter().filter(|other| holds(other)).count() == 1
                        };
                        if single {
                            placements.push((cells[place], digit));
                        }
                    }
                }
                continue;
            }
            for tight in tight_sets(&marks).expect("no house of a valid puzzle is crowded") {
                let side = if naked { tight.cells.len() } else { open.len() - tight.cells.len() };
                let proper = if naked { tight.naked_proper } else { tight.hidden_proper };
                let split = Split::of(house, &tight.cells, &open);
                if tight.eliminations > 0
                    && proper
                    && side == size
                    && Some(split.shape()) != left_out
                {
                    splits.push(split);
                    let rest = open.iter().filter(|place| !tight.cells.contains(place));
                    removals.extend(rest.map(|&place| (cells[place], tight.digits.clone())));
                }
            }
        }
        let before = self.clone();
        for (cell, digit) in placements {
            if self.fixed[cell] == 0 {
                self.place(cell, digit);
            }
        }
        for (cell, digits) in removals {
            if let Some(candidates) = &mut self.candidates[cell] {
                candidates.retain(|digit| !digits.contains(digit));
            }
        }
        (*self != before).then_some(splits)
    }

    /// Walks the ladder without a shape; tells of each quiet position what is recorded and applied.
    fn walk_without(mut self, left_out: Option<(u8, u8)>) -> (Self, Vec<[Vec<Split>; 2]>) {
        let mut positions = Vec::new();
        loop {
            while ladder(1).into_iter().any(|single| self.look(single)) {}
            if self.fixed.iter().all(|&digit| digit > 0) {
                return (self, positions);
            }
            let recorded = self.proper_splits();
            let mut looks = ladder(4).into_iter().skip(2);
            let applied = looks.find_map(|look| self.look_without(look, left_out));
            let is_end = applied.is_none();
            positions.push([recorded, applied.unwrap_or_default()]);
            if is_end {
                return (self, positions);
            }
        }
    }

    fn proper_splits(&self) -> Vec<Split> {
        let mut splits = Vec::new();
        for house in 0..27 {
            let marks: Vec<_> =
                house_cells(house).iter().map(|&cell| self.candidates[cell].clone()).collect();
            let open: Vec<usize> = (0..9).filter(|&place| marks[place].is_some()).collect();
            let tight = tight_sets(&marks).expect("no house of a valid puzzle is crowded");
            let proper = tight.into_iter().filter(|tight| {
                tight.eliminations > 0 && (tight.naked_proper || tight.hidden_proper)
            });
            splits.extend(proper.map(|tight| Split::of(house, &tight.cells, &open)));
        }
        splits
    }

    fn walk(mut self, looks: &[PlainLook]) -> Self {
        while looks.iter().any(|&look| self.look(look)) {}
        self
    }
}

/// Subsets, proper ones and puzzles by (open, naked).
type Shapes = BTreeMap<(u8, u8), [u64; 3]>;

/// Counts what a rulebook leaves, and the puzzles where it reaches less than the ladder.
fn count(text: &str, looks: &[PlainLook]) -> (Shapes, u64) {
    let (mut shapes, mut short) = (Shapes::new(), 0);
    for line in text.lines() {
        let end = Board::new(line).walk(looks);
        short += u64::from(end != Board::new(line).walk(&ladder(4)));
        let mut shown = Vec::new();
        for house in 0..27 {
            let marks: Vec<_> =
                house_cells(house).iter().map(|&cell| end.candidates[cell].clone()).collect();
            let open = marks.iter().flatten().count() as u8;
            for tight in tight_sets(&marks).expect("no house of a valid puzzle is crowded") {
                if tight.eliminations == 0 {
                    continue;
                }
                let shape = (open, tight.cells.len() as u8);
                let counts = shapes.entry(shape).or_default();
                counts[0] += 1;
                if tight.naked_proper || tight.hidden_proper {
                    counts[1] += 1;
                    counts[2] += u64::from(!shown.contains(&shape));
                    shown.push(shape);
                }
            }
        }
    }
    (shapes, short)
}

#[test]
fn missed_counts_agree_with_brute_force() {
    let text = puzzles(21, 300);
    let one_sided = "name = \"pairs-in-large-houses\"\ntitle = \"\"\nsource = \"own\"\n\
                     [[look]]\nfind = \"hidden 1\"\n\
                     [[look]]\nfind = \"naked 2\"\nopen = \"5..9\"\n";
    let plain_one_sided = vec![everywhere(false, 1), (true, 2, 5, 9)];
    let books = ["short-list", "up-to-triples", "full-ladder", "naked-only", one_sided];
    let (report, _folder) = run(&text, &books, &[]);
    let plain = [short_list(), ladder(3), ladder(4), naked_only(), plain_one_sided];
    let mut left = Vec::new();
    for (book, looks) in report.books.iter().zip(plain) {
        let (shapes, short) = count(&text, &looks);
        let found: Shapes = book
            .missed
            .iter()
            .filter(|shape| shape.subsets > 0)
            .map(|s| ((s.open, s.naked), [s.subsets, s.proper, s.puzzles]))
            .collect();
        assert_eq!(found, shapes, "{}", book.rulebook.name());
        assert_eq!((book.short, book.puzzles), (short, 300), "{}", book.rulebook.name());
        left.push(short);
    }
    // The lists that can reach everything do; the others leave something to compare.
    assert_eq!(left[2..4], [0, 0]);
    assert!(left[0] > 0 && left[4] > 0, "{left:?}");
}

#[test]
fn shapes_left_out_agree_with_brute_force() {
    let text = puzzles(33, 250);
    let folder = tempfile::tempdir().unwrap();
    let settings = JudgeSettings {
        sources: vec![Source::memory("memory", text.as_bytes().to_vec())],
        rulebooks: Vec::new(),
        claims: Vec::new(),
        readers: Vec::new(),
        walk: TrialWalk::Together,
        level: Level::default(),
        shapes: true,
        out: folder.path().join("out"),
    };
    let report = judge(&settings, &Silent).unwrap();
    // Applied, short, elsewhere, splits, superseded.
    let mut expected: BTreeMap<(u8, u8), [u64; 5]> = BTreeMap::new();
    for line in text.lines() {
        let (end, positions) = Board::new(line).walk_without(None);
        let applied: Vec<&Split> = positions.iter().flat_map(|[_, applied]| applied).collect();
        let mut shapes: Vec<(u8, u8)> = applied.iter().map(|split| split.shape()).collect();
        shapes.sort_unstable();
        shapes.dedup();
        for shape in shapes {
            let (other, steps) = Board::new(line).walk_without(Some(shape));
            let counts = expected.entry(shape).or_default();
            counts[0] += 1;
            counts[1] += u64::from(other != end);
            let mut later = steps.iter().flat_map(|[_, applied]| applied);
            let is_one = |split: &Split| {
                let of_shape = applied.iter().filter(|split| split.shape() == shape);
                split.shape() != shape && of_shape.clone().any(|earlier| split.comes_of(earlier))
            };
            counts[2] += u64::from(later.any(is_one));
        }
        let same = |a: &Split, b: &Split| a.house == b.house && a.cells == b.cells;
        for (number, [recorded, _]) in positions.iter().enumerate() {
            for split in recorded {
                let mut later = positions[number + 1..].iter().flat_map(|[recorded, _]| recorded);
                if later.any(|other| same(split, other)) {
                    continue;
                }
                let counts = expected.entry(split.shape()).or_default();
                counts[3] += 1;
                counts[4] += u64::from(!applied.iter().any(|other| same(split, other)));
            }
        }
    }
    for shape in &report.left_out {
        let counts = [shape.applied, shape.short, shape.elsewhere, shape.splits, shape.superseded];
        let expected = expected.remove(&(shape.open, shape.naked)).unwrap_or_default();
        assert_eq!(counts, expected, "{} open, naked {}", shape.open, shape.naked);
    }
    assert!(expected.is_empty(), "{expected:?}");
    let sum = |count: fn(&tallyhouse_analysis::LeftOutShape) -> u64| {
        report.left_out.iter().map(count).sum::<u64>()
    };
    assert!(sum(|shape| shape.short) > 5 && sum(|shape| shape.elsewhere) > 5);
    let csv = std::fs::read_to_string(folder.path().join("out/left-out.csv")).unwrap();
    assert_eq!(csv.lines().count(), 22);
    assert!(report.to_string().contains("SHAPES LEFT OUT of the full ladder's walk"));
}

/// What a rulebook can't leave by the definitions is no matter of data, and has no interval.
#[test]
fn only_what_can_be_left_is_estimated() {
    let books = ["full-ladder", "short-list"];
    let (report, folder) = run(&puzzles(27, 60), &books, &[]);
    let [ladder, short] = &report.books[..] else { unreachable!("two rulebooks are judged") };
    assert!(ladder.estimate.is_none() && ladder.missed.iter().all(|shape| shape.share.is_none()));
    assert!(short.estimate.is_some());
    let can_be_left = short.missed.iter().filter(|shape| shape.share.is_some());
    let can_be_left: Vec<(u8, u8)> = can_be_left.map(|shape| (shape.open, shape.naked)).collect();
    let coverage = Coverage::of(short.rulebook.order());
    let not_cleared = tallyhouse_engine::Shape::all()
        .map(|shape| (shape.open(), shape.naked()))
        .filter(|&(open, naked)| !coverage.clears(open, naked));
    assert_eq!(can_be_left, not_cleared.collect::<Vec<_>>());
    assert!(can_be_left.contains(&(7, 4)) && !can_be_left.contains(&(7, 2)), "{can_be_left:?}");
    let text = report.to_string();
    assert!(text.contains("; by the definitions it reaches all that the full ladder reaches\n"));
    let csv = folder.path().join("out/full-ladder/missed-shares.csv");
    assert!(std::fs::read_to_string(csv).unwrap().contains("\n7,4,3,0,,,,\n"));
}

/// Four copies of a puzzle that belong together tell no more than one.
#[test]
fn shares_of_what_is_left_take_families_for_units_and_weights_for_counts() {
    let text = puzzles(23, 200);
    let singles = "name = \"singles\"\ntitle = \"\"\nsource = \"own\"\n\
                   [[look]]\nfind = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n";
    let of_copies = |text: &str| {
        let (report, folder) = run(text, &[singles], &[]);
        let csv = std::fs::read_to_string(folder.path().join("out/singles/missed-shares.csv"));
        (report.books[0].missed.clone(), csv.unwrap())
    };
    let copies = text.lines().enumerate().map(|(i, line)| format!("{line} family={i}\n").repeat(4));
    let ((one, csv), (four, _)) = (of_copies(&text), of_copies(&copies.collect::<String>()));
    for (one, four) in one.iter().zip(&four) {
        assert_eq!((4 * one.puzzles, one.share), (four.puzzles, four.share));
    }
    let widest = one.iter().max_by_key(|shape| shape.puzzles).unwrap();
    let share = widest.share.unwrap();
    let (open, naked, hidden) = (widest.open, widest.naked, widest.hidden);
    let row = format!("{open},{naked},{hidden},{},{},", widest.puzzles, share.value);
    assert!(widest.puzzles > 20 && csv.contains(&row), "{csv}");

    let weight = |i: usize| 1 + i as u64 % 5;
    let weighted =
        text.lines().enumerate().map(|(i, line)| format!("{line} weight={}\n", weight(i)));
    let (found, _) = of_copies(&weighted.collect::<String>());
    let shape = found.iter().find(|s| (s.open, s.naked) == (open, naked)).unwrap();
    let shown = text.lines().enumerate().filter(|(_, line)| {
        let (shapes, _) = count(line, &ladder(1));
        shapes.get(&(open, naked)).is_some_and(|counts| counts[2] > 0)
    });
    let of_shown: u64 = shown.map(|(i, _)| weight(i)).sum();
    let expected = of_shown as f64 / (0..200).map(weight).sum::<u64>() as f64;
    assert_eq!(shape.puzzles, widest.puzzles);
    assert!((shape.share.unwrap().value - expected).abs() < 1e-12);
}

#[test]
fn claims_are_judged_by_what_is_counted() {
    let text = puzzles(22, 400);
    let claims = "name = \"own\"\ntitle = \"Own\"\nsource = \"own\"\n\
        [[claim]]\nid = \"no-pairs\"\nkind = \"rare\"\nstatement = \"Pairs are rare.\"\n\
        shapes = [\"naked 2\"]\nper = \"puzzle\"\nbelow = 0.01\n\
        [[claim]]\nid = \"few-houses\"\nkind = \"rare\"\nstatement = \"Few houses have pairs.\"\n\
        shapes = [\"naked 2\"]\nper = \"house\"\nbelow = 0.5\n\
        [[claim]]\nid = \"quads-come-with-pairs\"\nkind = \"implies\"\nstatement = \"S.\"\n\
        shapes = [\"naked 3\"]\nthen = [\"naked 2\"]\nper = \"puzzle\"\nabove = 0.1\n\
        [[claim]]\nid = \"pairs-suffice\"\nkind = \"complete\"\nstatement = \"S.\"\n\
        rulebook = \"singles\"\nbelow = 0.001\n\
        [[claim]]\nid = \"nothing-left\"\nkind = \"flushed-out\"\nstatement = \"S.\"\n\
        rulebook = \"full-ladder\"\nshapes = [\"naked 2\"]\nbelow = 0.05\n";
    let singles = "name = \"singles\"\ntitle = \"\"\nsource = \"own\"\n\
                   [[look]]\nfind = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n";
    let (report, folder) = run(&text, &[singles], &[claims]);
    let decisions: Vec<Decision> = report.verdicts.iter().map(|v| v.decision).collect();
    let [supported, refuted] = [Decision::Supported, Decision::Refuted];
    assert_eq!(decisions, [refuted, supported, supported, refuted, Decision::Certain(true)]);
    assert_eq!(report.verdicts[3].threshold, Threshold::Below(0.001));
    let counts = |claim: usize| report.verdicts[claim].counts.clone().unwrap();
    assert_eq!(counts(3).count, count(&text, &ladder(1)).1);
    assert_eq!(report.verdicts[3].examples.len(), 20);
    // What follows from the definitions has neither p-value nor interval, and Holm's correction
    // counts the others alone.
    let certain = &report.verdicts[4];
    assert_eq!((certain.p_value, certain.p_adjusted, certain.estimate), (None, None, None));
    assert_eq!((counts(4).count, counts(4).of, certain.claims_tested), (0, 400, 4));
    assert!(report.verdicts.iter().all(|v| v.population == "the puzzles of memory, as given"));
    assert!(certain.reason.as_ref().unwrap().starts_with("full-ladder looks for each"));
    // Every example shows a subset of its claim on its board.
    for example in report.verdicts[0].examples.iter().chain(&report.verdicts[3].examples) {
        let subset = example.subset.unwrap();
        let cells = subset.house.cells();
        let union = subset
            .cells
            .iter()
            .fold(0, |union, place| union | example.states[cells[place].index()]);
        assert_eq!(union, subset.digits.bits());
        assert_eq!(text.lines().nth(example.puzzle as usize), Some(&*example.givens.to_string()));
    }
    let out = folder.path().join("out");
    let examples = std::fs::read_to_string(out.join("counterexamples.csv")).unwrap();
    assert_eq!(examples.lines().count(), 1 + 2 * 20);
    let missed = std::fs::read_to_string(out.join("singles/missed.csv")).unwrap();
    assert!(missed.starts_with("open,naked,hidden,subsets,proper,puzzles\n2,1,1,"), "{missed}");
    assert_eq!(missed, std::fs::read_to_string(out.join("missed.csv")).unwrap());
    let verdicts = std::fs::read_to_string(out.join("verdicts.json")).unwrap();
    let verdicts: serde_json::Value = serde_json::from_str(&verdicts).unwrap();
    assert_eq!(verdicts[0]["decision"], "refuted");
}

/// None found: the bound in the words is the upper end of the interval, not a one-sided one.
#[test]
fn one_bound_has_one_meaning() {
    let claims = "name = \"own\"\ntitle = \"Own\"\nsource = \"own\"\n\
        [[claim]]\nid = \"none\"\nkind = \"rare\"\nstatement = \"S.\"\n\
        shapes = [\"naked 8\"]\nper = \"puzzle\"\nbelow = 0.5\n\
        [[claim]]\nid = \"no-four\"\nkind = \"rare\"\nstatement = \"S.\"\n\
        shapes = [\"naked 4 open 9\"]\nper = \"puzzle\"\nbelow = 0.5\n";
    let (report, _folder) = run(&puzzles(28, 100), &[], &[claims]);
    let verdict = &report.verdicts[1];
    assert_eq!(verdict.counts.as_ref().unwrap().count, 0, "choose another seed");
    // 1 − 0.025^(1/100).
    let high = verdict.estimate.unwrap().interval.high;
    assert!((high - 0.036_217).abs() < 1e-6, "{high}");
    assert_eq!(verdict.words, "none of 100 puzzles: 0 % (95 %: 0–4 %)");
}

/// Rulebooks with open ranges and gaps, drawn at random: where a walk ends, nothing is left of a
/// shape that the definitions say is cleared, counted by brute force without the engine.
#[test]
fn nothing_is_left_of_what_the_definitions_clear() {
    let lines: Vec<String> = puzzles(29, 60).lines().map(str::to_owned).collect();
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let mut left_of_others = 0;
    for _ in 0..60 {
        let mut looks: Vec<PlainLook> = Vec::new();
        for size in 1..=7usize {
            for naked in [true, false] {
                if random.random_range(0..10) < 11 - 2 * size.min(5) {
                    let least = random.random_range(1..=size + 3).clamp(1, 9);
                    let most = random.random_range(least.max(size + 1)..=9);
                    looks.push((naked, size, least, most));
                }
            }
        }
        if random.random_bool(0.7) {
            looks.extend([everywhere(true, 1), everywhere(false, 1)]);
        }
        looks.shuffle(&mut random);
        let order: Vec<Look> = looks
            .iter()
            .map(|(naked, size, least, most)| {
                let side = if *naked { "naked" } else { "hidden" };
                format!("{side} {size} open {least}..{most}").parse().unwrap()
            })
            .collect();
        let Ok(order) = Order::new(order) else { continue };
        let coverage = Coverage::of(&order);
        for line in &lines {
            let end = Board::new(line).walk(&looks);
            if coverage.clears_all() {
                assert!(end == Board::new(line).walk(&ladder(4)), "{line} {order}");
            }
            for house in 0..27 {
                let marks: Vec<_> =
                    house_cells(house).iter().map(|&cell| end.candidates[cell].clone()).collect();
                let open = marks.iter().flatten().count() as u8;
                for tight in tight_sets(&marks).expect("no house of a valid puzzle is crowded") {
                    if tight.eliminations > 0 {
                        let naked = tight.cells.len() as u8;
                        assert!(!coverage.clears(open, naked), "{line} {order}: {open} {naked}");
                        let mut gaps = coverage.gaps();
                        let is_gap = gaps.any(|gap| (gap.open, gap.naked) == (open, naked));
                        left_of_others += usize::from(!is_gap);
                    }
                }
            }
        }
    }
    // The rule says less than "some look covers the shape", and that is needed.
    assert!(left_of_others > 0);
}

/// Every order of looks that clears everything ends where the ladder ends.
#[test]
fn complete_rulebooks_end_where_the_ladder_ends() {
    let text = puzzles(30, 200);
    let mut random = ChaCha8Rng::seed_from_u64(6);
    for number in 0..8 {
        let mut looks = if number % 2 == 0 { ladder(4) } else { naked_only() };
        looks.shuffle(&mut random);
        let order: Vec<Look> = looks
            .iter()
            .map(|(naked, size, least, most)| {
                let side = if *naked { "naked" } else { "hidden" };
                format!("{side} {size} open {least}..{most}").parse().unwrap()
            })
            .collect();
        assert!(Coverage::of(&Order::new(order).unwrap()).clears_all());
        let (shapes, short) = count(&text, &looks);
        assert_eq!((shapes, short), (Shapes::new(), 0), "{looks:?}");
    }
}

#[test]
fn one_and_two_threads_write_the_same_bytes() {
    // Weights and families, and rows that are rejected in several blocks.
    let text: String = puzzles(23, 2600)
        .lines()
        .enumerate()
        .map(|(index, line)| match index {
            700 | 1900 => "not a puzzle\n".to_owned(),
            _ => format!("{line} weight={}.5 family={}\n", index % 7, index / 3),
        })
        .collect();
    let files = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let (report, folder) =
            pool.install(|| run(&text, &["short-list", "full-ladder"], &["common-claims"]));
        let out = folder.path().join("out");
        let mut files: BTreeMap<String, Vec<u8>> = [
            "missed.csv",
            "short-list/missed.csv",
            "full-ladder/missed.csv",
            "up-to-triples/missed.csv",
            "verdicts.json",
            "verdicts.csv",
            "juries.csv",
            "counterexamples.csv",
            "rejects.csv",
        ]
        .map(|name| (name.to_owned(), std::fs::read(out.join(name)).unwrap()))
        .into();
        let listed = Files::of(&out).unwrap();
        report.write_manifest(&out.join("manifest.json"), listed).unwrap();
        let manifest = std::fs::read(out.join("manifest.json")).unwrap();
        let mut manifest: serde_json::Value = serde_json::from_slice(&manifest).unwrap();
        manifest["wall_seconds"] = 0.into();
        files.insert("manifest".to_owned(), manifest.to_string().into_bytes());
        files.insert("text".to_owned(), report.to_string().into_bytes());
        let written = std::fs::read_dir(&out).unwrap().count();
        assert_eq!(written, 10, "seven files and three folders");
        files
    };
    let one = files(1);
    assert_eq!(one, files(2));
    let rejects = String::from_utf8_lossy(&one["rejects.csv"]).into_owned();
    assert_eq!(rejects.lines().count(), 3);
    assert!(String::from_utf8_lossy(&one["text"]).starts_with("2,598 puzzles; 2 rows rejected"));
}

#[test]
fn weights_move_the_shares() {
    // Puzzles that the singles solve weigh 1, the others 3: the share is that of the weights.
    let text = puzzles(24, 300);
    let hard = |line: &str| Board::new(line).walk(&ladder(1)).fixed.contains(&0);
    let weighted: String = text
        .lines()
        .map(|line| format!("{line} weight={}\n", if hard(line) { 3 } else { 1 }))
        .collect();
    let count = text.lines().filter(|line| hard(line)).count() as f64;
    let singles = "name = \"singles\"\ntitle = \"\"\nsource = \"own\"\n\
                   [[look]]\nfind = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n";
    let (report, _folder) = run(&weighted, &[singles], &[]);
    let short = report.books[0].short as f64;
    let expected = 3.0 * short / (300.0 + 2.0 * count);
    let found = report.books[0].estimate.unwrap();
    assert!(short > 0.0 && (found.value - expected).abs() < 1e-12);
    assert!(found.interval.contains(expected));
}

#[test]
fn what_cannot_be_judged_is_named() {
    let claims = "name = \"own\"\ntitle = \"Own\"\nsource = \"own\"\n\
        [[claim]]\nid = \"all\"\nkind = \"complete\"\nstatement = \"S.\"\n\
        rulebook = \"secret\"\nbelow = 0.001\n";
    let folder = tempfile::tempdir().unwrap();
    let settings = |rulebooks: Vec<Rulebook>, claims: Vec<ClaimFile>, text: &str| JudgeSettings {
        sources: vec![Source::memory("memory", text.as_bytes().to_vec())],
        rulebooks,
        claims,
        readers: ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap()).collect(),
        walk: TrialWalk::Together,
        level: Level::default(),
        shapes: false,
        out: folder.path().join("out"),
    };
    let message = |settings: &JudgeSettings| judge(settings, &Silent).unwrap_err().to_string();
    let puzzle = puzzles(25, 1);
    assert_eq!(
        message(&settings(vec![], vec![claim_file(claims)], &puzzle)),
        "own: claim 'all' is a claim without data: no rulebook 'secret' is given, expected one of \
         full-ladder, naked-only, short-list, up-to-triples"
    );
    assert_eq!(
        message(&settings(vec![], vec![], &puzzle)),
        "nothing to judge: expected at least one rulebook or claim file"
    );
    let twice = vec![book("short-list"), book("short-list")];
    assert_eq!(
        message(&settings(twice, vec![], &puzzle)),
        "two rulebooks are named 'short-list': expected a name of its own for each"
    );
    let empty = message(&settings(vec![book("short-list")], vec![], ""));
    assert!(empty.starts_with("no puzzles in memory"), "{empty}");
    let claims = "name = \"own\"\ntitle = \"Own\"\nsource = \"own\"\n\
        [[claim]]\nid = \"a\"\nkind = \"pays\"\nstatement = \"S.\"\nlook = \"naked 7\"\n";
    let ask = |more: &str| {
        message(&settings(vec![], vec![claim_file(&(claims.to_owned() + more))], &puzzle))
    };
    assert_eq!(
        ask("readers = [\"marking\", \"nobody\"]\n"),
        "own: claim 'a' is a claim without data: no reader 'nobody' is given, expected one of \
         marking, sharing, remembering or unmarked"
    );
    // The ladder has no look for seven cells, and who remembers needs an order.
    for more in ["frames = [\"due\"]\n", "readers = [\"remembering\"]\n"] {
        assert!(ask(more).contains("no reader can be asked"), "{more}");
    }
    assert!(!folder.path().join("out").exists());
    let rejected = message(&settings(vec![book("short-list")], vec![], "123\n"));
    assert!(rejected.starts_with("none of the 1 rows is a valid puzzle"), "{rejected}");
}
