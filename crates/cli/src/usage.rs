//! Wrong usage that only the whole command line shows: it exits with 2, as what clap finds itself.

use std::fmt::Display;

use clap::error::ErrorKind;

/// An error of usage.
pub(crate) fn wrong(message: impl Display) -> anyhow::Error {
    clap::Error::raw(ErrorKind::ArgumentConflict, message.to_string()).into()
}

/// Fails as wrong usage unless a condition holds.
pub(crate) fn expect(holds: bool, message: impl Display) -> anyhow::Result<()> {
    if holds { Ok(()) } else { Err(wrong(message)) }
}
