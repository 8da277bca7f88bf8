//! Charts as SVG and PNG from plain structs.
//!
//! This crate draws numbers that others have counted. Every chart is text first: an SVG string with
//! a title and a description for readers who can't see it, and the CSV of exactly what is drawn. The
//! PNG is that SVG rasterised with a bundled font, so it looks the same on every machine.
#![forbid(unsafe_code)]

mod error;
mod heat_map;
mod png;
mod style;
mod svg;

pub use error::FigureError;
pub use heat_map::{HeatMap, ShapeCell};
pub use png::rasterise;
pub use style::{contrast, label_on, relative_luminance, sequential};
