//! Charts of censuses and trials, specimens, and studies: recipes turned into reports.
#![forbid(unsafe_code)]

mod chart_kind;
pub mod charts;
pub mod numbers;
mod overview;
pub mod saving;
pub mod specimen;
pub mod study;

pub use chart_kind::{Chart, ChartKind, Draw, Drawn};
pub use overview::overview;
