//! Reports.
#![forbid(unsafe_code)]
