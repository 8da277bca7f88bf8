//! Charts of censuses and trials, specimens, worksheets, and studies: recipes turned into reports.
#![forbid(unsafe_code)]

mod cells;
mod chart_kind;
pub mod charts;
pub mod compared;
mod error;
mod few;
mod overview;
pub mod saving;
mod shapes;
pub mod specimen;
pub mod study;
pub mod worksheet;

pub use chart_kind::{Chart, ChartKind, Draw, Drawn};
pub use error::ReportError;
pub use overview::overview;
