//! Charts and position diagrams as SVG, PNG and PDF from plain structs.
//!
//! This crate draws numbers that others have counted. Drawing gives a [`Picture`]: an SVG string with
//! its size, its title and a description for readers who can't see it; beside it stands the CSV of
//! exactly what is drawn. PNG and PDF are that SVG with the bundled font, so they look the same on every
//! machine.
//!
//! A [`Figure`] is drawn in a [`Theme`] and a [`Width`]: one SVG unit is 0.25 mm on the page, no type
//! is smaller than 7 points (9.9 units), and long texts are broken into lines measured with the
//! bundled font. Marks differ by shape, dashes or position besides colour. Charts are drawn with
//! plotters on a backend that writes these SVG elements; position diagrams need no axes and are
//! written directly.
#![forbid(unsafe_code)]

mod axis;
mod backend;
mod bands;
mod boards;
mod booklet;
mod canvas;
mod card;
mod cell_marks;
mod colour;
#[cfg(test)]
mod colour_vision;
mod diagram;
mod distribution;
mod elements;
mod error;
#[cfg(test)]
mod extremes;
mod figure;
mod font;
mod frontier;
mod heat_map;
mod house_strip;
#[cfg(test)]
mod inspect;
mod intervals;
mod lettering;
mod paired;
mod paper;
mod pdf;
mod plot;
mod png;
mod resolution;
mod share_bars;
mod sheet;
mod staircase;
mod theme;
mod tree;
mod verdicts;
mod width;
mod words;

pub use axis::{Axis, Spread};
pub use bands::{BandChart, BandLine, BandPoint};
pub use boards::Boards;
pub use booklet::Booklet;
pub use card::{AnswerCard, CardRow};
pub use cell_marks::Sides;
pub use diagram::{CellContent, Diagram, Split};
pub use distribution::{DistributionChart, Reference};
pub use error::FigureError;
pub use figure::{Figure, Heading, Picture};
pub use frontier::{FrontierChart, FrontierPoint};
pub use heat_map::{HeatMap, ShapeCell};
pub use house_strip::HouseStrip;
pub use intervals::{IntervalChart, IntervalMark, IntervalRow, ReferenceLine};
pub use lettering::Lettering;
pub use paired::{PairedChart, PairedSide};
pub use paper::Paper;
pub use resolution::{Dpi, NoSuchDpi};
pub use share_bars::{PartLook, ShareBar, ShareBars, SharePart};
pub use staircase::{Square, Stair, Staircase};
pub use theme::{MOST_SERIES, Side, Theme};
pub use verdicts::{VerdictRow, VerdictTable};
pub use width::{NoSuchWidth, Width};
pub use words::Unit;
