//! Box–line intersections of all digits at once, on planes of open cells.
//!
//! Where a band and one of its rows of three boxes meet lie nine thirds of rows; a digit's places
//! there make a 3×3 table of bits, rows by boxes. A bit that is alone in its row of the table is a
//! digit of a row confined to a box, one alone in its column a digit of a box confined to a row: it
//! clears the other bits of its column or row. Stacks are the same, with columns in place of rows.

use tallyhouse_board::{Cell, House, HouseKind};

/// Bits of a 3×3 table that stay when the intersections of the table are applied, all from the same
/// position. Bit 3·i + j is row i, column j.
static STAYING: [u16; 512] = {
    let mut table = [0; 512];
    let mut set: usize = 0;
    while set < 512 {
        let mut cleared = 0;
        let mut line = 0;
        while line < 3 {
            let (row, column) = (7 << (3 * line), 0b001_001_001 << line);
            let (in_row, in_column) = (set & row, set & column);
            if in_row.count_ones() == 1 {
                let of_bit = 0b001_001_001 << (in_row.trailing_zeros() % 3);
                cleared |= of_bit & !row;
            }
            if in_column.count_ones() == 1 {
                let of_bit = 7 << (in_column.trailing_zeros() / 3 * 3);
                cleared |= of_bit & !column;
            }
            line += 1;
        }
        table[set] = (set & !cleared) as u16;
        set += 1;
    }
    table
};

/// Repeats each of nine bits three times, side by side.
static THIRDS: [u32; 512] = {
    let mut table = [0; 512];
    let mut set = 0;
    while set < 512 {
        let mut bit = 0;
        while bit < 9 {
            table[set] |= ((set as u32 >> bit & 1) * 7) << (3 * bit);
            bit += 1;
        }
        set += 1;
    }
    table
};

/// Removes what all intersections of a position remove. `planes` holds the candidates of open cells
/// by digit and band. Returns true if that was anything.
pub(super) fn apply_intersections(planes: &mut [[u32; 3]; 9]) -> bool {
    let mut changed = 0;
    for plane in planes {
        let kept = without_cleared(*plane);
        for (band, kept) in plane.iter_mut().zip(kept) {
            changed |= *band & !kept;
            *band &= kept;
        }
    }
    changed != 0
}

/// Where a house in which a digit is confined meets another.
pub(super) struct Meeting {
    /// The house that loses the digit elsewhere.
    pub(super) cleared: House,
    /// The common cells by their places in the house.
    here: u16,
    /// The common cells by their places in the other.
    there: u16,
}

impl Meeting {
    /// Returns the places of the cleared house that lose a digit, from its places in both houses.
    #[inline(always)]
    pub(super) const fn clears(&self, confined: u16, cleared: u16) -> u16 {
        if confined != 0 && confined & !self.here == 0 { cleared & !self.there } else { 0 }
    }
}

/// Returns where a house meets others in three cells, in the order of the others.
pub(super) fn meetings(house: House) -> impl Iterator<Item = Meeting> {
    const ROW: u16 = 0b111;
    const COLUMN: u16 = 0b001_001_001;
    let number = usize::from(house.number()) - 1;
    let (third, within) = (number / 3 * 3, number % 3);
    let count = if house.kind() == HouseKind::Box { 6 } else { 3 };
    (0..count).map(move |index| {
        let line = index % 3;
        let (cleared, here, there) = match house.kind() {
            HouseKind::Row => (House::box_(third + line), ROW << (3 * line), ROW << (3 * within)),
            HouseKind::Column => {
                (House::box_(line * 3 + number / 3), ROW << (3 * line), COLUMN << within)
            }
            HouseKind::Box if index < 3 => {
                (House::row(third + line), ROW << (3 * line), ROW << (3 * within))
            }
            HouseKind::Box => (House::column(within * 3 + line), COLUMN << line, ROW << third),
        };
        Meeting { cleared, here, there }
    })
}

/// Removes what the first intersection removes that a person finds in houses as listed.
pub(super) fn first_intersection(planes: &[[u32; 3]; 9], houses: &[House]) -> [[u32; 3]; 9] {
    let mut planes = *planes;
    for &confined in houses {
        for meeting in meetings(confined) {
            for plane in &mut planes {
                let in_other = places(plane, meeting.cleared);
                let cleared = meeting.clears(places(plane, confined), in_other);
                if cleared != 0 {
                    for (place, cell) in meeting.cleared.cells().iter().enumerate() {
                        let cell = cell.index();
                        plane[cell / 27] &= !(u32::from(cleared >> place & 1) << (cell % 27));
                    }
                    return planes;
                }
            }
        }
    }
    planes
}

/// Returns the places of a digit in a house.
fn places(plane: &[u32; 3], house: House) -> u16 {
    let place = |(place, cell): (usize, &Cell)| {
        (plane[cell.index() / 27] >> (cell.index() % 27) & 1) << place
    };
    house.cells().iter().enumerate().map(place).sum::<u32>() as u16
}

/// Returns the cells that keep a digit with these places.
#[inline(always)]
fn without_cleared(plane: [u32; 3]) -> [u32; 3] {
    let in_bands = plane.map(|band| THIRDS[usize::from(STAYING[thirds_of_rows(band)])]);
    let [a, b, c] = plane.map(|band| (band | band >> 9 | band >> 18) & 0x1ff);
    let mut in_stacks = [0; 3];
    for shift in [0, 3, 6] {
        let stack = (a >> shift & 7) | (b >> shift & 7) << 3 | (c >> shift & 7) << 6;
        let kept = u32::from(STAYING[stack as usize]);
        for (band, columns) in in_stacks.iter_mut().enumerate() {
            *columns |= (kept >> (3 * band) & 7) << shift;
        }
    }
    [0, 1, 2].map(|band| in_bands[band] & (in_stacks[band] * (1 | 1 << 9 | 1 << 18)))
}

/// Folds each third of a row into one bit: bit 3·row + box.
#[inline(always)]
fn thirds_of_rows(band: u32) -> usize {
    let some = (band | band >> 1 | band >> 2) & 0o111_111_111;
    // Bits 0, 3 and 6 of each row side by side.
    let row = |shift: u32| {
        let row = some >> shift & 0b001_001_001;
        (row | row >> 2 | row >> 4) & 7
    };
    (row(0) | row(9) << 3 | row(18) << 6) as usize
}
