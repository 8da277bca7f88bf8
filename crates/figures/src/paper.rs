//! The paper that pages are printed on.

use serde::{Deserialize, Serialize};

tallyhouse_words::choice! {
    /// The paper that pages are printed on.
    #[derive(Default, Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Paper {
        /// 210 × 297 mm.
        #[default]
        A4,
        /// 8.5 × 11 inches.
        Letter,
    }
}

impl Paper {
    /// Returns the width and the height in millimetres (ISO 216 for A4; ANSI/ASME Y14.1, size A, for
    /// letter).
    #[must_use]
    pub const fn millimetres(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}
