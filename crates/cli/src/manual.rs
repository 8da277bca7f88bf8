//! `tallyhouse completions` and `tallyhouse man`: what shells and `man` want.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, Command};
use tallyhouse_storage::StorageError;

use crate::results;

/// Print a script that completes commands in a shell
#[derive(Debug, Args)]
#[command(after_help = "Example:
  tallyhouse completions bash > ~/.local/share/bash-completion/completions/tallyhouse")]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_enum, value_name = "SHELL")]
    shell: clap_complete::Shell,
}

impl Completions {
    pub(crate) fn run(&self, mut command: Command) -> anyhow::Result<()> {
        // The library panics where writing fails, as it may in a pipe, but not in memory.
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut command, "tallyhouse", &mut script);
        Ok(io::stdout().lock().write_all(&script)?)
    }
}

/// Print the manual page
///
/// With --out, a page for each command is written instead.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse man > tallyhouse.1
  tallyhouse man -o ~/.local/share/man/man1")]
pub(crate) struct Man {
    /// Folder to write into
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace pages that differ, as those of another version do
    #[arg(long, requires = "out")]
    replace: bool,
}

impl Man {
    pub(crate) fn run(&self, command: Command) -> anyhow::Result<()> {
        let Some(folder) = &self.out else {
            return Ok(clap_mangen::Man::new(command).render(&mut io::stdout().lock())?);
        };
        let out = results::shared_folder(folder)?;
        let staging = out.stage()?;
        clap_mangen::generate_to(command, staging.made()).map_err(StorageError::write(folder))?;
        staging.install_beside(self.replace.into())?;
        Ok(())
    }
}
