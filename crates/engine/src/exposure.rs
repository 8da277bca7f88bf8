use tallyhouse_board::{House, HouseKind};

/// How many houses of each kind have each open count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Exposure([[u8; 10]; HouseKind::ALL.len()]);

impl From<[[u8; 10]; HouseKind::ALL.len()]> for Exposure {
    /// Takes rows, columns and boxes, each by open count.
    fn from(by_kind: [[u8; 10]; HouseKind::ALL.len()]) -> Self {
        Self(by_kind)
    }
}

impl Exposure {
    /// Counts a house with so many open cells.
    #[inline(always)]
    pub(crate) fn add(&mut self, house: House, open: usize) {
        self.0[house.kind() as usize][open] += 1;
    }

    /// Returns the houses of a kind by open count.
    #[must_use]
    pub const fn of_kind(&self, kind: HouseKind) -> &[u8; 10] {
        &self.0[kind as usize]
    }

    /// Returns the houses of all kinds by open count.
    #[must_use]
    pub fn all(&self) -> [u8; 10] {
        std::array::from_fn(|open| self.of_open(open))
    }

    /// Returns the houses of all kinds that have so many open cells.
    ///
    /// # Panics
    /// If the number is above 9.
    #[must_use]
    #[inline]
    pub const fn of_open(&self, open: usize) -> u8 {
        let [rows, columns, boxes] = &self.0;
        rows[open] + columns[open] + boxes[open]
    }
}
