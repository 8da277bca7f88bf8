//! A deliberately simple reference for subsets and for the together walk, written from the
//! definitions alone.
//!
//! Every combination of cells is built one by one and its candidates are collected in a set of
//! numbers. Houses come from row and column arithmetic. Nothing of the engine is used, so that an
//! agreement of the two means something.

use std::collections::BTreeSet;

/// What is known of each cell, row by row: its candidates, or `None` if it is fixed.
pub type Candidates = [Option<BTreeSet<u8>>; 81];

/// The looks of the default ladder in words, first look first.
pub const LADDER: [&str; 8] =
    ["naked 1", "hidden 1", "naked 2", "hidden 2", "naked 3", "hidden 3", "naked 4", "hidden 4"];

/// A tight set of one house.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tight {
    /// The cells, by their places 0 to 8 in the house.
    pub cells: BTreeSet<usize>,
    /// The union of their candidates.
    pub digits: BTreeSet<u8>,
    /// How many candidates the other open cells lose.
    pub eliminations: usize,
    /// True if no smaller tight set lies inside.
    pub naked_proper: bool,
    /// True if no larger tight set lies around, short of all open cells.
    pub hidden_proper: bool,
}

/// A productive tight set with everything that is recorded of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// Rows 0 to 8, columns 9 to 17, boxes 18 to 26.
    pub house: usize,
    /// The number of open cells in the house.
    pub open: usize,
    /// The size of the naked side.
    pub naked: usize,
    /// The size of the hidden side.
    pub hidden: usize,
    /// Open cells outside settled blocks.
    pub live_open: usize,
    /// Cells of the naked side outside settled blocks.
    pub live_naked: usize,
    /// Cells of the hidden side outside settled blocks.
    pub live_hidden: usize,
    /// The tight set itself.
    pub tight: Tight,
    /// True if the walk applied it.
    pub applied: bool,
}

/// A quiet position of a walk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quiet {
    /// The fixed digits, 0 for an open cell.
    pub fixed: [u8; 81],
    /// The candidates of the open cells.
    pub candidates: Candidates,
    /// How many rows, columns and boxes have each open count.
    pub exposure: [[usize; 10]; 3],
    /// Every subset of every house.
    pub subsets: Vec<Found>,
    /// The index in [`LADDER`] of the look that is applied here.
    pub look: Option<usize>,
}

/// How a walk ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Every cell is fixed.
    Solved,
    /// No look finds anything.
    Stuck,
    /// Nothing can solve the position.
    Contradiction,
}

/// A together walk with the default ladder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Walked {
    /// The quiet positions in order.
    pub quiet: Vec<Quiet>,
    /// How it ended.
    pub end: End,
    /// The index in [`LADDER`] of the hardest look needed.
    pub hardest: Option<usize>,
}

/// Returns the nine cells of a house in the order of its places.
#[must_use]
pub fn house_cells(house: usize) -> [usize; 9] {
    let number = house % 9;
    std::array::from_fn(|place| {
        let (row, column) = match house / 9 {
            0 => (number, place),
            1 => (place, number),
            _ => (number / 3 * 3 + place / 3, number % 3 * 3 + place % 3),
        };
        row * 9 + column
    })
}

fn see_each_other(a: usize, b: usize) -> bool {
    let (row, column) = (a / 9 == b / 9, a % 9 == b % 9);
    let same_box = a / 27 == b / 27 && a % 9 / 3 == b % 9 / 3;
    a != b && (row || column || same_box)
}

/// Returns every tight set of a house, smaller than the open cells, or `None` if some cells are
/// more than their candidates. `house` holds the candidates of each place, `None` if fixed.
#[must_use]
pub fn tight_sets(house: &[Option<BTreeSet<u8>>]) -> Option<Vec<Tight>> {
    let open: BTreeSet<usize> = (0..house.len()).filter(|&place| house[place].is_some()).collect();
    let mut sets: Vec<BTreeSet<usize>> = vec![BTreeSet::new()];
    for &place in &open {
        let with: Vec<_> = sets.iter().map(|set| set | &BTreeSet::from([place])).collect();
        sets.extend(with);
    }
    let mut tight = Vec::new();
    for cells in sets {
        let digits: BTreeSet<u8> =
            cells.iter().flat_map(|&p| house[p].iter().flatten()).copied().collect();
        if digits.len() < cells.len() {
            return None;
        }
        if digits.len() == cells.len() && !cells.is_empty() && cells.len() < open.len() {
            tight.push((cells, digits));
        }
    }
    let describe = |(cells, digits): &(BTreeSet<usize>, BTreeSet<u8>)| Tight {
        cells: cells.clone(),
        digits: digits.clone(),
        eliminations: (&open - cells)
            .iter()
            .flat_map(|&place| house[place].iter().flatten())
            .filter(|digit| digits.contains(digit))
            .count(),
        naked_proper: !tight.iter().any(|(t, _)| t.len() < cells.len() && t.is_subset(cells)),
        hidden_proper: !tight.iter().any(|(t, _)| t.len() > cells.len() && t.is_superset(cells)),
    };
    Some(tight.iter().map(describe).collect())
}

