//! The engine's tight sets against the theory of the alldifferent constraint.
//!
//! A house is an alldifferent constraint: its open cells are variables, its candidates their
//! domains, and a tight set is a Hall set (P. Hall, "On Representatives of Subsets", J. London Math.
//! Soc. 10, 1935, 26–30). Complete filtering is computed here by a maximum matching and strongly
//! connected components (J.-C. Régin, AAAI-94, 362–367; restated in Beldiceanu, Carlsson, Rampon,
//! *Global Constraint Catalogue*, §2.1.3 and §5.12) and by brute force, never from tight sets.
//!
//! What all tight sets of a house remove between them must be exactly the edges that are in no
//! matching of all its cells: for random houses, for published examples, and for every house at the
//! end of the full ladder's walk over generated puzzles, where nothing may be left to remove.
//!
//! The engine does not count the empty set and the set of all open cells as splits. The counts of
//! tight sets in the examples include them (the full one if it has as many values as cells), so the
//! tests add them back. Examples with fewer cells than nine use the first places of a house. "Value
//! from memory" marks numbers whose publication was not at hand; they are recomputed here all the
//! same.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::algo::{maximum_matching, tarjan_scc};
use petgraph::graph::{DiGraph, NodeIndex, UnGraph};
use petgraph::visit::Dfs;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Digit, DigitSet, House, PlaceSet};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{HouseSplits, Outcome, WalkOptions, walk};

type Domains = Vec<BTreeSet<u8>>;
type Edges = BTreeSet<(usize, u8)>;

/// Reads domains such as `12 2345 45`.
fn domains(text: &str) -> Domains {
    text.split_whitespace().map(|word| word.bytes().map(|byte| byte - b'0').collect()).collect()
}

/// Puts the domains into the first places of a house.
fn splits(domains: &Domains) -> Option<HouseSplits> {
    let mut candidates = [DigitSet::EMPTY; 9];
    for (place, domain) in domains.iter().enumerate() {
        candidates[place] = domain.iter().filter_map(|&value| Digit::new(value)).collect();
    }
    let open: PlaceSet = (0..domains.len()).collect();
    HouseSplits::of_cells(open, &candidates).ok()
}

/// Returns what one tight set removes.
fn removed_by(domains: &Domains, cells: &[usize], values: &BTreeSet<u8>) -> Edges {
    let outside = (0..domains.len()).filter(|cell| !cells.contains(cell));
    outside.flat_map(|cell| (&domains[cell] & values).into_iter().map(move |v| (cell, v))).collect()
}

/// Returns what all tight sets remove between them when the domains stand at these places, rising
/// or not; the other places are no open cells but hold candidates that must be ignored.
fn removed_at_places(domains: &Domains, places: &[usize]) -> Option<Edges> {
    let mut candidates = [DigitSet::FULL; 9];
    for (domain, &place) in domains.iter().zip(places) {
        candidates[place] = domain.iter().filter_map(|&value| Digit::new(value)).collect();
    }
    let open: PlaceSet = places.iter().copied().collect();
    let found = HouseSplits::of_cells(open, &candidates).ok()?;
    assert_eq!(found.open, open);
    let mut removed = Edges::new();
    for set in found.tight_sets {
        assert!(!set.cells.is_empty() && set.cells.is_subset(open) && set.cells != open);
        assert_eq!(set.cells.len(), set.digits.len());
        for (cell, &place) in places.iter().enumerate() {
            if !set.cells.contains(place) {
                let gone = candidates[place] & set.digits;
                removed.extend(gone.iter().map(|digit| (cell, digit.value())));
            }
        }
    }
    Some(removed)
}

/// Returns what all tight sets of the engine remove between them, from the same domains.
fn removed_by_engine(domains: &Domains) -> Option<Edges> {
    let mut removed = Edges::new();
    for set in splits(domains)?.tight_sets {
        let cells: Vec<usize> = set.cells.iter().collect();
        let values = set.digits.iter().map(Digit::value).collect();
        let gone = removed_by(domains, &cells, &values);
        assert_eq!(gone.len(), usize::from(set.eliminations), "{domains:?}: {set:?}");
        removed.extend(gone);
    }
    Some(removed)
}

