//! Wrong usage that only the whole command line shows: it exits with 2, as what clap finds itself.

use std::fmt::Display;

use clap::CommandFactory;
use clap::error::ErrorKind;

use crate::arguments::Arguments;

/// An error of usage.
pub(crate) fn wrong(message: impl Display) -> anyhow::Error {
    clap::Error::raw(ErrorKind::ArgumentConflict, message.to_string()).into()
}

/// Fails as wrong usage unless a condition holds.
pub(crate) fn expect(holds: bool, message: impl Display) -> anyhow::Result<()> {
    if holds { Ok(()) } else { Err(wrong(message)) }
}

/// Tells an error with the usage of its command and ends the program.
pub(crate) fn exit(error: clap::Error, subcommand: Option<&str>) -> ! {
    let mut all = Arguments::command();
    all.build();
    let command = subcommand.and_then(|name| all.find_subcommand_mut(name));
    match command {
        Some(command) => error.format(command).exit(),
        None => error.exit(),
    }
}
