//! Reports.
#![forbid(unsafe_code)]

pub mod specimen;
