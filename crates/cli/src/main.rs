//! The `tallyhouse` command.
#![forbid(unsafe_code)]

mod arguments;
mod card;
mod census;
mod chart;
mod cluster;
mod collect;
mod compare;
mod coverage;
mod describe;
mod explain;
mod inspect;
mod judge;
mod make;
mod manual;
mod messages;
mod one_puzzle;
mod options;
mod order;
mod progress;
mod rates;
mod results;
mod specimen;
mod study;
mod timings;
mod usage;
mod verify;
mod worksheet;
mod yields;

use std::io;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use crate::arguments::Arguments;

/// Exit codes: 0 fine, 1 failed, 2 usage.
fn main() -> ExitCode {
    let matches = Arguments::command().get_matches();
    let arguments = Arguments::from_arg_matches(&matches).unwrap_or_else(|error| error.exit());
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => match error.downcast::<clap::Error>() {
            Ok(wrong) => exit(wrong, matches.subcommand_name()),
            Err(error) => {
                messages::error(&named(error));
                ExitCode::FAILURE
            }
        },
    }
}

fn run(arguments: &Arguments) -> anyhow::Result<()> {
    if let Some(threads) = arguments.common.threads {
        rayon::ThreadPoolBuilder::new().num_threads(threads.into()).build_global()?;
    }
    arguments.command.run(arguments.common.quiet)
}

/// Whoever reads our output may stop reading; that is no failure of ours.
fn is_broken_pipe(error: &anyhow::Error) -> bool {
    let is_pipe = |error: &io::Error| error.kind() == io::ErrorKind::BrokenPipe;
    error.downcast_ref::<io::Error>().is_some_and(is_pipe)
}

/// Says that it was standard output that takes nothing: whatever else can't be written or read is named
/// where that happens.
fn named(error: anyhow::Error) -> anyhow::Error {
    if error.is::<io::Error>() && error.chain().count() == 1 {
        error.context("cannot write standard output")
    } else {
        error
    }
}

/// Tells an error with the usage of its command and ends the program.
fn exit(error: clap::Error, subcommand: Option<&str>) -> ! {
    let mut all = Arguments::command();
    all.build();
    let command = subcommand.and_then(|name| all.find_subcommand_mut(name));
    match command {
        Some(command) => error.format(command).exit(),
        None => error.exit(),
    }
}
