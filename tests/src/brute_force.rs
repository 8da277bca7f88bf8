//! A brute-force reference: every set of cells of every house, candidates as ordinary sets.
//!
//! It is written from the definitions alone and shares nothing with the engine: houses come from row
//! and column arithmetic of its own, combinations are listed one by one, and nothing is clever.

use std::collections::BTreeSet;

/// Candidates of an open cell, `None` for a fixed one; 81 cells row by row.
pub type Board = Vec<Option<BTreeSet<u8>>>;

/// A subset with every recorded property.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PlainSubset {
    /// Rows 0–8, columns 9–17, boxes 18–26.
    pub house: usize,
    /// Open cells of the house.
    pub open: usize,
    /// Cells of the naked side, 0–80.
    pub cells: BTreeSet<usize>,
    /// Digits of the naked side, 1–9.
    pub digits: BTreeSet<u8>,
    /// Candidates removed.
    pub eliminations: usize,
    /// No smaller tight set inside.
    pub naked_proper: bool,
    /// No larger tight set around it, short of all open cells.
    pub hidden_proper: bool,
    /// Open cells outside settled blocks.
    pub live_open: usize,
    /// Cells of the naked side outside settled blocks.
    pub live_naked: usize,
}

impl PlainSubset {
    /// Cells of the hidden side.
    pub fn hidden(&self) -> usize {
        self.open - self.cells.len()
    }
}

/// The nine cells of a house.
pub fn cells_of_house(house: usize) -> Vec<usize> {
    let (kind, number) = (house / 9, house % 9);
    let mut cells = Vec::new();
    for row in 0..9 {
        for column in 0..9 {
            let belongs = match kind {
                0 => row == number,
                1 => column == number,
                _ => (row / 3) * 3 + column / 3 == number,
            };
            if belongs {
                cells.push(row * 9 + column);
            }
        }
    }
    cells
}

fn combinations(items: &[usize], size: usize) -> Vec<BTreeSet<usize>> {
    if size == 0 {
        return vec![BTreeSet::new()];
    }
    let mut all = Vec::new();
    for (index, &first) in items.iter().enumerate() {
        for mut rest in combinations(&items[index + 1..], size - 1) {
            rest.insert(first);
            all.push(rest);
        }
    }
    all
}

fn union(board: &Board, cells: &BTreeSet<usize>) -> BTreeSet<u8> {
    cells.iter().flat_map(|&cell| board[cell].clone().unwrap_or_default()).collect()
}

/// Every tight set of a house: 1 ≤ size < open cells, as many candidates as cells.
pub fn tight_sets(board: &Board, house: usize) -> Vec<BTreeSet<usize>> {
    let open: Vec<usize> =
        cells_of_house(house).into_iter().filter(|&cell| board[cell].is_some()).collect();
    let mut tight = Vec::new();
    for size in 1..open.len() {
        for set in combinations(&open, size) {
            if union(board, &set).len() == size {
                tight.push(set);
            }
        }
    }
    tight
}

/// Every subset of a house: its tight sets with eliminations.
pub fn subsets_of_house(board: &Board, house: usize) -> Vec<PlainSubset> {
    let open: BTreeSet<usize> =
        cells_of_house(house).into_iter().filter(|&cell| board[cell].is_some()).collect();
    let tight = tight_sets(board, house);
    let eliminations = |set: &BTreeSet<usize>| -> usize {
        let digits = union(board, set);
        open.difference(set)
            .map(|&other| board[other].as_ref().unwrap().intersection(&digits).count())
            .sum()
    };
    let holds_smaller =
        |set: &BTreeSet<usize>| tight.iter().any(|other| other != set && other.is_subset(set));
    let settled: BTreeSet<usize> = tight
        .iter()
        .filter(|set| !holds_smaller(set) && eliminations(set) == 0)
        .flatten()
        .copied()
        .collect();
    tight
        .iter()
        .filter(|set| eliminations(set) > 0)
        .map(|set| PlainSubset {
            house,
            open: open.len(),
            cells: set.clone(),
            digits: union(board, set),
            eliminations: eliminations(set),
            naked_proper: !holds_smaller(set),
            hidden_proper: !tight.iter().any(|other| other != set && set.is_subset(other)),
            live_open: open.difference(&settled).count(),
            live_naked: set.difference(&settled).count(),
        })
        .collect()
}

/// A hidden set found by searching digits, not cells: `digits` have exactly `cells` as their places.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct HiddenSet {
    /// As many digits as cells.
    pub digits: BTreeSet<u8>,
    /// All places of these digits in the house.
    pub cells: BTreeSet<usize>,
    /// Other candidates in these cells: (cell, digit).
    pub eliminations: BTreeSet<(usize, u8)>,
}

