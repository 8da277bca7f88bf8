//! What looks yield, counted a second time: from the words of the model, by brute force.

use std::collections::{BTreeMap, BTreeSet};

use tallyhouse_analysis::order_search::{OrderSettings, ReportedOrder, search as search_orders};
use tallyhouse_analysis::yields::{Frame, ProgressRow, Yield, YieldReport, YieldSettings, yields};
use tallyhouse_analysis::{
    ClaimFile, JudgeSettings, Juror, ReaderFile, Rulebook, TrialWalk, judge,
};
use tallyhouse_collection::{MinimalByDeletion, Rejects, Silent, Source};
use tallyhouse_oracles::brute_force::{Candidates, Tight, house_cells, tight_sets, walk};
use tallyhouse_stats::Level;

/// Frame, reader, look, open count and kind of house.
type Key = (String, String, String, usize, &'static str);

/// Times made, finds, cells seen, places gathered, tries.
type Counts = [u64; 5];

/// Frame, reader, look and open count (`None` for all); finds, finds that bring a single, positions where
/// the look failed everywhere, those of them where a later look finds something.
type Progress = BTreeMap<(&'static str, &'static str, String, Option<usize>), [u64; 4]>;

fn settings() -> YieldSettings {
    let readers = ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap());
    YieldSettings { readers: readers.collect(), looks: None, level: Level::default() }
}

fn count(text: &str, settings: &YieldSettings) -> YieldReport {
    let sources = vec![Source::memory("memory", text.as_bytes().to_vec())];
    let mut rejects = Rejects::counted(&sources);
    yields(settings, sources, &mut rejects, &Silent).unwrap()
}

/// Elements with 2 to `size` marks are tried depth-first, each later one beside those chosen; a set is
/// kept while its marks are at most `size`; the search ends at the first full set that is wanted.
fn search(
    marks: &[(usize, BTreeSet<usize>)],
    size: usize,
    wanted: &[BTreeSet<usize>],
) -> (u64, bool) {
    fn deeper(
        chosen: &[usize],
        marks: &[(usize, BTreeSet<usize>)],
        size: usize,
        wanted: &[BTreeSet<usize>],
        tries: &mut u64,
    ) -> bool {
        let last = *chosen.last().unwrap();
        for next in last + 1..marks.len() {
            *tries += 1;
            let more: Vec<usize> = chosen.iter().copied().chain([next]).collect();
            let union: BTreeSet<usize> =
                more.iter().flat_map(|&element| marks[element].1.iter().copied()).collect();
            if union.len() > size {
                continue;
            }
            let found = if more.len() == size {
                wanted.contains(&more.iter().map(|&element| marks[element].0).collect())
            } else {
                deeper(&more, marks, size, wanted, tries)
            };
            if found {
                return true;
            }
        }
        false
    }
    let eligible: Vec<_> =
        marks.iter().filter(|(_, of)| (2..=size).contains(&of.len())).cloned().collect();
    let mut tries = 0;
    let found =
        (0..eligible.len()).any(|start| deeper(&[start], &eligible, size, wanted, &mut tries));
    (tries, found)
}

/// Makes every look in a house; returns for each its words, the size of the naked side, tries and
/// whether it found something.
fn looks(house: &[Option<BTreeSet<u8>>], tight: &[Tight]) -> Vec<(String, usize, u64, bool)> {
    let open: Vec<usize> = (0..9).filter(|&place| house[place].is_some()).collect();
    let cells: Vec<(usize, BTreeSet<usize>)> = open
        .iter()
        .map(|&place| (place, house[place].iter().flatten().map(|&d| d.into()).collect()))
        .collect();
    let missing: BTreeSet<usize> = cells.iter().flat_map(|(_, marks)| marks.clone()).collect();
    let digits: Vec<(usize, BTreeSet<usize>)> = missing
        .iter()
        .map(|digit| {
            let holds = cells.iter().filter(|(_, marks)| marks.contains(digit));
            (*digit, holds.map(|(place, _)| *place).collect())
        })
        .collect();
    let mut all = Vec::new();
    for size in 2..=open.len().saturating_sub(2) {
        let productive = || tight.iter().filter(|set| set.eliminations > 0);
        let naked: Vec<BTreeSet<usize>> =
            productive().filter(|set| set.naked_proper).map(|set| set.cells.clone()).collect();
        let (tries, found) = search(&cells, size, &naked);
        all.push((format!("naked {size}"), size, tries, found));
        let hidden: Vec<BTreeSet<usize>> = productive()
            .filter(|set| set.hidden_proper)
            .map(|set| &missing - &set.digits.iter().map(|&digit| digit.into()).collect())
            .collect();
        let (tries, found) = search(&digits, size, &hidden);
        all.push((format!("hidden {size}"), open.len() - size, tries, found));
    }
    all
}

