//! All subsets of one quiet position, from candidate masks.

use tallyhouse_board::{House, PlaceSet};

use super::lanes::{CellMasks, Instructions};
use crate::tight::OpenCells;
use crate::{Exposure, Subset};

/// Where the masks of a house's nine cells stand in [`CellMasks`].
static PLACES: [[u8; 9]; House::COUNT] = {
    let mut table = [[0; 9]; House::COUNT];
    let mut index = 0;
    while index < House::COUNT {
        let (kind, number) = (index / 9, index % 9);
        let mut place = 0;
        while place < 9 {
            let (row, column) = match kind {
                0 => (number, place),
                1 => (place, number),
                _ => (number / 3 * 3 + place / 3, number % 3 * 3 + place % 3),
            };
            table[index][place] = (row / 3 * 32 + row % 3 * 9 + column) as u8;
            place += 1;
        }
        index += 1;
    }
    table
};

/// Finds every subset of a quiet position; houses in order, then rising masks of cells. Every open
/// cell has a candidate.
///
/// In a quiet position both sides of a subset have at least two cells, so houses with fewer than four
/// open cells have none. Returns how many houses have each open count, or `None` if a house can't be
/// filled.
#[inline(always)]
pub(super) fn find_subsets<I: Instructions>(
    masks: &CellMasks,
    subsets: &mut Vec<Subset>,
) -> Option<Exposure> {
    let mut exposure = Exposure::default();
    let (mut candidates, mut tight, mut sets) = ([0; 16], [0; 16], [0; 512]);
    subsets.clear();
    // All houses first: a vector can't be loaded as long as its parts are being stored.
    let mut of_houses = [[0; 16]; House::COUNT];
    for (of_house, places) in of_houses.iter_mut().zip(&PLACES) {
        for (mask, &place) in of_house.iter_mut().zip(places) {
            *mask = masks[usize::from(place)];
        }
    }
    for (house, of_house) in House::all().zip(&of_houses) {
        let open_places = I::compress(of_house, &mut candidates);
        let open = open_places.count_ones() as usize;
        exposure.add(house, open);
        if open < 4 {
            let union = candidates[0] | candidates[1] | candidates[2];
            if union.count_ones() as usize != open {
                return None;
            }
            continue;
        }
        // The empty set and the set of all open cells are always among them.
        if I::tight_sets(&candidates, open, &mut tight) > 2
            && !list_subsets(house, &candidates[..open], open_places, &tight, &mut sets, subsets)
        {
            return None;
        }
        let full = (1usize << open) - 1;
        if tight[full / 32] >> (full % 32) & 1 == 0 {
            return None;
        }
    }
    Some(exposure)
}

/// Lists the subsets of a house that has tight sets; returns false if it can't be filled. `tight` is
/// room to work in.
pub(super) fn list_subsets(
    house: House,
    candidates: &[u16],
    open_places: u16,
    tight_bits: &[u32; 16],
    tight: &mut [u16; 512],
    subsets: &mut Vec<Subset>,
) -> bool {
    let open = candidates.len();
    let full = (1u16 << open) - 1;
    let mut count = 0;
    for (word, &bits) in tight_bits[..1 << open.saturating_sub(5)].iter().enumerate() {
        let mut bits = bits;
        while bits != 0 {
            let set = (word * 32) as u16 + bits.trailing_zeros() as u16;
            tight[count] = set;
            count += usize::from(set != 0 && set != full);
            bits &= bits - 1;
        }
    }
    let places = PlaceSet::from_bits_truncate(open_places);
    let cells = OpenCells::new(places, candidates, &tight[..count]);
    subsets.extend(cells.subsets(house));
    !cells.are_crowded()
}