/// Cells and values as a graph, a maximum matching, and the strongly connected components of the
/// digraph in which matched edges run from cell to value and the others from value to cell.
struct Matched {
    mate: BTreeMap<usize, u8>,
    block_of_cell: BTreeMap<usize, usize>,
    block_of_value: BTreeMap<u8, usize>,
    /// Values on an alternating path from a value that is left over.
    reached: BTreeSet<u8>,
}

impl Matched {
    /// Returns nothing if no matching covers all cells.
    fn new(domains: &Domains) -> Option<Self> {
        let values: BTreeSet<u8> = domains.iter().flatten().copied().collect();
        let mut graph = UnGraph::<(), ()>::new_undirected();
        let cell_node: Vec<NodeIndex> = domains.iter().map(|_| graph.add_node(())).collect();
        let value_node: BTreeMap<u8, NodeIndex> =
            values.iter().map(|&value| (value, graph.add_node(()))).collect();
        let edges: Vec<(usize, u8)> = domains
            .iter()
            .enumerate()
            .flat_map(|(cell, domain)| domain.iter().map(move |&value| (cell, value)))
            .collect();
        for &(cell, value) in &edges {
            graph.add_edge(cell_node[cell], value_node[&value], ());
        }
        let matching = maximum_matching(&graph);
        if matching.len() < domains.len() {
            return None;
        }
        let mut digraph = DiGraph::<(), ()>::new();
        for _ in graph.node_indices() {
            digraph.add_node(());
        }
        let mut mate = BTreeMap::new();
        for &(cell, value) in &edges {
            let (c, v) = (cell_node[cell], value_node[&value]);
            if matching.contains_edge(c, v) {
                mate.insert(cell, value);
                digraph.add_edge(c, v, ());
            } else {
                digraph.add_edge(v, c, ());
            }
        }
        let mut block = BTreeMap::new();
        for (number, nodes) in tarjan_scc(&digraph).into_iter().enumerate() {
            block.extend(nodes.into_iter().map(|node| (node, number)));
        }
        let mut reached = BTreeSet::new();
        for free in values.iter().filter(|value| !matching.contains_node(value_node[value])) {
            let mut search = Dfs::new(&digraph, value_node[free]);
            while let Some(node) = search.next(&digraph) {
                reached.extend(values.iter().filter(|value| value_node[value] == node));
            }
        }
        Some(Self {
            mate,
            block_of_cell: (0..domains.len()).map(|cell| (cell, block[&cell_node[cell]])).collect(),
            block_of_value: values.iter().map(|&v| (v, block[&value_node[&v]])).collect(),
            reached,
        })
    }

    /// Tests if some matching of all cells uses the edge (Régin's three cases).
    fn supports(&self, cell: usize, value: u8) -> bool {
        self.mate[&cell] == value
            || self.block_of_cell[&cell] == self.block_of_value[&value]
            || self.reached.contains(&value)
    }
}

/// Returns the edges that are in no matching of all cells.
fn removed_by_matching(domains: &Domains) -> Option<Edges> {
    let matched = Matched::new(domains)?;
    let all = domains.iter().enumerate().flat_map(|(c, d)| d.iter().map(move |&v| (c, v)));
    Some(all.filter(|&(cell, value)| !matched.supports(cell, value)).collect())
}

/// Lists all solutions one by one; returns their number and the edges that none uses.
fn brute_force(domains: &Domains) -> (u64, Edges) {
    fn place(domains: &Domains, chosen: &mut Vec<u8>, used: &mut Edges) -> u64 {
        if chosen.len() == domains.len() {
            used.extend(chosen.iter().copied().enumerate());
            return 1;
        }
        let mut count = 0;
        for &value in &domains[chosen.len()] {
            if !chosen.contains(&value) {
                chosen.push(value);
                count += place(domains, chosen, used);
                chosen.pop();
            }
        }
        count
    }
    let mut used = Edges::new();
    let count = place(domains, &mut Vec::new(), &mut used);
    let all = domains.iter().enumerate().flat_map(|(c, d)| d.iter().map(move |&v| (c, v)));
    (count, all.filter(|edge| !used.contains(edge)).collect())
}

