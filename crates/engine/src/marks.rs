//! The pencil marks of all houses, with what follows from them and stays known until a house changes.

use std::cell::OnceCell;

use tallyhouse_board::{Cell, Digit, DigitSet, House, PlaceSet};

use crate::{
    Contradiction, Crowding, Find, HouseSplits, Look, Position, Size, Subset, hidden_singles,
    intersections, naked_singles,
};

/// The pencil marks of one house, and its tight sets once they are needed.
pub(crate) struct HouseMarks {
    pub(crate) house: House,
    pub(crate) open: PlaceSet,
    /// The digits that are not fixed in the house.
    pub(crate) missing: DigitSet,
    pub(crate) candidates: [DigitSet; 9],
    splits: OnceCell<Result<HouseSplits, Crowding>>,
}

impl HouseMarks {
    pub(crate) fn new(position: &Position, house: House) -> Self {
        Self {
            house,
            open: position.open_places(house),
            missing: position.missing(house),
            candidates: house.cells().map(|cell| position.candidates(cell)),
            splits: OnceCell::new(),
        }
    }

    /// Takes the candidates of the cells of a house, none where a digit is fixed.
    pub(crate) fn of_candidates(house: House, candidates: [DigitSet; 9]) -> Self {
        let open = (0..9).filter(|&place| !candidates[place].is_empty()).collect();
        let missing = candidates.iter().fold(DigitSet::EMPTY, |union, &digits| union | digits);
        Self { house, open, missing, candidates, splits: OnceCell::new() }
    }

    /// Returns the tight sets, unless some cells are more than their candidates.
    pub(crate) fn splits(&self) -> Result<&HouseSplits, Contradiction> {
        let splits = || HouseSplits::of_cells(self.open, &self.candidates);
        self.splits.get_or_init(splits).as_ref().map_err(|&Crowding { cells, digits }| {
            Contradiction::Crowded { house: self.house, cells, digits }
        })
    }

    /// Tests if a person makes a look of this size here: the open count is in its range, and a
    /// subset leaves a cell beside it.
    pub(crate) fn has_room(&self, size: Size) -> bool {
        let open = self.open.len() as u8;
        size.covers(open) && (size.get() == 1 || size.get() < open)
    }

    /// Returns the open places that hold a digit.
    pub(crate) fn places(&self, digit: Digit) -> PlaceSet {
        self.open.iter().filter(|&place| self.candidates[place].contains(digit)).collect()
    }

    /// Returns what a person's look ends at: the first naked side in the order of cells, or the first
    /// hidden side in the order of digits. `position` is that of the marks. Nothing but singles is
    /// found in a house with more cells than candidates for them.
    pub(crate) fn find(&self, look: Look, position: &Position) -> Option<Find> {
        match look {
            Look::Naked(size) | Look::Hidden(size) if !self.has_room(size) => None,
            Look::Naked(size) if size.get() == 1 => {
                naked_singles(position, self.house, size).next().map(Find::NakedSingle)
            }
            Look::Hidden(size) if size.get() == 1 => {
                hidden_singles(position, self.house, size).next().map(Find::HiddenSingle)
            }
            Look::Naked(_) | Look::Hidden(_) => self.find_subset(look).map(Find::Subset),
            Look::Intersections => {
                intersections(position, self.house).next().map(Find::Intersection)
            }
        }
    }
}

impl HouseMarks {
    /// Returns what a person's look for subsets ends at.
    pub(crate) fn find_subset(&self, look: Look) -> Option<Subset> {
        let found = self.splits().ok()?.subsets(self.house).filter(|s| look.finds(s));
        // Of sets of one size, that with the least element comes first: the greatest mask read from
        // the other end.
        let order = |mask: u16| mask.reverse_bits();
        match look {
            Look::Hidden(_) => found.max_by_key(|s| order((self.missing - s.digits).bits())),
            _ => found.max_by_key(|s| order(s.cells.bits())),
        }
    }
}

/// The pencil marks of all houses of a position.
pub(crate) struct Marks(Vec<HouseMarks>);

impl Marks {
    pub(crate) fn new(position: &Position) -> Self {
        Self(House::all().map(|house| HouseMarks::new(position, house)).collect())
    }

    pub(crate) fn of(&self, house: House) -> &HouseMarks {
        &self.0[house.index()]
    }

    /// Iterates over the tight sets of all houses.
    pub(crate) fn splits(
        &self,
    ) -> impl Iterator<Item = Result<(House, &HouseSplits), Contradiction>> {
        self.0.iter().map(|marks| Ok((marks.house, marks.splits()?)))
    }

    /// Tests that no house has more cells than candidates for them.
    pub(crate) fn check(&self) -> Result<(), Contradiction> {
        self.splits().try_for_each(|splits| splits.map(drop))
    }

    /// Learns the houses anew that differ between two positions; returns them.
    pub(crate) fn update(&mut self, before: &Position, after: &Position) -> Vec<House> {
        let changed = Cell::all()
            .filter(|&cell| before.candidates(cell) != after.candidates(cell))
            .flat_map(Cell::houses)
            .fold(0u32, |set, house| set | 1 << house.index());
        let changed: Vec<House> =
            House::all().filter(|house| changed >> house.index() & 1 == 1).collect();
        for &house in &changed {
            self.0[house.index()] = HouseMarks::new(after, house);
        }
        changed
    }
}
