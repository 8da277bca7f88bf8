//! All subsets of one quiet position, from candidate masks.

use tallyhouse_board::{DigitSet, House, PlaceSet};

use crate::Subset;

/// Lane i holds all ones where bit b of i is on.
const SET_BITS: [[u16; 32]; 5] = {
    let mut table = [[0; 32]; 5];
    let mut bit = 0;
    while bit < 5 {
        let mut set = 0;
        while set < 32 {
            if set >> bit & 1 == 1 {
                table[bit][set] = u16::MAX;
            }
            set += 1;
        }
        bit += 1;
    }
    table
};

const SIZES: [u16; 32] = {
    let mut table = [0; 32];
    let mut set: usize = 0;
    while set < 32 {
        table[set] = set.count_ones() as u16;
        set += 1;
    }
    table
};

/// Candidate masks of all cells, 0 for fixed ones.
pub(super) type Masks = [u16; 81];

/// Finds every subset of a quiet position; houses in order, then rising masks of cells.
///
/// In a quiet position both sides of a subset have at least two cells, so houses with fewer than four
/// open cells have none. Returns how many houses have each open count, or `None` if a house can't be
/// filled, because its open cells have more or fewer candidates between them than they are.
#[inline(always)]
pub(super) fn find_subsets(masks: &Masks, subsets: &mut Vec<Subset>) -> Option<[u8; 10]> {
    let mut exposure = [0; 10];
    subsets.clear();
    for house in House::all() {
        let cells = house.cells();
        let mut candidates = [0u16; 9];
        let mut places = [0u8; 9];
        let (mut open, mut missing) = (0usize, 0u16);
        for place in 0..9 {
            let mask = masks[cells[place].index()];
            candidates[open] = mask;
            places[open] = place as u8;
            missing |= mask;
            open += usize::from(mask != 0);
        }
        exposure[open] += 1;
        if missing.count_ones() as usize != open {
            return None;
        }
        if open < 4 {
            continue;
        }
        for closed in candidates.iter_mut().skip(open) {
            *closed = 0;
        }
        if has_tight_set(&candidates, open) {
            list_subsets(house, &candidates[..open], &places[..open], subsets);
        }
    }
    Some(exposure)
}

/// Tests if a house that can be filled has any tight set.
///
/// Counts the sets of open cells with as many candidates as cells. The empty set and the set of all
/// open cells always are such; more than these two means tight sets.
#[inline(always)]
fn has_tight_set(candidates: &[u16; 9], open: usize) -> bool {
    let mut low = [0u16; 32];
    for (bit, masks) in SET_BITS.iter().enumerate() {
        for set in 0..32 {
            low[set] |= candidates[bit] & masks[set];
        }
    }
    let mut tight = [0u16; 32];
    for high in 0..1usize << open.saturating_sub(5) {
        let mut union = 0;
        for bit in 0..4 {
            union |= candidates[5 + bit] & 0u16.wrapping_sub((high >> bit & 1) as u16);
        }
        let size = high.count_ones() as u16;
        for set in 0..32 {
            let digits = (low[set] | union).count_ones() as u16;
            tight[set] += u16::from(digits == SIZES[set] + size);
        }
    }
    // With four open cells the sets that name a fifth are none.
    let (real, named) = tight.split_at(16);
    let sum = |lanes: &[u16]| lanes.iter().sum::<u16>();
    sum(real) + if open > 4 { sum(named) } else { 0 } > 2
}

/// Lists the subsets of a house that has tight sets.
fn list_subsets(house: House, candidates: &[u16], places: &[u8], subsets: &mut Vec<Subset>) {
    let open = candidates.len();
    let full = (1usize << open) - 1;
    let mut union = [0u16; 512];
    let mut tight = [0u16; 512];
    let mut count = 0;
    for set in 1..full {
        let digits = union[set & (set - 1)] | candidates[set.trailing_zeros() as usize];
        union[set] = digits;
        tight[count] = set as u16;
        count += usize::from(digits.count_ones() == set.count_ones());
    }
    let tight = &tight[..count];
    let eliminations = |set: u16| -> u32 {
        let digits = union[usize::from(set)];
        (0..open)
            .filter(|cell| set >> cell & 1 == 0)
            .map(|cell| (candidates[cell] & digits).count_ones())
            .sum()
    };
    let holds_smaller = |set: u16| tight.iter().any(|&t| t != set && t & !set == 0);
    let settled = tight
        .iter()
        .filter(|&&set| eliminations(set) == 0 && !holds_smaller(set))
        .fold(0u16, |settled, set| settled | set);
    let live_open = open as u32 - settled.count_ones();
    for &set in tight {
        let eliminations = eliminations(set);
        if eliminations == 0 {
            continue;
        }
        let cells = (0..open)
            .filter(|cell| set >> cell & 1 == 1)
            .fold(0u16, |cells, cell| cells | 1 << places[cell]);
        subsets.push(Subset {
            house,
            open: open as u8,
            naked: set.count_ones() as u8,
            live_open: live_open as u8,
            live_naked: (set & !settled).count_ones() as u8,
            cells: PlaceSet::from_bits_truncate(cells),
            digits: DigitSet::from_bits_truncate(union[usize::from(set)]),
            eliminations: eliminations as u8,
            naked_proper: !holds_smaller(set),
            hidden_proper: !tight.iter().any(|&t| t != set && set & !t == 0),
            applied: false,
        });
    }
}
