//! How a document is laid out: how much of it, on what paper.

use serde::{Deserialize, Serialize};
use tallyhouse_figures::Paper;

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

/// Returns the rule of the style that prints on a paper. 170 mm are left between the margins, the width
/// that figures are made for.
pub(crate) const fn page_rule(paper: Paper) -> &'static str {
    match paper {
        Paper::A4 => "@page { size: A4; margin: 16mm 20mm; }\n",
        Paper::Letter => "@page { size: letter; margin: 11mm 22.95mm; }\n",
    }
}