/// Returns every subset of one house, or `None` if the house cannot be filled.
#[must_use]
pub fn subsets_of_house(position: &Candidates, house: usize) -> Option<Vec<Found>> {
    let cells = house_cells(house).map(|cell| position[cell].clone());
    let open = cells.iter().flatten().count();
    let tight = tight_sets(&cells)?;
    let mut settled: BTreeSet<usize> = BTreeSet::new();
    for set in &tight {
        let minimal = !tight.iter().any(|t| t.cells != set.cells && t.cells.is_subset(&set.cells));
        if minimal && set.eliminations == 0 {
            settled.extend(&set.cells);
        }
    }
    let live_open = open - settled.len();
    let found = tight.into_iter().filter(|set| set.eliminations > 0).map(|tight| {
        let live_naked = (&tight.cells - &settled).len();
        Found {
            house,
            open,
            naked: tight.cells.len(),
            hidden: open - tight.cells.len(),
            live_open,
            live_naked,
            live_hidden: live_open - live_naked,
            tight,
            applied: false,
        }
    });
    Some(found.collect())
}

/// Returns every subset of all 27 houses, or `None` if some house cannot be filled.
#[must_use]
pub fn subsets(position: &Candidates) -> Option<Vec<Found>> {
    let mut all = Vec::new();
    for house in 0..27 {
        all.extend(subsets_of_house(position, house)?);
    }
    Some(all)
}

/// Walks a puzzle, 0 for a blank, together with the default ladder.
#[must_use]
pub fn walk(givens: &[u8; 81]) -> Walked {
    let mut board =
        Board { fixed: [0; 81], candidates: std::array::from_fn(|_| Some((1..=9).collect())) };
    let mut walked = Walked { quiet: Vec::new(), end: End::Stuck, hardest: None };
    for (cell, &digit) in givens.iter().enumerate().filter(|(_, digit)| **digit != 0) {
        board.fix(cell, digit);
    }
    loop {
        if board.is_hopeless() {
            walked.end = End::Contradiction;
            return walked;
        }
        if board.fixed.iter().all(|&digit| digit != 0) {
            walked.end = End::Solved;
            return walked;
        }
        let naked = board.naked_singles();
        let hidden = if naked.is_empty() { board.hidden_singles() } else { BTreeSet::new() };
        let (look, singles) = if naked.is_empty() { (1, hidden) } else { (0, naked) };
        if !singles.is_empty() {
            walked.hardest = walked.hardest.max(Some(look));
            for (cell, digit) in singles {
                let possible = board.candidates[cell].as_ref().is_some_and(|c| c.contains(&digit));
                if !possible {
                    walked.end = End::Contradiction;
                    return walked;
                }
                board.fix(cell, digit);
            }
            continue;
        }
        let Some(mut subsets) = subsets(&board.candidates) else {
            walked.end = End::Contradiction;
            return walked;
        };
        let before = board.clone();
        let mut applied_look = None;
        for look in 2..8 {
            let size = look / 2 + 1;
            for found in &mut subsets {
                found.applied = if look % 2 == 0 {
                    found.tight.naked_proper && found.naked == size
                } else {
                    found.tight.hidden_proper && found.hidden == size
                };
                if found.applied {
                    applied_look = Some(look);
                    board.remove(found);
                }
            }
            if applied_look.is_some() {
                break;
            }
        }
        let exposure = before.exposure();
        let Board { fixed, candidates } = before;
        walked.quiet.push(Quiet { fixed, candidates, exposure, subsets, look: applied_look });
        walked.hardest = walked.hardest.max(applied_look);
        if applied_look.is_none() {
            return walked;
        }
    }
}

#[derive(Clone)]
struct Board {
    fixed: [u8; 81],
    candidates: Candidates,
}

impl Board {
    fn fix(&mut self, cell: usize, digit: u8) {
        self.fixed[cell] = digit;
        self.candidates[cell] = None;
        for peer in (0..81).filter(|&peer| see_each_other(cell, peer)) {
            if let Some(candidates) = &mut self.candidates[peer] {
                candidates.remove(&digit);
            }
        }
    }

    fn remove(&mut self, found: &Found) {
        for (place, cell) in house_cells(found.house).into_iter().enumerate() {
            if let Some(candidates) = &mut self.candidates[cell]
                && !found.tight.cells.contains(&place)
            {
                candidates.retain(|digit| !found.tight.digits.contains(digit));
            }
        }
    }

    fn places(&self, house: usize, digit: u8) -> Vec<usize> {
        let holds =
            |cell: &usize| self.candidates[*cell].as_ref().is_some_and(|c| c.contains(&digit));
        house_cells(house).into_iter().filter(holds).collect()
    }

    /// Tests for an open cell without candidates or a digit without a place in a house.
    fn is_hopeless(&self) -> bool {
        self.candidates.iter().flatten().any(BTreeSet::is_empty)
            || (0..27).any(|house| {
                (1..=9).any(|digit| {
                    let shown = house_cells(house).iter().any(|&cell| self.fixed[cell] == digit);
                    !shown && self.places(house, digit).is_empty()
                })
            })
    }

    fn naked_singles(&self) -> BTreeSet<(usize, u8)> {
        let mut singles = BTreeSet::new();
        for (cell, candidates) in self.candidates.iter().enumerate() {
            if let Some(candidates) = candidates
                && candidates.len() == 1
            {
                singles.extend(candidates.iter().map(|&digit| (cell, digit)));
            }
        }
        singles
    }

    fn hidden_singles(&self) -> BTreeSet<(usize, u8)> {
        let mut singles = BTreeSet::new();
        for house in 0..27 {
            for digit in 1..=9 {
                if let [cell] = self.places(house, digit)[..] {
                    singles.insert((cell, digit));
                }
            }
        }
        singles
    }

    fn exposure(&self) -> [[usize; 10]; 3] {
        let mut exposure = [[0; 10]; 3];
        for house in 0..27 {
            let open = house_cells(house).iter().filter(|&&cell| self.fixed[cell] == 0).count();
            exposure[house / 9][open] += 1;
        }
        exposure
    }
}