/// Every hidden set of a house short of all its digits, with or without eliminations.
pub fn hidden_sets(board: &Board, house: usize) -> Vec<HiddenSet> {
    let cells = cells_of_house(house);
    let places = |digit: u8| -> BTreeSet<usize> {
        let holds = |&cell: &usize| board[cell].as_ref().is_some_and(|c| c.contains(&digit));
        cells.iter().copied().filter(holds).collect()
    };
    let missing: Vec<usize> =
        (1..=9u8).filter(|&digit| !places(digit).is_empty()).map(usize::from).collect();
    let mut found = Vec::new();
    for size in 1..missing.len() {
        for digits in combinations(&missing, size) {
            let digits: BTreeSet<u8> = digits.into_iter().map(|digit| digit as u8).collect();
            let cells: BTreeSet<usize> = digits.iter().flat_map(|&digit| places(digit)).collect();
            if cells.len() == size {
                let eliminations = cells
                    .iter()
                    .flat_map(|&cell| {
                        let others = board[cell].as_ref().unwrap().difference(&digits);
                        others.map(move |&digit| (cell, digit)).collect::<Vec<_>>()
                    })
                    .collect();
                found.push(HiddenSet { digits, cells, eliminations });
            }
        }
    }
    found
}

/// What a walk meets at a quiet position.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlainQuiet {
    /// Every subset and whether the walk applied it.
    pub subsets: Vec<(PlainSubset, bool)>,
    /// How many houses have each open count.
    pub exposure: [usize; 10],
    /// Candidates in open cells.
    pub candidates_left: usize,
    /// Fixed cells.
    pub fixed_cells: usize,
}

/// The full ladder, together, from 81 digits with 0 for a blank: quiet positions and whether every
/// cell is fixed at the end; `None` if the walk meets a contradiction.
pub fn together_walk(givens: &[u8; 81]) -> Option<(Vec<PlainQuiet>, bool)> {
    let mut board: Board = vec![Some((1..=9).collect()); 81];
    for (cell, &digit) in givens.iter().enumerate() {
        if digit != 0 && !place(&mut board, cell, digit) {
            return None;
        }
    }
    let mut quiet = Vec::new();
    loop {
        if board.iter().all(Option::is_none) {
            return Some((quiet, true));
        }
        if board.iter().flatten().any(BTreeSet::is_empty) {
            return None;
        }
        let naked: BTreeSet<(usize, u8)> = (0..81)
            .filter_map(|cell| {
                let candidates = board[cell].as_ref()?;
                (candidates.len() == 1).then(|| (cell, *candidates.first().unwrap()))
            })
            .collect();
        let hidden: BTreeSet<(usize, u8)> = (0..27)
            .flat_map(|house| hidden_sets(&board, house))
            .filter(|set| set.digits.len() == 1)
            .map(|set| (*set.cells.first().unwrap(), *set.digits.first().unwrap()))
            .chain(last_places(&board))
            .collect();
        let singles = if naked.is_empty() { &hidden } else { &naked };
        if !singles.is_empty() {
            for &(cell, digit) in singles {
                if !place(&mut board, cell, digit) {
                    return None;
                }
            }
            continue;
        }
        let mut subsets: Vec<(PlainSubset, bool)> =
            (0..27).flat_map(|house| subsets_of_house(&board, house)).map(|s| (s, false)).collect();
        let looks = (2..=4).flat_map(|size| [(true, size), (false, size)]);
        for (naked_side, size) in looks {
            let finds = |s: &PlainSubset| {
                if naked_side {
                    s.naked_proper && s.cells.len() == size
                } else {
                    s.hidden_proper && s.hidden() == size
                }
            };
            for (subset, applied) in &mut subsets {
                *applied = finds(subset);
            }
            if subsets.iter().any(|(_, applied)| *applied) {
                break;
            }
        }
        let mut exposure = [0; 10];
        for house in 0..27 {
            let open = cells_of_house(house).iter().filter(|&&cell| board[cell].is_some()).count();
            exposure[open] += 1;
        }
        quiet.push(PlainQuiet {
            exposure,
            candidates_left: board.iter().flatten().map(BTreeSet::len).sum(),
            fixed_cells: board.iter().filter(|cell| cell.is_none()).count(),
            subsets: subsets.clone(),
        });
        let applied: Vec<PlainSubset> =
            subsets.into_iter().filter(|(_, applied)| *applied).map(|(s, _)| s).collect();
        if applied.is_empty() {
            return Some((quiet, false));
        }
        for subset in applied {
            for cell in cells_of_house(subset.house) {
                if let (Some(candidates), false) = (&mut board[cell], subset.cells.contains(&cell))
                {
                    candidates.retain(|digit| !subset.digits.contains(digit));
                }
            }
        }
    }
}

/// Hidden singles that are the last missing digit of their house, which is not short of all digits.
fn last_places(board: &Board) -> Vec<(usize, u8)> {
    (0..27)
        .filter_map(|house| {
            let open: Vec<usize> =
                cells_of_house(house).into_iter().filter(|&cell| board[cell].is_some()).collect();
            let [cell] = open[..] else { return None };
            let candidates = board[cell].as_ref().unwrap();
            (candidates.len() == 1).then(|| (cell, *candidates.first().unwrap()))
        })
        .collect()
}

fn place(board: &mut Board, cell: usize, digit: u8) -> bool {
    if !board[cell].as_ref().is_some_and(|candidates| candidates.contains(&digit)) {
        return board[cell].is_none();
    }
    board[cell] = None;
    for house in (0..27).filter(|&house| cells_of_house(house).contains(&cell)) {
        for other in cells_of_house(house) {
            if let Some(candidates) = &mut board[other] {
                candidates.remove(&digit);
            }
        }
    }
    true
}
