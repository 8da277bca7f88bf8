//! Rulebooks, claims and effort.
#![forbid(unsafe_code)]
