//! The soak: hostile inputs, damaged folders, full disks, readers that go away, killed runs, and two runs at
//! once on one output. Whatever happens, a command either says what is wrong or gives the bytes of an
//! undisturbed run.
//!
//! The short form takes a few minutes. `TALLYHOUSE_SOAK=20` multiplies the tries (20 is the long form),
//! `TALLYHOUSE_SOAK_SEED` takes others. Figures go to standard output: `--nocapture` shows them.
#![cfg(target_os = "linux")]

mod damage;
mod disks;
mod figures;
mod gone;
mod hostile;
mod jobs;
mod kills;
mod mutate;
mod outcome;
mod pairs;
mod planted;
mod samples;
mod trees;
mod tries;
