//! What the tests share: the built command.
#![forbid(unsafe_code)]

pub mod command;
pub mod simulated;