fn slow(text: &str) -> (BTreeMap<Key, Counts>, Progress, u64) {
    let mut all: BTreeMap<Key, Counts> = BTreeMap::new();
    let mut progress = Progress::new();
    let mut positions = 0;
    for line in text.lines() {
        let walked = walk(&givens(line));
        positions += walked.quiet.len() as u64;
        for quiet in &walked.quiet {
            for house in 0..27 {
                let places = house_cells(house);
                let marks = places.map(|cell| quiet.candidates[cell].clone());
                let n = marks.iter().flatten().count() as u64;
                let open = (0..9).filter(|&place| marks[place].is_some());
                let open: Vec<usize> = open.map(|place| places[place]).collect();
                let crossing = (0..27)
                    .filter(|&other| other != house)
                    .filter(|&other| open.iter().any(|cell| house_cells(other).contains(cell)))
                    .count() as u64;
                let tight = tight_sets(&marks).unwrap();
                let kind = ["row", "column", "box"][house / 9];
                for (look, naked, tries, found) in looks(&marks, &tight) {
                    if found {
                        let board = Board(quiet.candidates.clone());
                        let size = look.split(' ').nth(1).unwrap().parse().unwrap();
                        let made = make(&board, house, look.starts_with("naked"), size);
                        let then_single = board.then_single(&made.removed);
                        for reader in ["marking", "sharing", "unmarked"] {
                            for open in [None, Some(n as usize)] {
                                let key = ("every", reader, look.clone(), open);
                                let sums = progress.entry(key).or_default();
                                sums[0] += 1;
                                sums[1] += u64::from(then_single);
                            }
                        }
                    }
                    let present = tight.iter().any(|set| {
                        let proper = set.naked_proper || set.hidden_proper;
                        set.eliminations > 0 && proper && set.cells.len() == naked
                    });
                    let is_naked = look.starts_with("naked");
                    let [own, shared, without] = if is_naked {
                        [[n, 0], [n, 0], [n, 0]]
                    } else {
                        [[0, n * n], [n, 0], [0, n * crossing]]
                    };
                    for frame in ["every", "present", "moving"] {
                        if frame == "present" && !present
                            || frame == "moving" && quiet.look.is_none()
                        {
                            continue;
                        }
                        for (reader, [cells, places]) in
                            [("marking", own), ("sharing", shared), ("unmarked", without)]
                        {
                            for kind in ["all", kind] {
                                let words = [frame, reader, &look].map(str::to_owned);
                                let [frame, reader, look] = words;
                                let key = (frame, reader, look, n as usize, kind);
                                let sums = all.entry(key).or_default();
                                let more = [1, found.into(), cells, places, tries];
                                sums.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
                            }
                        }
                    }
                }
            }
        }
    }
    (all, progress, positions)
}

/// A board as somebody has it before him who solves it.
struct Board(Candidates);

impl Board {
    fn new(givens: &[u8; 81]) -> Self {
        let mut board = Self(std::array::from_fn(|_| Some((1..=9).collect())));
        for (cell, &digit) in givens.iter().enumerate().filter(|(_, digit)| **digit > 0) {
            board.place(cell, digit);
        }
        board
    }

    fn place(&mut self, cell: usize, digit: u8) {
        self.0[cell] = None;
        for house in (0..27).map(house_cells).filter(|house| house.contains(&cell)) {
            house.iter().for_each(|&peer| self.remove(peer, digit));
        }
    }

    fn remove(&mut self, cell: usize, digit: u8) {
        if let Some(candidates) = &mut self.0[cell] {
            candidates.remove(&digit);
        }
    }

    /// All naked singles by cell, and all hidden ones by house and digit.
    fn singles(&self) -> (BTreeSet<usize>, BTreeSet<(usize, u8)>) {
        let naked = (0..81).filter(|&cell| self.0[cell].as_ref().is_some_and(|m| m.len() == 1));
        let digits = (0..27).flat_map(|house| (1..=9).map(move |digit| (house, digit)));
        let hidden = digits.filter(|&(house, digit)| self.places(house, digit).len() == 1);
        (naked.collect(), hidden.collect())
    }

    /// Tests if a single appears that was none before.
    fn then_single(&self, removed: &[(usize, u8)]) -> bool {
        let mut after = Self(self.0.clone());
        removed.iter().for_each(|&(cell, digit)| after.remove(cell, digit));
        let ((naked, hidden), (now_naked, now_hidden)) = (self.singles(), after.singles());
        !now_naked.is_subset(&naked) || !now_hidden.is_subset(&hidden)
    }