/// Returns the sizes of the engine's tight sets, with the empty set and, if the cells have as many
/// values as they are, the set of all cells.
fn tight_sizes(domains: &Domains) -> Vec<usize> {
    let mut sizes = vec![0];
    sizes.extend(splits(domains).unwrap().tight_sets.iter().map(|set| set.cells.len()));
    let values: BTreeSet<u8> = domains.iter().flatten().copied().collect();
    if values.len() == domains.len() {
        sizes.push(domains.len());
    }
    sizes.sort_unstable();
    sizes
}

/// Checks one worked example: the filtered domains, the number of removed values, of solutions
/// and, where known, of tight sets with the empty and the full one.
fn check(before: &str, after: &str, removed: usize, solutions: u64, tight_sets: Option<usize>) {
    let (before, after) = (domains(before), domains(after));
    let expected: Edges = (0..before.len())
        .flat_map(|cell| (&before[cell] - &after[cell]).into_iter().map(move |v| (cell, v)))
        .collect();
    assert_eq!(expected.len(), removed, "{before:?}");
    assert_eq!(removed_by_engine(&before), Some(expected.clone()), "engine: {before:?}");
    assert_eq!(removed_by_matching(&before), Some(expected.clone()), "matching: {before:?}");
    assert_eq!(brute_force(&before), (solutions, expected), "brute force: {before:?}");
    if let Some(count) = tight_sets {
        assert_eq!(tight_sizes(&before).len(), count, "{before:?}");
    }
    // One pass suffices: nothing is left to remove.
    assert_eq!(removed_by_engine(&after), Some(Edges::new()), "{after:?}");
}

const FULL_HOUSE: &str = "12 12 2345 45 56 456 123456789 89 89";

/// *Global Constraint Catalogue*, Fig. 2.1.2: nine variables and nine values, a full house.
#[test]
fn full_house_of_the_catalogue() {
    check(FULL_HOUSE, "12 12 3 45 56 456 7 89 89", 11, 12, Some(11));
}

