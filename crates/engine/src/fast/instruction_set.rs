//! Choosing the widest vector instructions that the processor has, at run time.
//!
//! Unsafe, because it calls functions that were compiled for more instructions than the program as a
//! whole may use. It buys a portable binary that is several times faster where wide
//! vectors exist; DEVELOPERS.md has the figures.
#![allow(unsafe_code)]

use super::lanes::{Instructions, Portable};

/// A set of instructions that the fast engine is compiled for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InstructionSet {
    /// What every processor of the architecture has.
    Portable,
    /// AVX2 with bit manipulation.
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// AVX-512 with population counts of 16-bit lanes.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl InstructionSet {
    /// Returns those that this processor has, slowest first.
    #[must_use]
    pub fn all() -> Vec<Self> {
        #[cfg(target_arch = "x86_64")]
        {
            let mut sets = vec![Self::Portable];
            sets.extend([Self::Avx2, Self::Avx512].into_iter().filter(|set| set.is_possible()));
            sets
        }
        #[cfg(not(target_arch = "x86_64"))]
        vec![Self::Portable]
    }

    /// Returns the fastest that this processor has.
    #[must_use]
    pub fn best() -> Self {
        Self::all().pop().unwrap_or(Self::Portable)
    }

    #[cfg(target_arch = "x86_64")]
    fn is_possible(self) -> bool {
        match self {
            Self::Portable => true,
            Self::Avx2 => {
                is_x86_feature_detected!("avx2")
                    && is_x86_feature_detected!("bmi1")
                    && is_x86_feature_detected!("bmi2")
                    && is_x86_feature_detected!("lzcnt")
                    && is_x86_feature_detected!("popcnt")
            }
            Self::Avx512 => {
                Self::Avx2.is_possible()
                    && is_x86_feature_detected!("avx512f")
                    && is_x86_feature_detected!("avx512bw")
                    && is_x86_feature_detected!("avx512dq")
                    && is_x86_feature_detected!("avx512vl")
                    && is_x86_feature_detected!("avx512bitalg")
                    && is_x86_feature_detected!("avx512vpopcntdq")
                    && is_x86_feature_detected!("avx512vbmi2")
            }
        }
    }
}

/// A calculation that is compiled once per instruction set; `run` must be `#[inline(always)]`, and so must what
/// it calls in its hot loops.
pub(super) trait Task {
    fn run<I: Instructions>(self);
}

/// Runs a task with an instruction set; with the portable one if the processor lacks it.
pub(super) fn run(set: InstructionSet, task: impl Task) {
    match set {
        // Safety: the processor has just been found to have the instructions.
        #[cfg(target_arch = "x86_64")]
        InstructionSet::Avx512 if set.is_possible() => unsafe { run_avx512(task) },
        // Safety: as above.
        #[cfg(target_arch = "x86_64")]
        InstructionSet::Avx2 if set.is_possible() => unsafe { run_avx2(task) },
        _ => task.run::<Portable>(),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,bmi1,bmi2,lzcnt,popcnt")]
fn run_avx2(task: impl Task) {
    task.run::<super::avx2::Avx2>();
}

#[cfg(target_arch = "x86_64")]
#[target_feature(
    enable = "avx512f,avx512bw,avx512dq,avx512vl,avx512bitalg,avx512vpopcntdq,avx512vbmi2,bmi1,bmi2,lzcnt,popcnt"
)]
fn run_avx512(task: impl Task) {
    task.run::<super::avx512::Avx512>();
}