    fn house(&self, house: usize) -> [Option<BTreeSet<u8>>; 9] {
        house_cells(house).map(|cell| self.0[cell].clone())
    }

    /// Where a digit may stand in a house.
    fn places(&self, house: usize, digit: u8) -> BTreeSet<usize> {
        let marks = self.house(house);
        (0..9).filter(|&p| marks[p].as_ref().is_some_and(|m| m.contains(&digit))).collect()
    }
}

/// What is remembered: cells and digits by house, and looks that failed there.
#[derive(Default)]
struct Remembered {
    cells: BTreeSet<(usize, usize)>,
    digits: BTreeSet<(usize, u8)>,
    failed: BTreeSet<(usize, usize)>,
}

impl Remembered {
    /// Forgets what has changed.
    fn forget(&mut self, before: &Board, after: &Board) {
        self.cells.retain(|&(_, cell)| before.0[cell] == after.0[cell]);
        self.digits
            .retain(|&(house, digit)| before.places(house, digit) == after.places(house, digit));
        self.failed.retain(|&(house, _)| before.house(house) == after.house(house));
    }
}

/// What a look in a house came to: the cells and digits learned before it ended, tries, and what is
/// placed or removed.
struct Look {
    cells: Vec<usize>,
    digits: Vec<u8>,
    tries: u64,
    placed: Option<(usize, u8)>,
    removed: Vec<(usize, u8)>,
}

fn make(board: &Board, house: usize, naked: bool, size: usize) -> Look {
    let places = house_cells(house);
    let marks = board.house(house);
    let open: Vec<usize> =
        (0..9).filter(|&place| marks[place].is_some()).map(|place| places[place]).collect();
    let missing: BTreeSet<u8> = marks.iter().flatten().flatten().copied().collect();
    let mut look = Look {
        cells: if naked { open.clone() } else { Vec::new() },
        digits: if naked { Vec::new() } else { missing.iter().copied().collect() },
        tries: 0,
        placed: None,
        removed: Vec::new(),
    };
    if size == 1 && naked {
        let is_single = |&cell: &usize| board.0[cell].as_ref().is_some_and(|m| m.len() == 1);
        if let Some(end) = look.cells.iter().position(is_single) {
            look.cells.truncate(end + 1);
            let cell = look.cells[end];
            look.placed = board.0[cell].iter().flatten().next().map(|&digit| (cell, digit));
        }
    } else if size == 1 {
        let is_single = |&digit: &u8| board.places(house, digit).len() == 1;
        if let Some(end) = look.digits.iter().position(is_single) {
            look.digits.truncate(end + 1);
            let digit = look.digits[end];
            let place = *board.places(house, digit).first().unwrap();
            look.placed = Some((places[place], digit));
        }
    } else {
        let tight = tight_sets(&marks).unwrap();
        let proper: Vec<&Tight> = tight
            .iter()
            .filter(|set| set.eliminations > 0)
            .filter(|set| if naked { set.naked_proper } else { set.hidden_proper })
            .collect();
        let hidden_side = |set: &Tight| -> BTreeSet<usize> {
            (&missing - &set.digits).iter().map(|&digit| digit.into()).collect()
        };
        let side = |set: &&Tight| if naked { set.cells.clone() } else { hidden_side(set) };
        let elements: Vec<(usize, BTreeSet<usize>)> = if naked {
            (0..9)
                .filter_map(|place| {
                    let marks = marks[place].as_ref()?;
                    Some((place, marks.iter().map(|&digit| digit.into()).collect()))
                })
                .collect()
        } else {
            missing.iter().map(|&digit| (digit.into(), board.places(house, digit))).collect()
        };
        let wanted: Vec<BTreeSet<usize>> = proper.iter().map(side).collect();
        let (tries, found) = search(&elements, size, &wanted);
        look.tries = tries;
        if found {
            // Sets are tried in lexicographic order.
            let first = proper
                .iter()
                .filter(|set| side(set).len() == size)
                .min_by_key(|set| side(set).into_iter().collect::<Vec<_>>())
                .unwrap();
            for place in (0..9).filter(|place| !first.cells.contains(place)) {
                look.removed.extend(first.digits.iter().map(|&digit| (places[place], digit)));
            }
        }
    }
    look
}

/// A look as (is naked, size, least and most open cells).
type PlainLook = (bool, usize, usize, usize);

