//! What tests share: a brute-force reference, random positions, plain data, lists of solutions, and
//! the symmetries of the board.
//!
//! [`brute_force`] knows nothing of the engine; [`plain`] turns the engine's values into the
//! reference's, so that the two can be compared field by field.
#![forbid(unsafe_code)]

pub mod brute_force;
pub mod plain;
pub mod positions;
mod relabelling;
pub mod solutions;
mod symmetry;

pub use relabelling::Relabelling;
pub use symmetry::Symmetry;