/// The same figure; the eleven tight sets, their other sides and what each size removes, written
/// out by hand.
#[test]
fn full_house_by_hand() {
    let house = domains(FULL_HOUSE);
    let found = splits(&house).unwrap();
    assert_eq!(tight_sizes(&house), [0, 2, 2, 3, 4, 5, 5, 6, 7, 8, 9]);

    // Cells counted from 1 as V1 to V9, digits, eliminations, naked-proper, hidden-proper.
    let expected: BTreeSet<(&str, &str, u8, bool, bool)> = BTreeSet::from([
        ("12", "12", 3, true, false),
        ("89", "89", 2, true, false),
        ("456", "456", 5, true, false),
        ("1289", "1289", 5, false, false),
        ("12456", "12456", 8, false, false),
        ("45689", "45689", 7, false, false),
        ("123456", "123456", 6, false, false),
        ("1245689", "1245689", 10, false, false),
        ("12345689", "12345689", 8, false, true),
    ]);
    let names: Vec<(String, String)> = found
        .tight_sets
        .iter()
        .map(|set| {
            let cells = set.cells.iter().map(|place| char::from(b'1' + place as u8)).collect();
            (cells, set.digits.to_string())
        })
        .collect();
    let as_told: BTreeSet<(&str, &str, u8, bool, bool)> = found
        .tight_sets
        .iter()
        .zip(&names)
        .map(|(set, (cells, digits))| {
            (&**cells, &**digits, set.eliminations, set.naked_proper, set.hidden_proper)
        })
        .collect();
    assert_eq!(as_told, expected);
    assert!(found.settled.is_empty(), "each minimal tight set still removes something");

    // The other sides: the set of eight without V7 is a hidden single 7 in V7, and the set of seven
    // is a hidden pair 3, 7 in V3 and V7. Both sides remove the same.
    let variables_of = |values: &[u8]| -> Vec<usize> {
        let holds = |&variable: &usize| values.iter().any(|v| house[variable - 1].contains(v));
        (1..=9).filter(holds).collect()
    };
    let other_side = |cells: &str| {
        let named = found.tight_sets.iter().zip(&names).find(|(_, names)| names.0 == cells);
        let set = named.unwrap().0;
        let hidden_cells: Vec<usize> = (found.open - set.cells).iter().map(|p| p + 1).collect();
        let hidden_digits: Vec<u8> = set.digits.complement().iter().map(Digit::value).collect();
        assert_eq!(variables_of(&hidden_digits), hidden_cells);
        let removed: Vec<(usize, u8)> = hidden_cells
            .iter()
            .flat_map(|&v| house[v - 1].iter().map(move |&value| (v, value)))
            .filter(|(_, value)| !hidden_digits.contains(value))
            .collect();
        assert_eq!(removed.len(), usize::from(set.eliminations));
        (hidden_cells, hidden_digits, removed)
    };
    let single = (1..=9).filter(|&value| value != 7).map(|value| (7, value)).collect::<Vec<_>>();
    assert_eq!(other_side("12345689"), (vec![7], vec![7], single));
    let pair = [(3, 2), (3, 4), (3, 5), (7, 1), (7, 2), (7, 4), (7, 5), (7, 6), (7, 8), (7, 9)];
    assert_eq!(other_side("1245689"), (vec![3, 7], vec![3, 7], pair.to_vec()));

    // The first pass by size, variables from 1.
    let by_size = |size: usize| -> BTreeSet<(usize, u8)> {
        let sets = found.tight_sets.iter().filter(|set| set.cells.len() == size);
        sets.flat_map(|set| {
            let cells: Vec<usize> = set.cells.iter().collect();
            let values = set.digits.iter().map(Digit::value).collect();
            removed_by(&house, &cells, &values)
        })
        .map(|(place, value)| (place + 1, value))
        .collect()
    };
    assert_eq!(by_size(2), BTreeSet::from([(3, 2), (7, 1), (7, 2), (7, 8), (7, 9)]));
    assert_eq!(by_size(3), BTreeSet::from([(3, 4), (3, 5), (7, 4), (7, 5), (7, 6)]));
    let small = &by_size(2) | &by_size(3);
    assert_eq!(&by_size(6) - &small, BTreeSet::from([(7, 3)]));
    // Pairs and triples alone leave 3 and 7 in V7, until 3 is placed in V3.
    assert_eq!(
        house[6].iter().filter(|&&v| !small.contains(&(7, v))).collect::<Vec<_>>(),
        [&3, &7]
    );
    assert_eq!(house[2].iter().filter(|&&v| !small.contains(&(3, v))).collect::<Vec<_>>(), [&3]);
}

/// *Global Constraint Catalogue*, Fig. 2.1.1: eight variables, nine values.
#[test]
fn more_values_than_variables() {
    let before = "12 123 34 345 45 67 678 89";
    check(before, "12 12 34 345 45 67 678 89", 1, 36, Some(3));
    assert_eq!(tight_sizes(&domains(before)), [0, 3, 5]);
    // Values that a maximum matching can leave over (coarse part of Dulmage & Mendelsohn,
    // "Coverings of bipartite graphs", Canad. J. Math. 10, 1958, 517–534).
    assert_eq!(Matched::new(&domains(before)).unwrap().reached, BTreeSet::from([6, 7, 8, 9]));
}

/// *Global Constraint Catalogue*, Fig. 5.12.4: eight variables A to H, four components.
#[test]
fn four_components() {
    let before = "12 12 2346 34 56 56 678 678";
    check(before, "12 12 34 34 56 56 78 78", 4, 16, Some(8));
    let matched = Matched::new(&domains(before)).unwrap();
    let block = |cell: usize| {
        let number = matched.block_of_cell[&cell];
        let cells = (0..8).filter(|c| matched.block_of_cell[c] == number).collect::<Vec<_>>();
        let values = (1..=8).filter(|v| matched.block_of_value[v] == number).collect::<Vec<u8>>();
        (cells, values)
    };
    assert_eq!(block(0), (vec![0, 1], vec![1, 2]));
    assert_eq!(block(2), (vec![2, 3], vec![3, 4]));
    assert_eq!(block(4), (vec![4, 5], vec![5, 6]));
    assert_eq!(block(6), (vec![6, 7], vec![7, 8]));
}