/// Number of the group, number of the look in it, reader, open count.
type ComparedKey = (usize, usize, &'static str, usize);

/// What looks of groups went through, made together where the first of a group is due.
#[derive(Default)]
struct SlowGroups {
    groups: Vec<Vec<PlainLook>>,
    counts: BTreeMap<ComparedKey, Counts>,
}

impl SlowGroups {
    /// Makes the groups that are due with a look of an order, before the walk itself makes it.
    fn make(
        &mut self,
        board: &Board,
        house: usize,
        looks: &[PlainLook],
        number: usize,
        remembered: &Remembered,
    ) {
        let open: Vec<usize> =
            house_cells(house).into_iter().filter(|&cell| board.0[cell].is_some()).collect();
        let n = open.len();
        let covers = |&(_, size, least, most): &PlainLook| (least..=most).contains(&n) && size < n;
        let crosses = |other: &usize| {
            *other != house && open.iter().any(|cell| house_cells(*other).contains(cell))
        };
        let crossing = (0..27).filter(crosses).count() as u64;
        for (group, of_group) in self.groups.iter().enumerate() {
            let is_it = |look: &PlainLook| {
                covers(look) && of_group.iter().any(|own| (own.0, own.1) == (look.0, look.1))
            };
            if looks.iter().position(is_it) != Some(number) || !of_group.iter().all(covers) {
                continue;
            }
            for (side, &(naked, size, ..)) in of_group.iter().enumerate() {
                let look = make(board, house, naked, size);
                let found = u64::from(!look.removed.is_empty());
                let (seen, gathered) = (look.cells.len() as u64, look.digits.len() as u64);
                let mut readers = vec![
                    ("marking", seen, gathered * n as u64),
                    ("sharing", n as u64, 0),
                    ("unmarked", seen, gathered * crossing),
                ];
                if !remembered.failed.contains(&(house, number)) {
                    let is_new = |cell: &&usize| !remembered.cells.contains(&(house, **cell));
                    let seen = look.cells.iter().filter(is_new).count() as u64;
                    let is_new = |digit: &&u8| !remembered.digits.contains(&(house, **digit));
                    let gathered = look.digits.iter().filter(is_new).count() as u64;
                    readers.push(("remembering", seen, gathered * n as u64));
                }
                for (reader, cells, places) in readers {
                    let sums = self.counts.entry((group, side, reader, n)).or_default();
                    let more = [1, found, cells, places, look.tries];
                    sums.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
                }
            }
        }
    }
}

/// Walks one by one and counts every look as each reader makes it.
fn slow_due(
    text: &str,
    looks: &[PlainLook],
    groups: &mut SlowGroups,
) -> (BTreeMap<Key, Counts>, Progress) {
    let mut all: BTreeMap<Key, Counts> = BTreeMap::new();
    let mut progress = Progress::new();
    for line in text.lines() {
        let (mut board, mut remembered) = (Board::new(&givens(line)), Remembered::default());
        'again: loop {
            // Looks for subsets that failed at this position, and the open counts where: for who
            // remembers, of houses where they were made anew.
            let mut failed: Vec<(&str, String, BTreeSet<usize>)> = Vec::new();
            let readers = ["marking", "sharing", "unmarked", "remembering"];
            let end =
                |failed: Vec<(&'static str, String, BTreeSet<usize>)>, to: &mut Progress, found| {
                    for (reader, look, opens) in
                        failed.into_iter().filter(|(.., opens)| !opens.is_empty())
                    {
                        for open in std::iter::once(None).chain(opens.into_iter().map(Some)) {
                            let sums = to.entry(("due", reader, look.clone(), open)).or_default();
                            sums[2] += 1;
                            sums[3] += u64::from(found);
                        }
                    }
                };
            for (number, &(naked, size, least, most)) in looks.iter().enumerate() {
                let side = if naked { "naked" } else { "hidden" };
                let mut made_in = [const { BTreeSet::<usize>::new() }; 2];
                for house in 0..27 {
                    let cells = house_cells(house);
                    let is_open = |cell: &&usize| board.0[**cell].is_some();
                    let open: Vec<usize> = cells.iter().filter(is_open).copied().collect();
                    let n = open.len() as u64;
                    let has_room = size < open.len() || size == 1 && !open.is_empty();
                    if !(least..=most).contains(&open.len()) || !has_room {
                        continue;
                    }
                    groups.make(&board, house, looks, number, &remembered);
                    let look = make(&board, house, naked, size);
                    let found = look.placed.is_some() || !look.removed.is_empty();
                    let crosses = |other: &usize| {
                        *other != house
                            && open.iter().any(|cell| house_cells(*other).contains(cell))
                    };
                    let crossing = (0..27).filter(crosses).count() as u64;
                    let (seen, gathered) = (look.cells.len() as u64, look.digits.len() as u64);
                    let mut counts = vec![
                        ("marking", [1, found.into(), seen, gathered * n, look.tries]),
                        ("sharing", [1, found.into(), n, 0, look.tries]),
                        ("unmarked", [1, found.into(), seen, gathered * crossing, look.tries]),
                    ];
                    if !remembered.failed.contains(&(house, number)) {
                        let new = |cell: &&usize| remembered.cells.insert((house, **cell));
                        let seen = look.cells.iter().filter(new).count() as u64;
                        let new = |digit: &&u8| remembered.digits.insert((house, **digit));
                        let gathered = look.digits.iter().filter(new).count() as u64;
                        let more = [1, found.into(), seen, gathered * n, look.tries];
                        counts.push(("remembering", more));
                    }
                    let kind = ["row", "column", "box"][house / 9];
                    made_in[0].insert(open.len());
                    if !remembered.failed.contains(&(house, number)) {
                        made_in[1].insert(open.len());
                    }
                    if !look.removed.is_empty() {
                        let then_single = board.then_single(&look.removed);
                        for reader in readers {
                            for open in [None, Some(open.len())] {
                                let key = ("due", reader, format!("{side} {size}"), open);
                                let sums = progress.entry(key).or_default();
                                sums[0] += 1;
                                sums[1] += u64::from(then_single);
                            }
                        }
                    }
                    for (reader, more) in counts {
                        for kind in ["all", kind] {
                            let words = ["due".to_owned(), reader.to_owned()];
                            let [frame, reader] = words;
                            let look = format!("{side} {size}");
                            let key = (frame, reader, look, open.len(), kind);
                            let sums = all.entry(key).or_default();
                            sums.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
                        }
                    }
                    if !found {
                        remembered.failed.insert((house, number));
                        continue;
                    }
                    let before = Board(board.0.clone());
                    if let Some((cell, digit)) = look.placed {
                        board.place(cell, digit);
                    }
                    look.removed.iter().for_each(|&(cell, digit)| board.remove(cell, digit));
                    remembered.forget(&before, &board);
                    end(failed, &mut progress, true);
                    continue 'again;
                }
                for reader in readers.into_iter().filter(|_| size > 1) {
                    let opens = &made_in[usize::from(reader == "remembering")];
                    failed.push((reader, format!("{side} {size}"), opens.clone()));
                }
            }
            end(failed, &mut progress, false);
            break;
        }
    }
    (all, progress)
}

