//! What the engine's tests share: a brute-force reference, random positions, plain data, and lists of
//! solutions.
//!
//! [`brute_force`] knows nothing of the engine; [`plain`] turns the engine's values into the
//! reference's, so that the two can be compared field by field.
#![forbid(unsafe_code)]

pub mod brute_force;
pub mod plain;
pub mod positions;
pub mod solutions;