/// *Global Constraint Catalogue*, Fig. 5.12.1: six variables; its tight sets form a chain.
#[test]
fn chain_of_five() {
    let before = "234 23 123456 2345 23 123456";
    check(before, "4 23 16 5 23 16", 13, 4, Some(5));
    assert_eq!(tight_sizes(&domains(before)), [0, 2, 3, 4, 6]);
}

/// W.-J. van Hoeve, "The alldifferent Constraint: A Survey", arXiv:cs/0105015, Example 1 and Table
/// 1, after Puget: the domains as printed; result: value from memory. The same instance as
/// López-Ortiz et al. 2003 (from memory too).
#[test]
fn six_people() {
    check("3456 34 2345 234 34 123456", "6 34 5 2 34 1", 13, 2, Some(6));
}

/// Lecture slides on constraint programming, St Andrews (Gent) and NUS: pairwise difference is
/// consistent here, alldifferent removes two values.
#[test]
fn three_variables_of_the_lectures() {
    check("23 23 123", "23 23 1", 2, 2, None);
}

/// Régin, AAAI-94, running example (value from memory): a triple, then a set of four.
#[test]
fn running_example_of_regin() {
    let before = "12 23 13 24 3456 67";
    check(before, "12 23 13 4 56 67", 3, 6, Some(3));
    assert_eq!(tight_sizes(&domains(before)), [0, 3, 4]);
}

/// W.-J. van Hoeve, "A Hyper-Arc Consistency Algorithm for the Soft Alldifferent Constraint",
/// arXiv:cs/0407043; this instance: value from memory. The letters a to e are 1 to 5 here.
#[test]
fn soft_alldifferent_instance() {
    check("2345 23 1234 23", "45 23 14 23", 4, 6, None);
}

/// Triangular domains 1..i (own example).
#[test]
fn triangular_house() {
    let before = "1 12 123 1234 12345 123456 1234567 12345678 123456789";
    check(before, "1 2 3 4 5 6 7 8 9", 36, 1, Some(10));
    assert_eq!(tight_sizes(&domains(before)), (0..=9).collect::<Vec<_>>());
}

/// Own extremes: nine single cells have 2⁹ tight sets, an untouched house only the two ends. With
/// domains 1..n there are n! solutions (*Global Constraint Catalogue*, §5.12).
#[test]
fn extreme_houses() {
    assert_eq!(tight_sizes(&domains("1 2 3 4 5 6 7 8 9")).len(), 512);
    let mut factorial = 1;
    for n in 1..=9u8 {
        factorial *= u64::from(n);
        let untouched: Domains = vec![(1..=n).collect(); n.into()];
        assert_eq!(brute_force(&untouched), (factorial, Edges::new()));
        assert_eq!(tight_sizes(&untouched), [0, usize::from(n)]);
        assert_eq!(removed_by_matching(&untouched), Some(Edges::new()));
        assert_eq!(removed_by_engine(&untouched), Some(Edges::new()));
    }
    assert_eq!(factorial, 362_880);
}

/// Returns a random house; half of them square with a solution planted, the others anything.
fn random_house(seed: u64) -> Domains {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let cells = rng.random_range(2..=9usize);
    let planted = rng.random_bool(0.7);
    let square = rng.random_bool(0.5);
    let share = rng.random_range(0.05..0.8);
    let most = if square { cells } else { 9 };
    let mut values: Vec<u8> = (1..=9).collect();
    values.shuffle(&mut rng);
    (0..cells)
        .map(|cell| {
            let mut domain: BTreeSet<u8> =
                values[..most].iter().copied().filter(|_| rng.random_bool(share)).collect();
            if planted || domain.is_empty() {
                domain.insert(values[cell]);
            }
            domain
        })
        .collect()
}

