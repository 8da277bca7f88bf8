//! Every naked split is a hidden split seen from the other side, with the same eliminations.
//!
//! The hidden search here goes over digits and their places and knows nothing of the unions of
//! candidates that define a naked side. In a house of n open cells and n missing digits, naked k and
//! hidden n−k must be complements, one to one (elementary; the two sides of a Hall set, P. Hall,
//! J. London Math. Soc. 10, 1935, 26–30).

use std::collections::{BTreeMap, BTreeSet};

use tallyhouse_board::{Digit, House};
use tallyhouse_engine::{HouseSplits, Look, Position};
use tallyhouse_oracles::positions;

/// Digits that share as many places as they are.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Hidden {
    digits: BTreeSet<u8>,
    places: BTreeSet<usize>,
    /// Other candidates in these places.
    removed: BTreeSet<(usize, u8)>,
}

/// Gathers the places of each missing digit of a house.
fn gather(position: &Position, house: House) -> BTreeMap<u8, BTreeSet<usize>> {
    let mut gathered: BTreeMap<u8, BTreeSet<usize>> = BTreeMap::new();
    for (place, &cell) in house.cells().iter().enumerate() {
        for digit in position.candidates(cell).iter() {
            gathered.entry(digit.value()).or_default().insert(place);
        }
    }
    gathered
}

/// Searches digit by digit for every hidden split; `None` if digits are more than their places.
fn hidden_splits(gathered: &BTreeMap<u8, BTreeSet<usize>>) -> Option<BTreeSet<Hidden>> {
    fn extend(
        gathered: &BTreeMap<u8, BTreeSet<usize>>,
        chosen: &BTreeSet<u8>,
        found: &mut BTreeSet<Hidden>,
    ) -> Option<()> {
        let last = chosen.last().copied().unwrap_or(0);
        for &digit in gathered.keys().filter(|&&digit| digit > last) {
            let mut digits = chosen.clone();
            digits.insert(digit);
            let places: BTreeSet<usize> =
                digits.iter().flat_map(|digit| &gathered[digit]).copied().collect();
            if places.len() < digits.len() {
                return None;
            }
            if places.len() == digits.len() && digits.len() < gathered.len() {
                let removed = gathered
                    .iter()
                    .filter(|(other, _)| !digits.contains(other))
                    .flat_map(|(&other, at)| at.intersection(&places).map(move |&p| (p, other)))
                    .collect();
                found.insert(Hidden { digits: digits.clone(), places, removed });
            }
            extend(gathered, &digits, found)?;
        }
        Some(())
    }
    let mut found = BTreeSet::new();
    extend(gathered, &BTreeSet::new(), &mut found)?;
    Some(found)
}

/// Turns the engine's naked splits over.
fn turned_over(position: &Position, house: House, splits: &HouseSplits) -> BTreeSet<Hidden> {
    let missing: BTreeSet<u8> = position.missing(house).iter().map(Digit::value).collect();
    let turn = |cells: BTreeSet<usize>, digits: BTreeSet<u8>| {
        let open: BTreeSet<usize> = position.open_places(house).iter().collect();
        let places = &open - &cells;
        let removed = places
            .iter()
            .flat_map(|&p| {
                position.candidates(house.cells()[p]).iter().map(move |d| (p, d.value()))
            })
            .filter(|(_, digit)| digits.contains(digit))
            .collect();
        Hidden { digits: &missing - &digits, places, removed }
    };
    splits
        .tight_sets
        .iter()
        .map(|set| turn(set.cells.iter().collect(), set.digits.iter().map(Digit::value).collect()))
        .collect()
}

#[test]
fn naked_and_hidden_splits_are_complements() {
    let (mut by_shape, mut productive) = (BTreeMap::new(), 0);
    for seed in 0..6_000 {
        let position = positions::position(&mut positions::rng(4_000_000 + seed));
        for house in House::all() {
            let gathered = gather(&position, house);
            let open = position.open_places(house).len();
            // All positions have a solution, so each missing digit has a place.
            assert_eq!(gathered.len(), open);
            let splits = HouseSplits::of_house(&position, house).unwrap();
            let hidden = hidden_splits(&gathered).unwrap();
            let turned = turned_over(&position, house, &splits);
            // Equal sets: each naked side has its hidden side, and the other way round.
            assert_eq!(turned, hidden, "{house} of {position:?}");
            assert_eq!(splits.tight_sets.len(), hidden.len(), "{house} of {position:?}");
            for set in &splits.tight_sets {
                let places: BTreeSet<usize> = position
                    .open_places(house)
                    .iter()
                    .filter(|&p| !set.cells.contains(p))
                    .collect();
                let other = hidden.iter().find(|hidden| hidden.places == places).unwrap();
                assert_eq!(other.digits.len(), open - set.cells.len());
                assert_eq!(other.removed.len(), usize::from(set.eliminations));
                let inside = |a: &Hidden, b: &Hidden| a != b && a.digits.is_subset(&b.digits);
                let smallest = !hidden.iter().any(|smaller| inside(smaller, other));
                let largest = !hidden.iter().any(|larger| inside(other, larger));
                assert_eq!((set.hidden_proper, set.naked_proper), (smallest, largest));
                productive += usize::from(set.is_productive());
                *by_shape.entry((open, set.cells.len())).or_insert(0usize) += 1;
            }
        }
    }
    println!("{productive} productive splits; all by (open, naked): {by_shape:?}");
    for open in 2..=8 {
        for naked in 1..open {
            assert!(by_shape.contains_key(&(open, naked)), "no naked {naked} in {open} was tried");
        }
    }
    assert!(productive > 50_000);
}

/// A hidden look of size h finds exactly the productive hidden splits of h digits that hold no
/// smaller one, a naked look of size k those whose other side lies in no larger hidden split.
#[test]
fn looks_find_the_innermost_splits() {
    let mut found = 0;
    for seed in 0..2_000 {
        let position = positions::position(&mut positions::rng(5_000_000 + seed));
        for house in House::all() {
            let hidden = hidden_splits(&gather(&position, house)).unwrap();
            let open = position.open_places(house).len();
            let splits = HouseSplits::of_house(&position, house).unwrap();
            for size in 1..=8 {
                let by = |look: Look| -> BTreeSet<BTreeSet<usize>> {
                    let found = splits.subsets(house).filter(|subset| look.finds(subset));
                    found.map(|subset| (splits.open - subset.cells).iter().collect()).collect()
                };
                let within = |a: &Hidden, b: &Hidden| a != b && a.digits.is_subset(&b.digits);
                let places = |hidden: &Hidden| hidden.places.clone();
                let innermost: BTreeSet<_> = hidden
                    .iter()
                    .filter(|h| h.digits.len() == usize::from(size) && !h.removed.is_empty())
                    .filter(|h| !hidden.iter().any(|smaller| within(smaller, h)))
                    .map(places)
                    .collect();
                let outermost: BTreeSet<_> = hidden
                    .iter()
                    .filter(|h| open - h.digits.len() == usize::from(size) && !h.removed.is_empty())
                    .filter(|h| !hidden.iter().any(|larger| within(h, larger)))
                    .map(places)
                    .collect();
                found += innermost.len() + outermost.len();
                assert_eq!(by(Look::hidden(size).unwrap()), innermost, "hidden {size}, {house}");
                assert_eq!(by(Look::naked(size).unwrap()), outermost, "naked {size}, {house}");
            }
        }
    }
    assert!(found > 10_000);
}
