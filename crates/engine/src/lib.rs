//! Singles, subsets, intersections, walks and solving on one board.
//!
//! Everything here is a plain calculation: no files, no threads, no tables of data. The definitions
//! of tight set, subset, proper, settled block, look and walk are those of the project's glossary in
//! DEVELOPERS.md; each type repeats its own.
//!
//! [`walk()`] is the simple engine for every kind of walk; [`FastWalk`] gives the same records for the
//! common kind, many times faster, and [`Walker`] chooses between them. [`effort`] counts what a
//! person's walk costs.
#![deny(unsafe_code)]
#![deny(missing_docs)]

pub mod effort;
mod exposure;
mod fast;
mod find;
mod intersection;
mod look;
mod marks;
mod position;
mod shape;
mod single;
mod tight;
mod walk;
mod walker;

pub use exposure::Exposure;
pub use fast::{
    Answer, Asker, FastWalk, InstructionSet, MOST_GUESSES, Question, ask, ask_within,
    count_solutions, unique_solution, unique_solutions,
};
pub use find::{Find, Step};
pub use intersection::{Intersection, intersections};
pub use look::{Look, LookError, OpenCounts, Order, OrderError, Size};
pub use position::{Contradiction, Position};
pub use shape::{Shape, ShapeError};
pub use single::{Single, brings_single, hidden_singles, naked_singles};
pub use tight::{Crowding, HouseSplits, Subset, TightSet};
pub use walk::{
    AppliedLook, Course, CourseKind, Outcome, QuietPosition, Recorder, UnknownChoice, WalkEnd,
    WalkOptions, Walked, WhenStuck, next_step, walk,
};
pub use walker::Walker;
