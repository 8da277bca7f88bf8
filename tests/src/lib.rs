//! What the tests of this folder share: a deliberately simple reference for everything the engine
//! computes, random positions, board symmetries, and a way to run the built command.

pub mod brute_force;
pub mod command;
pub mod positions;
pub mod symmetry;
