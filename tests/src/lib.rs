//! What the tests share: the built command, simulated times, folders that were tampered with.
#![forbid(unsafe_code)]

pub mod command;
pub mod forged;
pub mod simulated;
