//! Box–line intersections: a digit confined to the meeting of a box and a line in one of the two
//! houses leaves the rest of the other.

use tallyhouse_board::{Cell, CellSet, Digit, House, HouseKind};

use crate::Position;

/// A digit whose places in one house all lie in another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Intersection {
    /// The digit.
    pub digit: Digit,
    /// The house in which the digit is confined to the meeting.
    pub confined: House,
    /// The house that loses the digit elsewhere.
    pub cleared: House,
    /// The cells that lose the digit; at least one.
    pub eliminations: CellSet,
}

/// Returns the productive intersections in which the digit is confined in this house.
pub fn intersections(
    position: &Position,
    confined: House,
) -> impl Iterator<Item = Intersection> + '_ {
    House::all()
        .filter(move |other| {
            (other.kind() == HouseKind::Box) != (confined.kind() == HouseKind::Box)
                && !(other.cell_set() & confined.cell_set()).is_empty()
        })
        .flat_map(move |cleared| {
            Digit::all().filter_map(move |digit| {
                let holds = |cells: CellSet| -> CellSet {
                    let holds = |cell: &Cell| position.candidates(*cell).contains(digit);
                    cells.iter().filter(holds).collect()
                };
                let places = holds(confined.cell_set());
                if places.is_empty() || !(places - cleared.cell_set()).is_empty() {
                    return None;
                }
                let eliminations = holds(cleared.cell_set() - confined.cell_set());
                (!eliminations.is_empty()).then_some(Intersection {
                    digit,
                    confined,
                    cleared,
                    eliminations,
                })
            })
        })
}
