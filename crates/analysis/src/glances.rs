use serde::Serialize;
use tallyhouse_engine::effort::Glances;

/// Sums of glances by what was examined, without weights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RawGlances {
    /// Open cells looked at.
    pub cells_seen: u64,
    /// Places looked at to gather those of a digit.
    pub places_gathered: u64,
    /// Cells or digits tried as the next of a set.
    pub tries: u64,
}

impl From<Glances> for RawGlances {
    fn from(glances: Glances) -> Self {
        let Glances { cells_seen, places_gathered, tries } = glances;
        Self { cells_seen, places_gathered, tries }
    }
}