/// Holds what the finds lead to against the slow counts.
fn compare_progress(row: &ProgressRow, expected: &Progress) {
    let (frame, reader) = (row.frame.to_string(), row.reader.as_str());
    let look = row.look.to_string();
    let is_it = |(own, who, of, open): &(&str, &str, String, Option<usize>)| {
        (*own, *who, of, *open) == (&*frame, reader, &look, row.open.map(usize::from))
    };
    let counts = expected.iter().find(|(key, _)| is_it(key)).map_or([0; 4], |(_, counts)| *counts);
    let ours = [row.finds, row.finds_then_single, row.failed, row.then_later];
    assert_eq!(ours, counts, "{frame} {reader} {look} {:?}", row.open);
    let share = (row.finds > 0).then(|| counts[1] as f64 / counts[0] as f64);
    assert_eq!(row.share.value, share);
    if let Some(later) = row.later.value {
        assert_eq!(later, counts[3] as f64 / counts[2] as f64);
    }
}

fn givens(line: &str) -> [u8; 81] {
    let digit = |byte: u8| if byte == b'.' { 0 } else { byte - b'0' };
    line.bytes().map(digit).collect::<Vec<_>>().try_into().unwrap()
}

#[test]
fn what_looks_yield_agrees_with_a_slow_count_from_the_model() {
    agrees(200);
}

#[test]
#[ignore = "long: brute force on 5,000 positions and more"]
fn what_looks_yield_agrees_with_a_slow_count_on_many_puzzles() {
    assert!(agrees(4500) > 5000);
}

fn short_list() -> Vec<PlainLook> {
    let ranged =
        [(true, 4, 8), (true, 5, 8), (true, 4, 9), (false, 5, 9), (true, 5, 9), (false, 4, 9)];
    let mut looks: Vec<_> =
        [(true, 1), (false, 1), (true, 2), (false, 2), (true, 3)].map(|(n, s)| (n, s, 1, 9)).into();
    looks.extend(ranged.map(|(naked, size, open)| (naked, size, open, open)));
    looks
}

