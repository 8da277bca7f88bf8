use std::fmt;
use std::str::FromStr;

use crate::{Cell, CellSet};

/// The three kinds of house.
#[derive(
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Debug,
    strum::Display,
    strum::EnumMessage,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
)]
#[strum(serialize_all = "kebab-case")]
pub enum HouseKind {
    /// One of nine rows.
    Row,
    /// One of nine columns.
    Column,
    /// One of nine boxes of three by three cells.
    Box,
}

impl HouseKind {
    /// All kinds, in the order in which houses are numbered.
    pub const ALL: [Self; 3] = [Self::Row, Self::Column, Self::Box];

    /// Returns the lower-case word.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }
}

/// One of the 27 houses: rows 1 to 9, columns 1 to 9, boxes 1 to 9.
///
/// ```
/// use tallyhouse_board::{Cell, House, HouseKind};
///
/// let house: House = "box 6".parse()?;
/// assert_eq!((house.kind(), house.number()), (HouseKind::Box, 6));
/// assert_eq!(house.cells()[4], Cell::at(4, 7));
/// assert_eq!(Cell::at(4, 7).houses(), [House::row(4), House::column(7), house]);
/// # Ok::<(), tallyhouse_board::ParseHouseError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct House(u8);

impl House {
    /// How many houses a board has.
    pub const COUNT: usize = 27;

    /// Returns the house with this index (rows, then columns, then boxes), or `None` past the end.
    #[must_use]
    pub const fn new(index: usize) -> Option<Self> {
        if index < Self::COUNT { Some(Self(index as u8)) } else { None }
    }

    /// Returns a row, 0 to 8.
    #[must_use]
    pub const fn row(row: usize) -> Self {
        assert!(row < 9);
        Self(row as u8)
    }

    /// Returns a column, 0 to 8.
    #[must_use]
    pub const fn column(column: usize) -> Self {
        assert!(column < 9);
        Self(9 + column as u8)
    }

    /// Returns a box, 0 to 8, counted row by row.
    #[must_use]
    pub const fn box_(index: usize) -> Self {
        assert!(index < 9);
        Self(18 + index as u8)
    }

    /// Iterates over all houses: rows, columns, boxes.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator + Clone {
        (0..27u8).map(Self)
    }

    /// Returns the index, 0 to 26.
    #[must_use]
    #[inline]
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// Returns what kind of house it is.
    #[must_use]
    pub const fn kind(self) -> HouseKind {
        HouseKind::ALL[self.0 as usize / 9]
    }

    /// Returns the number within its kind, 1 to 9, as people say it.
    #[must_use]
    pub const fn number(self) -> u8 {
        self.0 % 9 + 1
    }

    /// Returns the nine cells in the order of their places: rows from the left, columns from the
    /// top, boxes row by row.
    #[must_use]
    #[inline]
    pub const fn cells(self) -> &'static [Cell; 9] {
        &CELLS[self.0 as usize]
    }

    /// Returns the nine cells as a set.
    #[must_use]
    #[inline]
    pub const fn cell_set(self) -> CellSet {
        CELL_SETS[self.0 as usize]
    }
}

impl Cell {
    /// Returns the three houses of the cell: its row, column and box.
    #[must_use]
    pub const fn houses(self) -> [House; 3] {
        [House::row(self.row()), House::column(self.column()), House::box_(self.box_index())]
    }

    /// Returns the 20 other cells that share a house with this one.
    #[must_use]
    #[inline]
    pub const fn peers(self) -> CellSet {
        PEERS[self.index()]
    }
}

static CELLS: [[Cell; 9]; House::COUNT] = {
    let mut table = [[Cell::at(0, 0); 9]; House::COUNT];
    let mut house = 0;
    while house < House::COUNT {
        let (kind, number) = (house / 9, house % 9);
        let mut place = 0;
        while place < 9 {
            table[house][place] = match kind {
                0 => Cell::at(number, place),
                1 => Cell::at(place, number),
                _ => Cell::at(number / 3 * 3 + place / 3, number % 3 * 3 + place % 3),
            };
            place += 1;
        }
        house += 1;
    }
    table
};

static CELL_SETS: [CellSet; House::COUNT] = {
    let mut table = [CellSet::EMPTY; House::COUNT];
    let mut house = 0;
    while house < House::COUNT {
        let mut place = 0;
        while place < 9 {
            table[house] = table[house].with(CELLS[house][place]);
            place += 1;
        }
        house += 1;
    }
    table
};

const fn peers_of(cell: Cell) -> CellSet {
    let mut bits = 0u128;
    let mut other = 0;
    while other < Cell::COUNT {
        let o = Cell::at(other / 9, other % 9);
        let shares = o.row() == cell.row()
            || o.column() == cell.column()
            || o.box_index() == cell.box_index();
        if shares && other != cell.index() {
            bits |= 1 << other;
        }
        other += 1;
    }
    CellSet::from_bits_truncate(bits)
}

static PEERS: [CellSet; Cell::COUNT] = {
    let mut table = [CellSet::EMPTY; Cell::COUNT];
    let mut index = 0;
    while index < Cell::COUNT {
        table[index] = peers_of(Cell::at(index / 9, index % 9));
        index += 1;
    }
    table
};

impl fmt::Display for House {
    /// Writes the kind and number, as in `column 4`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} {}", self.kind(), self.number()))
    }
}

/// A text that is not a house.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{}' is not a house: expected one as in 'row 4', 'column 1' or 'box 9'", text.escape_debug())]
pub struct ParseHouseError {
    /// What was found.
    pub text: String,
}

impl FromStr for House {
    type Err = ParseHouseError;

    /// Reads what [`House`] prints, or the same with a hyphen as in names of files.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let house = Self::all().find(|house| house.to_string() == text.replace('-', " "));
        house.ok_or_else(|| ParseHouseError { text: text.to_owned() })
    }
}

impl fmt::Debug for House {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_covers_the_board_once() {
        for kind in HouseKind::ALL {
            let houses = || House::all().filter(|house| house.kind() == kind);
            assert_eq!(houses().count(), 9);
            let union = houses().fold(CellSet::EMPTY, |set, house| set | house.cell_set());
            assert_eq!(union, CellSet::FULL);
        }
    }

    #[test]
    fn boxes_meet_lines_in_54_places() {
        // 54 box–line intersections of three cells: common practice, no source.
        let meets = House::all()
            .flat_map(|a| House::all().map(move |b| (a, b)))
            .filter(|(a, b)| a.kind() != HouseKind::Box && b.kind() == HouseKind::Box)
            .filter(|(a, b)| (a.cell_set() & b.cell_set()).len() == 3)
            .count();
        assert_eq!(meets, 54);
    }

    #[test]
    fn names_read_as_people_say_them() {
        assert_eq!(House::row(0).to_string(), "row 1");
        assert_eq!(House::column(8).to_string(), "column 9");
        assert_eq!(House::box_(5).to_string(), "box 6");
        for house in House::all() {
            assert_eq!(house.to_string().parse(), Ok(house));
        }
        for wrong in ["row", "row 0", "row 10", "row  1", "Row 1", "block 3", ""] {
            assert!(wrong.parse::<House>().is_err(), "{wrong}");
        }
        assert_eq!(House::box_(5).cells()[4], Cell::at(4, 7));
    }
}
