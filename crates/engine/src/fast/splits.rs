//! All subsets of one quiet position, from candidate masks.

use tallyhouse_board::{House, PlaceSet};

use super::lanes::{HouseMasks, Instructions};
use crate::tight::{OpenCells, Tight};
use crate::{Exposure, Subset};

/// Finds every subset of a quiet position; houses in order, then rising masks of cells. Every open
/// cell has a candidate.
///
/// In a quiet position both sides of a subset have at least two cells, so houses with fewer than four
/// open cells have none. Returns how many houses have each open count, or `None` if a house can't be
/// filled.
#[inline(always)]
pub(super) fn find_subsets<I: Instructions>(
    houses: &HouseMasks,
    room: &mut Vec<Tight>,
    subsets: &mut Vec<Subset>,
) -> Option<Exposure> {
    let mut exposure = Exposure::default();
    let (mut candidates, mut tight) = ([0; 16], [0; 16]);
    subsets.clear();
    for (house, of_house) in House::all().zip(houses) {
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
            && !list_subsets(house, &candidates[..open], open_places, &tight, room, subsets)
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

/// Lists the subsets of a house that has tight sets; returns false if it can't be filled. `room` is
/// room to work in.
#[inline(always)]
pub(super) fn list_subsets(
    house: House,
    candidates: &[u16],
    open_places: u16,
    tight: &[u32; 16],
    room: &mut Vec<Tight>,
    subsets: &mut Vec<Subset>,
) -> bool {
    let open = candidates.len();
    let full = (1u16 << open) - 1;
    room.clear();
    for (word, &bits) in tight[..1 << open.saturating_sub(5)].iter().enumerate() {
        let mut bits = bits;
        while bits != 0 {
            let set = (word * 32) as u16 + bits.trailing_zeros() as u16;
            bits &= bits - 1;
            if set != 0 && set != full {
                room.push(Tight::new(set, candidates));
            }
        }
    }
    let places = PlaceSet::from_bits_truncate(open_places);
    let cells = OpenCells::new(places, room);
    // `extend` would be a call.
    for subset in cells.subsets(house) {
        subsets.push(subset);
    }
    !cells.are_crowded()
}