#[test]
fn looks_of_a_rulebook_with_ranges_are_due_in_its_order() {
    let text = lines(42, 60);
    let rulebook = Rulebook::load("short-list").unwrap();
    let settings = YieldSettings { looks: Some(rulebook.order().clone()), ..settings() };
    let report = count(&text, &settings);
    let looks = short_list();
    let (expected, progress) = slow_due(&text, &looks, &mut SlowGroups::default());
    let due: Vec<&Yield> = report.yields.iter().filter(|row| row.frame == Frame::Due).collect();
    assert!(due.iter().filter(|row| row.finds > 0).count() > 40);
    due.iter().for_each(|row| compare(row, &expected));
    let due_rows = report.progress.iter().filter(|row| row.frame == Frame::Due);
    assert!(due_rows.clone().filter(|row| row.failed > 0).count() > 40);
    due_rows.for_each(|row| compare_progress(row, &progress));
    // After the last look nothing can come.
    let last = |row: &&ProgressRow| row.look.to_string() == "hidden 4" && row.open == Some(9);
    assert!(report.progress.iter().filter(last).all(|row| row.later.value.is_none()));
    // Only the looks of the rulebook are told of, in its ranges.
    let told = |look: &str, open| due.iter().any(|r| r.look.to_string() == look && r.open == open);
    assert!(told("naked 4", 8) && !told("naked 4", 7) && !told("hidden 3", 8));
}

