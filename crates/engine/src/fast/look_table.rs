//! What an order of looks finds, by shape.

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

    /// Marks the subsets that the look with this index finds as applied.
    #[inline(always)]
    pub(super) fn mark(&self, index: usize, subsets: &mut [Subset]) {
        let look = self.looks[index];
        for subset in subsets {
            subset.applied = look.finds(subset);
        }
    }
}