/// Returns a random square house that can be filled: a hidden perfect matching of cells and values
/// and extra candidates, with the places of its cells.
fn square_house(seed: u64) -> (Domains, Vec<usize>) {
    let mut rng = ChaCha8Rng::seed_from_u64(1_000_000 + seed);
    let cells = rng.random_range(2..=9usize);
    let share = rng.random_range(0.02..0.7);
    let mut places: Vec<usize> = (0..9).collect();
    places.shuffle(&mut rng);
    let mut values: Vec<u8> = (1..=9).collect();
    values.shuffle(&mut rng);
    values.truncate(cells);
    let house = (0..cells)
        .map(|own| {
            let extra = values.iter().copied().filter(|_| rng.random_bool(share));
            extra.chain([values[own]]).collect()
        })
        .collect();
    (house, places[..cells].to_vec())
}

/// In square houses at random places the union over all tight sets is complete filtering (Régin
/// 1994), and no solution uses what it removes.
#[test]
fn square_houses_at_random_places_are_filtered_completely() {
    let (mut by_open, mut productive, mut listed) = ([0; 10], 0, 0);
    for seed in 0..20_000 {
        let (house, places) = square_house(seed);
        let expected = removed_by_matching(&house);
        assert!(expected.is_some(), "seed {seed}: a matching was planted in {house:?}");
        let by_engine = removed_at_places(&house, &places);
        assert_eq!(by_engine, expected, "seed {seed}: {house:?} at {places:?}");
        by_open[house.len()] += 1;
        productive += usize::from(by_engine.as_ref().is_some_and(|removed| !removed.is_empty()));
        if house.len() <= 6 {
            listed += 1;
            assert_eq!(Some(brute_force(&house).1), by_engine, "seed {seed}: {house:?}");
        }
    }
    println!("by open count {by_open:?}, {productive} with eliminations, {listed} listed");
    assert!(by_open[2..].iter().all(|&houses| houses > 1_000) && productive > 5_000);
}

/// The union over all tight sets of the original domains is complete filtering in one pass, and a
/// house is refused exactly if no matching covers its cells (Hall 1935; Régin 1994).
#[test]
fn random_houses_are_filtered_completely() {
    let (mut filled, mut refused, mut listed, mut surplus) = (0, 0, 0, 0);
    for seed in 0..20_000 {
        let house = random_house(seed);
        let by_engine = removed_by_engine(&house);
        assert_eq!(by_engine, removed_by_matching(&house), "seed {seed}: {house:?}");
        let Some(removed) = by_engine else {
            refused += 1;
            assert_eq!(brute_force(&house).0, 0, "seed {seed}: {house:?}");
            continue;
        };
        filled += 1;
        let values: BTreeSet<u8> = house.iter().flatten().copied().collect();
        surplus += usize::from(values.len() > house.len() && !removed.is_empty());
        if house.len() <= 6 {
            listed += 1;
            assert_eq!(brute_force(&house).1, removed, "seed {seed}: {house:?}");
        }
    }
    println!("{filled} filled, {refused} refused, {listed} listed, {surplus} with surplus values");
    assert!(filled > 10_000 && refused > 1_000 && listed > 5_000 && surplus > 500);
}

/// Tight sets are closed under union and intersection (Lovász & Plummer, *Matching Theory*, 1986,
/// from memory), counted with the empty and the full set.
#[test]
fn tight_sets_form_a_lattice() {
    let mut pairs = 0;
    for seed in 0..5_000 {
        let house = random_house(seed);
        let Some(found) = splits(&house) else { continue };
        let values: BTreeSet<u8> = house.iter().flatten().copied().collect();
        let mut sets: BTreeSet<PlaceSet> = found.tight_sets.iter().map(|set| set.cells).collect();
        for a in found.tight_sets.iter().map(|set| set.cells) {
            for b in found.tight_sets.iter().map(|set| set.cells) {
                sets.insert(PlaceSet::EMPTY);
                if values.len() == house.len() {
                    sets.insert(found.open);
                }
                assert!(sets.contains(&(a | b)) && sets.contains(&(a & b)), "{house:?}");
                pairs += 1;
            }
        }
    }
    assert!(pairs > 10_000);
}

