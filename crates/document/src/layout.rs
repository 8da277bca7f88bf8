//! How a document is laid out: how much of it, on what paper.

use serde::{Deserialize, Serialize};
use tallyhouse_words::choice;

/// How much of a document is written.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Extent {
    /// All of it.
    #[default]
    Whole,
    /// What it says first: the leading section and the first verdicts, on one page.
    Brief {
        /// The whole document beside it, without the ending of its name: the page leads to the page,
        /// Markdown to Markdown.
        whole: String,
    },
}

choice! {
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
    /// Returns the rule of the style that prints on it. 170 mm are left between the margins, the width
    /// that figures are made for (ISO 216 for A4; ANSI/ASME Y14.1, size A, for letter: 215.9 mm wide).
    pub(crate) const fn rule(self) -> &'static str {
        match self {
            Self::A4 => "@page { size: A4; margin: 16mm 20mm; }\n",
            Self::Letter => "@page { size: letter; margin: 11mm 22.95mm; }\n",
        }
    }
}
