//! For the tests: the glance model once more, slowly and from its words, and random positions.
//!
//! Shares no code with the searches: every combination of eligible elements is listed, sorted and
//! judged by the definitions on plain sets.

use std::collections::BTreeSet;

use proptest::collection::vec;
use proptest::prelude::*;
use tallyhouse_board::{Cell, Digit, House, HouseKind, Puzzle};

use super::Glances;
use crate::{Find, Look, Position};

type Set = BTreeSet<u8>;

/// A find in plain terms: what is placed, and what is removed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) placed: Option<(Cell, Digit)>,
    pub(super) removed: BTreeSet<(Cell, Digit)>,
}

impl Change {
    pub(super) fn of_find(position: &Position, find: &Find) -> Self {
        let removed = find.removals().into_iter().flat_map(|(cell, digits)| {
            (position.candidates(cell) & digits).iter().map(move |digit| (cell, digit))
        });
        Self { placed: find.placement(), removed: removed.collect() }
    }
}

/// What the naive walk found out.
pub(super) struct NaiveWalk {
    /// Found, failed and glances of each look.
    pub(super) looks: Vec<(u64, u64, Glances)>,
    pub(super) end: Position,
}

/// Makes every look in every house again after each find.
pub(super) fn naive_walk(
    puzzle: &Puzzle,
    looks: &[Look],
    houses: &[House],
    effort: impl Fn(&Position, House, Look) -> (Glances, Option<Change>),
) -> NaiveWalk {
    let mut position = Position::new(puzzle);
    let mut efforts = vec![(0, 0, Glances::default()); looks.len()];
    'walk: while !position.is_solved() {
        for (look, sum) in looks.iter().zip(&mut efforts) {
            for &house in houses {
                let (glances, change) = effort(&position, house, *look);
                sum.2 += glances;
                let Some(change) = change else { continue };
                sum.0 += 1;
                if let Some((cell, digit)) = change.placed {
                    position.place(cell, digit).unwrap();
                }
                for (cell, digit) in change.removed {
                    position.remove(cell, [digit].into_iter().collect());
                }
                continue 'walk;
            }
            sum.1 += 1;
        }
        break;
    }
    NaiveWalk { looks: efforts, end: position }
}

/// The cost of one look in one house. `only_proper` is the look's own rule; without it, the first
/// productive set of the size ends the search.
pub(super) fn effort(
    position: &Position,
    house: House,
    look: Look,
    only_proper: bool,
) -> (Glances, Option<Change>) {
    let open: Vec<(u8, Set)> = (0..9)
        .filter(|&place| position.fixed(house.cells()[usize::from(place)]).is_none())
        .map(|place| {
            let candidates = position.candidates(house.cells()[usize::from(place)]);
            (place, candidates.iter().map(Digit::value).collect())
        })
        .collect();
    let fixed = |digit: &u8| {
        house.cells().iter().any(|&cell| position.fixed(cell).map(Digit::value) == Some(*digit))
    };
    let missing: Vec<u8> = (1..=9).filter(|digit| !fixed(digit)).collect();
    let n = open.len();
    let places_of = |digit: u8| -> Set {
        open.iter().filter(|(_, marks)| marks.contains(&digit)).map(|&(place, _)| place).collect()
    };
    let placing = |place: u8, digit: u8| Change {
        placed: Some((house.cells()[usize::from(place)], Digit::new(digit).unwrap())),
        removed: BTreeSet::new(),
    };
    let seen = |cells: usize| Glances { cells_seen: cells as u64, ..Glances::default() };
    let gathered =
        |digits: usize| Glances { places_gathered: (n * digits) as u64, ..Glances::default() };

    let (naked, size) = match look {
        Look::Intersections => {
            return (gathered(missing.len()), intersection(position, house));
        }
        Look::Naked(size) => (true, size),
        Look::Hidden(size) => (false, size),
    };
    let k = usize::from(size.get());
    if !size.covers(n as u8) || (k > 1 && k >= n) {
        return (Glances::default(), None);
    }
    match (naked, k) {
        (true, 1) => {
            return match open.iter().position(|(_, marks)| marks.len() == 1) {
                Some(before) => {
                    let (place, marks) = &open[before];
                    (seen(before + 1), Some(placing(*place, *marks.first().unwrap())))
                }
                None => (seen(n), None),
            };
        }
        (false, 1) => {
            return match missing.iter().position(|&digit| places_of(digit).len() == 1) {
                Some(before) => {
                    let digit = missing[before];
                    let place = *places_of(digit).first().unwrap();
                    (gathered(before + 1), Some(placing(place, digit)))
                }
                None => (gathered(missing.len()), None),
            };
        }
        _ => {}
    }

    let all: Set = open.iter().map(|&(place, _)| place).collect();
    let union = |cells: &Set| -> Set {
        let marks = open.iter().filter(|(place, _)| cells.contains(place));
        marks.flat_map(|(_, marks)| marks.iter().copied()).collect()
    };
    let is_tight =
        |cells: &Set| !cells.is_empty() && cells.len() < n && union(cells).len() == cells.len();
    let removed = |cells: &Set| -> BTreeSet<(Cell, Digit)> {
        let digits = union(cells);
        open.iter()
            .filter(|(place, _)| !cells.contains(place))
            .flat_map(|(place, marks)| marks.intersection(&digits).map(move |d| (*place, *d)))
            .map(|(place, d)| (house.cells()[usize::from(place)], Digit::new(d).unwrap()))
            .collect()
    };
    let is_proper = |cells: &Set| {
        !combinations(&all.iter().copied().collect::<Vec<_>>()).iter().any(|other| {
            let other: Set = other.iter().copied().collect();
            let nested = if naked { other.is_subset(cells) } else { other.is_superset(cells) };
            other != *cells && nested && is_tight(&other)
        })
    };
    let elements: Vec<(u8, Set)> = if naked {
        open.clone()
    } else {
        missing.iter().map(|&digit| (digit, places_of(digit))).collect()
    };
    let eligible: Vec<u8> = elements
        .iter()
        .filter(|(_, marks)| (2..=k).contains(&marks.len()))
        .map(|&(element, _)| element)
        .collect();
    let span = |chosen: &[u8]| -> Set {
        let chosen = elements.iter().filter(|(element, _)| chosen.contains(element));
        chosen.flat_map(|(_, marks)| marks.iter().copied()).collect()
    };
    // A set is tried when all but its last element were kept; prefixes come before extensions.
    let mut tried: Vec<Vec<u8>> = combinations(&eligible)
        .into_iter()
        .filter(|set| (2..=k).contains(&set.len()) && span(&set[..set.len() - 1]).len() <= k)
        .collect();
    tried.sort();
    let ends = |set: &Vec<u8>| {
        let naked_side: Set = if naked {
            set.iter().copied().collect()
        } else {
            all.difference(&span(set)).copied().collect()
        };
        let full = set.len() == k && span(set).len() == k && is_tight(&naked_side);
        let removed = removed(&naked_side);
        (full && !removed.is_empty() && (!only_proper || is_proper(&naked_side)))
            .then_some(Change { placed: None, removed })
    };
    let end = tried.iter().enumerate().find_map(|(before, set)| Some((before + 1, ends(set)?)));
    let tries = end.as_ref().map_or(tried.len(), |&(tries, _)| tries) as u64;
    let first = if naked { seen(n) } else { gathered(missing.len()) };
    (Glances { tries, ..first }, end.map(|(_, change)| change))
}