/// In a square house the tight sets are as many as the sets of fine blocks that are closed under
/// "needs", and the solutions are the product of the blocks' own (consequence of the lattice and of
/// Dulmage & Mendelsohn 1958).
#[test]
fn tight_sets_and_solutions_follow_from_the_blocks() {
    let printed = [FULL_HOUSE, "12 12 2346 34 56 56 678 678", "234 23 123456 2345 23 123456"];
    let random = (0..6_000).map(random_house);
    let mut checked = 0;
    for house in printed.into_iter().map(domains).chain(random) {
        let values: BTreeSet<u8> = house.iter().flatten().copied().collect();
        if values.len() != house.len() {
            continue;
        }
        let Some(mut matched) = Matched::new(&house) else { continue };
        // A forced pair of cell and value lies on no cycle, yet it is one fine block.
        for (cell, value) in &matched.mate {
            matched.block_of_value.insert(*value, matched.block_of_cell[cell]);
        }
        let blocks: Vec<usize> =
            matched.block_of_cell.values().copied().collect::<BTreeSet<_>>().into_iter().collect();
        let closed = (0..1u32 << blocks.len()).filter(|set| {
            let inside = |number: usize| {
                let index = blocks.iter().position(|&block| block == number).unwrap();
                set >> index & 1 == 1
            };
            house.iter().enumerate().all(|(cell, domain)| {
                !inside(matched.block_of_cell[&cell])
                    || domain.iter().all(|value| inside(matched.block_of_value[value]))
            })
        });
        assert_eq!(tight_sizes(&house).len(), closed.count(), "{house:?}");
        if house.len() <= 7 || checked < 3 {
            let block_solutions = blocks.iter().map(|block| {
                let own: Domains = (0..house.len())
                    .filter(|cell| matched.block_of_cell[cell] == *block)
                    .map(|cell| {
                        let in_block = |v: &u8| matched.block_of_value[v] == *block;
                        house[cell].iter().copied().filter(in_block).collect()
                    })
                    .collect();
                brute_force(&own).0
            });
            assert_eq!(block_solutions.product::<u64>(), brute_force(&house).0, "{house:?}");
        }
        checked += 1;
    }
    assert!(checked > 1_000, "only {checked} square houses");
}

/// At the end of the full ladder no house has a candidate that the matching filter would remove:
/// looks of size 1 to 4 on both sides find every subset there is.
#[test]
fn nothing_is_left_at_the_end_of_the_ladder() {
    let generator = MinimalByDeletion { seed: 1994 };
    let (mut solved, mut stuck, mut houses, mut large) = (0, 0, 0, 0);
    for index in 0..600 {
        let puzzle = generator.puzzle(index);
        let walked = walk(&puzzle, &WalkOptions::default(), &mut ());
        let end = walked.position;
        if walked.end.outcome != Outcome::Stuck {
            assert_eq!(walked.end.outcome, Outcome::Solved, "puzzle {index}: {puzzle}");
            assert!(end.is_solved());
            solved += 1;
            continue;
        }
        stuck += 1;
        for house in House::all() {
            let cells = house.cells().iter().filter(|&&cell| end.fixed(cell).is_none());
            let domains: Domains = cells
                .map(|&cell| end.candidates(cell).iter().map(Digit::value).collect())
                .collect();
            let left = removed_by_matching(&domains);
            assert_eq!(left, Some(Edges::new()), "puzzle {index}: {puzzle}, {house:?}");
            houses += usize::from(!domains.is_empty());
            large += usize::from(domains.len() >= 5);
        }
    }
    println!("{solved} solved, {stuck} stuck, {houses} houses, {large} with 5 or more open cells");
    assert!(solved > 100 && stuck > 100 && houses > 2_000 && large > 1_000);
}
