//! Intervals and tests.
#![forbid(unsafe_code)]
