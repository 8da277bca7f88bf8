//! What an order of looks finds, by shape.

use super::course_board::Turns;
use crate::{Look, Order, Shape, Subset};

/// Stands for no look.
const NONE: u8 = u8::MAX;
const _: () = assert!(Order::MOST < NONE as usize);

/// For each shape the first look of an order that finds it from either side.
pub(super) struct LookTable {
    looks: Vec<Look>,
    /// By open count and size of the naked side.
    naked: [[u8; 9]; 10],
    hidden: [[u8; 9]; 10],
    intersections: Option<usize>,
}

impl LookTable {
    pub(super) fn new(order: &Order) -> Self {
        let looks = order.looks().to_vec();
        let (mut naked, mut hidden) = ([[NONE; 9]; 10], [[NONE; 9]; 10]);
        for shape in Shape::all() {
            let first = |is_meant: fn(&Look) -> bool| {
                let finds = |look: &Look| is_meant(look) && look.covers(shape);
                looks.iter().position(finds).map_or(NONE, |index| index as u8)
            };
            let (open, side) = (usize::from(shape.open()), usize::from(shape.naked()));
            naked[open][side] = first(|look| matches!(look, Look::Naked(_)));
            hidden[open][side] = first(|look| matches!(look, Look::Hidden(_)));
        }
        let intersections = looks.iter().position(|look| *look == Look::Intersections);
        Self { looks, naked, hidden, intersections }
    }

    /// Returns the index of the look for intersections.
    pub(super) const fn intersections(&self) -> Option<usize> {
        self.intersections
    }

    /// Returns the index of the first look that finds one of these subsets.
    #[inline(always)]
    pub(super) fn first(&self, subsets: &[Subset]) -> Option<usize> {
        let first = subsets.iter().fold(NONE, |first, subset| first.min(self.first_for(subset)));
        (first != NONE).then_some(usize::from(first))
    }

    #[inline(always)]
    fn first_for(&self, subset: &Subset) -> u8 {
        let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
        let by =
            |table: &[[u8; 9]; 10], is_proper| if is_proper { table[open][naked] } else { NONE };
        by(&self.naked, subset.naked_proper).min(by(&self.hidden, subset.hidden_proper))
    }

    /// Marks the subsets that the look with this index finds as applied; on a course the one that a
    /// person ends at. `subsets` are all of a position.
    #[inline(always)]
    pub(super) fn mark(&self, index: usize, course: Option<&Turns>, subsets: &mut [Subset]) {
        let look = self.looks[index];
        let only = course.and_then(|turns| {
            let turn = |subset: &Subset| turns.turn_of[subset.house.index()];
            let found = || subsets.iter().filter(|subset| look.finds(subset));
            let first = found().map(turn).min()?;
            first_in_house(look, found().filter(|subset| turn(subset) == first)).copied()
        });
        for subset in subsets {
            subset.applied = match &only {
                None => look.finds(subset),
                Some(only) => subset == only,
            };
        }
    }
}

/// Returns which of the subsets that a look finds in a house a person ends at: see
/// [`crate::marks::HouseMarks::find`].
///
/// The digits of a hidden side are those of the house without the digits of the naked one, so the
/// side with the least digit is that whose naked side lacks it.
pub(super) fn first_in_house<'a>(
    look: Look,
    found: impl Iterator<Item = &'a Subset>,
) -> Option<&'a Subset> {
    match look {
        Look::Hidden(_) => found.min_by_key(|subset| subset.digits.bits().reverse_bits()),
        _ => found.max_by_key(|subset| subset.cells.bits().reverse_bits()),
    }
}