/// Every non-empty combination, each in the order given.
fn combinations(elements: &[u8]) -> Vec<Vec<u8>> {
    (1..1u32 << elements.len())
        .map(|set| (0..elements.len()).filter(|i| set >> i & 1 == 1).map(|i| elements[i]).collect())
        .collect()
}

fn intersection(position: &Position, confined: House) -> Option<Change> {
    let is_box = |house: House| house.kind() == HouseKind::Box;
    for cleared in House::all().filter(|&other| is_box(other) != is_box(confined)) {
        for digit in Digit::all() {
            let holding = |house: House| -> BTreeSet<Cell> {
                let cells = house.cells().iter().copied();
                cells.filter(|&cell| position.candidates(cell).contains(digit)).collect()
            };
            let (inside, outside) = (holding(confined), holding(cleared));
            if !inside.is_empty() && inside.is_subset(&outside) && inside != outside {
                let removed = outside.difference(&inside).map(|&cell| (cell, digit)).collect();
                return Some(Change { placed: None, removed });
            }
        }
    }
    None
}

/// Positions around a solved board: some of its digits fixed, any candidates beside it elsewhere.
pub(super) fn positions() -> impl Strategy<Value = Position> {
    let digits = Just((1..=9).collect::<Vec<u8>>()).prop_shuffle();
    let cells = vec((0u8..100, any::<u16>(), any::<u16>()), Cell::COUNT);
    (digits, cells, 0u8..80, 0usize..4).prop_map(|(digits, cells, fixed_percent, density)| {
        let solution = |cell: Cell| {
            let shift = cell.row() % 3 * 3 + cell.row() / 3;
            Digit::new(digits[(shift + cell.column()) % 9]).unwrap()
        };
        let mut position = Position::blank();
        for cell in Cell::all().filter(|cell| cells[cell.index()].0 < fixed_percent) {
            position.place(cell, solution(cell)).unwrap();
        }
        for cell in position.open_cells().iter() {
            let (_, a, b) = cells[cell.index()];
            let kept = [a & b, a, a | b, u16::MAX][density];
            let others = Digit::all().filter(|&digit| digit != solution(cell));
            position.remove(cell, others.filter(|digit| kept >> digit.index() & 1 == 0).collect());
        }
        position
    })
}

/// Any look, for singles and intersections too, in any range of open counts.
pub(super) fn looks() -> impl Strategy<Value = Look> {
    let sized = (any::<bool>(), 1u8..=8, 1u8..=9, 1u8..=9).prop_filter_map(
        "the size must fit",
        |(naked, size, a, b)| {
            let open = crate::OpenCounts::new(a.min(b), a.max(b)).ok()?;
            let size = crate::Size::within(size, open).ok()?;
            Some(if naked { Look::Naked(size) } else { Look::Hidden(size) })
        },
    );
    let everywhere = (any::<bool>(), 1u8..=8).prop_map(|(naked, size)| {
        if naked { Look::naked(size) } else { Look::hidden(size) }.unwrap()
    });
    prop_oneof![3 => sized, 6 => everywhere, 1 => Just(Look::Intersections)]
}