/// The looks of a claim's jury, for one reader in one frame, against sums of plain counts.
fn compare_juror(
    juror: &Juror,
    looks: &[(&str, &[&'static str])],
    expected: impl Fn(usize, usize) -> Counts,
) -> u64 {
    let mut made = 0;
    for price in &juror.prices {
        for (side, (look, (words, _))) in price.looks.iter().zip(looks).enumerate() {
            let counts = (price.open[0]..=price.open[1]).map(|open| expected(side, open.into()));
            let counts = counts.fold([0; 5], |sum, more| std::array::from_fn(|i| sum[i] + more[i]));
            let [made_there, finds, cells, places, tries] = counts;
            let weight = if juror.reader == "unmarked" { 3 } else { 1 };
            let glances = (weight * cells + places + tries) as f64;
            let whose = format!("{words}, {}", juror.name());
            assert_eq!(
                (look.made, look.finds, look.glances),
                (made_there, finds, glances),
                "{whose}"
            );
            if let Some(price) = look.price.value {
                assert!((price - glances / finds as f64).abs() < 1e-9 * price, "{whose}");
            }
            made += look.made;
        }
        if let (Some(estimate), [first, second]) = (price.estimate, &price.looks[..]) {
            let ratio = first.glances / first.finds as f64 * second.finds as f64 / second.glances;
            assert!((estimate.value - ratio).abs() < 1e-9 * ratio, "{}", juror.name());
        }
    }
    made
}

/// Claims about prices, each with its looks as (is naked, size, least and most open cells); the due
/// ones under the short list.
#[test]
fn juries_pay_the_prices_of_the_slow_count() {
    const LINES: [&str; 2] = ["row", "column"];
    const ALL: [&str; 1] = ["all"];
    let text = lines(44, 150);
    let claims = "name = \"own\"\ntitle = \"Own\"\nsource = \"own\"\n\
        [[claim]]\nid = \"a\"\nkind = \"easier\"\nstatement = \"S.\"\nratio_below = 1\n\
        look = \"naked 5 open 8\"\nthan = \"hidden 3 open 8\"\nrulebook = \"short-list\"\n\
        [[claim]]\nid = \"b\"\nkind = \"as-hard-as\"\nstatement = \"S.\"\nband = [0.5, 2]\n\
        look = \"hidden 2 open 5..9\"\nthan = \"naked 3\"\nrulebook = \"short-list\"\n\
        [[claim]]\nid = \"c\"\nkind = \"easier\"\nstatement = \"S.\"\nratio_below = 1\n\
        look = \"hidden 2\"\nlook_in = [\"box\"]\nthan = \"hidden 2\"\nthan_in = [\"column\", \"row\"]\n\
        [[claim]]\nid = \"d\"\nkind = \"pays\"\nstatement = \"S.\"\nlook = \"naked 2 open 5..8\"\n\
        rulebook = \"short-list\"\n";
    let folder = tempfile::tempdir().unwrap();
    let report = judge(
        &JudgeSettings {
            sources: vec![Source::memory("memory", text.as_bytes().to_vec())],
            rulebooks: vec![],
            claims: vec![ClaimFile::parse("claims", claims).unwrap()],
            readers: settings().readers,
            walk: TrialWalk::Together,
            level: Level::default(),
            shapes: false,
            out: folder.path().join("out"),
        },
        &Silent,
    )
    .unwrap();
    let groups: [Vec<PlainLook>; 4] = [
        vec![(true, 5, 8, 8), (false, 3, 8, 8)],
        vec![(false, 2, 5, 9), (true, 3, 1, 9)],
        vec![],
        vec![(true, 2, 5, 8)],
    ];
    let mut slow_groups = SlowGroups { groups: groups.into(), ..SlowGroups::default() };
    slow_due(&text, &short_list(), &mut slow_groups);
    let (every, ..) = slow(&text);
    let looks: [&[(&str, &[&'static str])]; 4] = [
        &[("naked 5", &ALL), ("hidden 3", &ALL)],
        &[("hidden 2", &ALL), ("naked 3", &ALL)],
        &[("hidden 2", &["box"]), ("hidden 2", &LINES)],
        &[("naked 2", &ALL)],
    ];
    let mut made = BTreeMap::new();
    for (group, (verdict, looks)) in report.verdicts.iter().zip(looks).enumerate() {
        assert!(verdict.examples.is_empty(), "a mean is not a rule for each house");
        for juror in &verdict.jury {
            *made.entry((group, juror.frame)).or_insert(0) +=
                compare_juror(juror, looks, |side, open| {
                    if juror.frame == Frame::Due {
                        let readers = ["marking", "sharing", "remembering", "unmarked"];
                        let reader =
                            readers.into_iter().find(|name| *name == juror.reader).unwrap();
                        let key = (group, side, reader, open);
                        return slow_groups.counts.get(&key).copied().unwrap_or_default();
                    }
                    let (words, kinds) = looks[side];
                    let counts = kinds.iter().filter_map(|kind| {
                        let words = ["every", &juror.reader, words].map(str::to_owned);
                        let [frame, reader, look] = words;
                        every.get(&(frame, reader, look, open, *kind)).copied()
                    });
                    counts.fold([0; 5], |sum, more| std::array::from_fn(|i| sum[i] + more[i]))
                });
        }
    }
    // Kinds of houses are compared in one frame; everything else is asked in both.
    assert_eq!(made.len(), 7);
    assert!(made.values().all(|made| *made > 50), "{made:?}");
    let sizes = report.verdicts.iter().map(|verdict| verdict.jury.len());
    assert_eq!(sizes.collect::<Vec<_>>(), [7, 7, 3, 7]);
    assert_eq!(report.verdicts[3].jury[0].prices.len(), 4);
}

#[test]
fn a_family_that_returns_is_refused_and_weights_count() {
    let line = |index: u64, rest: &str| {
        MinimalByDeletion { seed: 43 }.puzzle(index).to_string() + rest + "\n"
    };
    let text = |families: [u64; 3]| -> String {
        (0..).zip(families).map(|(i, f)| line(i, &format!(" weight=2 family={f}"))).collect()
    };
    let count = |text: String| {
        let sources = vec![Source::memory("memory", text.into_bytes())];
        let mut rejects = Rejects::counted(&sources);
        yields(&settings(), sources, &mut rejects, &Silent)
    };
    let error = count(text([1, 2, 1])).unwrap_err().to_string();
    assert!(error.contains("family 1"), "{error}");
    let apart = count(text([1, 1, 2]) + &line(9, " weight=2")).unwrap();
    assert_eq!((apart.puzzles, apart.clusters), (4, 3));
    // One weight for all changes no number.
    let plain: String = (0..3).map(|index| line(index, "")).collect();
    let [plain, weighted] = [plain, text([1, 2, 3])].map(|text| count(text).unwrap().yields);
    assert_eq!(plain, weighted);
}

fn lines(seed: u64, count: u64) -> String {
    (0..count).map(|index| MinimalByDeletion { seed }.puzzle(index).to_string() + "\n").collect()
}

/// Holds a row against the slow counts.
fn compare(row: &Yield, expected: &BTreeMap<Key, Counts>) {
    let key = (
        row.frame.to_string(),
        row.reader.clone(),
        row.look.to_string(),
        usize::from(row.open),
        row.house_kind,
    );
    let counts = expected.get(&key).copied().unwrap_or_default();
    let ours = [row.made, row.finds, row.cells_seen, row.places_gathered, row.tries];
    assert_eq!(ours, counts, "{key:?}");
    let weight = if row.reader == "unmarked" { 3 } else { 1 };
    let glances = (weight * counts[2] + counts[3] + counts[4]) as f64;
    assert_eq!(row.glances, glances);
    let close = |value: Option<f64>, expected: f64| match value {
        Some(value) => (value - expected).abs() <= 1e-12 * expected,
        None => expected.is_nan() || expected.is_infinite(),
    };
    assert!(close(row.share.value, counts[1] as f64 / counts[0] as f64), "{key:?}");
    assert!(close(row.price.value, glances / counts[1] as f64), "{key:?}");
}

/// Compares both counts on so many puzzles; returns how many quiet positions they have.
fn agrees(count_of: u64) -> u64 {
    let text = lines(41, count_of);
    let (mut expected, mut progress, positions) = slow(&text);
    let ladder: Vec<_> =
        (1..=4).flat_map(|size| [(true, size, 1, 9), (false, size, 1, 9)]).collect();
    let (due, due_progress) = slow_due(&text, &ladder, &mut SlowGroups::default());
    expected.extend(due);
    progress.extend(due_progress);
    let report = count(&text, &settings());
    assert_eq!((report.puzzles, report.clusters), (count_of, count_of));
    assert_eq!(report.positions, positions);
    report.yields.iter().for_each(|row| compare(row, &expected));
    report.progress.iter().for_each(|row| compare_progress(row, &progress));
    // Three readers in one frame, four in the other: 42 rows, and one for each of 12 looks over all.
    assert_eq!(report.progress.len(), (3 + 4) * (42 + 12));
    // Three readers in three frames, four where looks are due: 42 kinds of looks and open counts, in
    // four kinds of houses.
    assert_eq!(report.yields.len(), (3 * 3 + 4) * 42 * 4);
    let counted = report.yields.iter().filter(|row| row.made > 0).count();
    assert!(counted > 9 * 30 * 4, "{counted}");
    positions
}

/// The looks of an order: side, size, least and most open cells.
fn plain_looks(order: &tallyhouse_engine::Order) -> Vec<PlainLook> {
    let plain = |look: &tallyhouse_engine::Look| {
        let size = look.size().unwrap();
        let is_naked = look.to_string().starts_with("naked");
        (is_naked, size.get().into(), size.open().least().into(), size.open().most().into())
    };
    order.looks().iter().map(plain).collect()
}

/// What an order that was found costs each reader on held-out puzzles, by brute force.
#[test]
fn orders_that_were_found_cost_each_reader_what_a_slow_walk_counts() {
    let puzzles = |seed, count| MinimalByDeletion { seed }.puzzles(0..count);
    let weights = |reader: &str| if reader == "unmarked" { [3, 1, 1] } else { [1; 3] };
    let settings = OrderSettings {
        training: puzzles(71, 60),
        held_out: puzzles(72, 40),
        population: OrderSettings::made_population(),
        start: Rulebook::load("short-list").unwrap(),
        weights: Default::default(),
        readers: ReaderFile::built_in_and(&[]).unwrap(),
        level: Level::default(),
        seed: 5,
        runs: 3,
        evaluations: 60,
        frontier: 3,
    };
    let report = search_orders(&settings, &|_| {}).unwrap();
    let text: String = settings.held_out.iter().map(|puzzle| format!("{puzzle}\n")).collect();
    let slow = |order: &ReportedOrder| -> BTreeMap<String, u64> {
        let looks = plain_looks(&order.order);
        let mut all = BTreeMap::new();
        for (key, counts) in slow_due(&text, &looks, &mut SlowGroups::default()).0 {
            let (_, reader, _, _, kind) = key;
            let glances = counts[2..].iter().zip(weights(&reader)).map(|(n, weight)| n * weight);
            if kind == "all" {
                *all.entry(reader).or_default() += glances.sum::<u64>();
            }
        }
        all
    };
    let old = slow(&report.start);
    assert_ne!(report.recommended.order, report.start.order);
    for order in report.found() {
        let expected = slow(order);
        let names: Vec<&str> = order.readers.iter().map(|price| price.reader.as_str()).collect();
        assert_eq!(names, ["marking", "sharing", "remembering", "unmarked"]);
        for price in &order.readers {
            let [cost, before] = [&expected, &old].map(|all| all[&price.reader] as f64);
            let name = format!("{}, {}", order.name, price.reader);
            assert!((price.glances.value - cost / 40.0).abs() < 1e-9, "{name}");
            let compared = price.against_start.as_ref().unwrap();
            assert!((compared.more_glances.value - (cost - before) / 40.0).abs() < 1e-9, "{name}");
            if let Some(relative) = compared.relative_glances {
                assert!((relative.value - cost / before).abs() < 1e-12, "{name}");
            }
        }
        let marking = expected["marking"] as f64 / 40.0;
        assert!((order.held_out.glances.value - marking).abs() < 1e-9, "{}", order.name);
    }
}
