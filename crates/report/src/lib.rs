//! Charts of censuses and trials, specimens, and studies: recipes turned into reports.
#![forbid(unsafe_code)]

mod chart_kind;
pub mod charts;
pub mod numbers;
mod overview;
pub mod specimen;
pub mod study;

pub use chart_kind::ChartKind;
pub use overview::overview;
