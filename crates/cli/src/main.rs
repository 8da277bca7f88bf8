//! The `tallyhouse` command.
#![forbid(unsafe_code)]

mod args;
mod census;
mod chart;
mod collect;
mod describe;
mod inspect;
mod judge;
mod make;
mod messages;
mod order;
mod progress;
mod specimen;
mod study;

use std::fs;
use std::io;
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context;
use clap::{CommandFactory, Parser};

use crate::args::{Arguments, Command};

/// Exit codes: 0 fine, 1 failed, 2 usage (clap exits with 2 by itself).
fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            if let Some(usage) = error.downcast_ref::<clap::Error>() {
                usage.exit();
            }
            messages::error(&error);
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> anyhow::Result<()> {
    if let Some(threads) = arguments.common.threads {
        rayon::ThreadPoolBuilder::new().num_threads(threads.get()).build_global()?;
    }
    let quiet = arguments.common.quiet;
    match &arguments.command {
        Command::Collect(collect) => collect::run(collect, quiet),
        Command::Describe(describe) => describe::run(describe, quiet),
        Command::Make(make) => make::run(make, quiet),
        Command::Census(census) => census::run(census, quiet),
        Command::Merge(merge) => census::run_merge(merge),
        Command::Judge(judge) => judge::run(judge, quiet),
        Command::Coverage(coverage) => judge::run_coverage(coverage),
        Command::Order(order) => order::run(order, quiet),
        Command::Specimen(specimen) => specimen::run(specimen, quiet),
        Command::Chart(chart) => chart::run(chart),
        Command::Completions(completions) => {
            let mut command = Arguments::command();
            let mut out = io::stdout().lock();
            clap_complete::generate(completions.shell, &mut command, "tallyhouse", &mut out);
            Ok(())
        }
        Command::Man(man) => print_manual(man.out.as_deref()),
        Command::Inspect(inspect) => inspect::run(inspect, quiet),
        Command::Study(study) => study::run(study, quiet),
    }
}

fn print_manual(folder: Option<&Path>) -> anyhow::Result<()> {
    let command = Arguments::command();
    let Some(folder) = folder else {
        return Ok(clap_mangen::Man::new(command).render(&mut io::stdout().lock())?);
    };
    let failed = || format!("cannot write to {}", folder.display());
    fs::create_dir_all(folder).with_context(failed)?;
    clap_mangen::generate_to(command, folder).with_context(failed)
}

/// Whoever reads our output may stop reading; that is no failure of ours.
fn is_broken_pipe(error: &anyhow::Error) -> bool {
    let is_pipe = |error: &io::Error| error.kind() == io::ErrorKind::BrokenPipe;
    error.downcast_ref::<io::Error>().is_some_and(is_pipe)
}
