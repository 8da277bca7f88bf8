//! Choosing the widest vector instructions that the processor has, at run time.
//!
//! Unsafe, because it calls functions that were compiled for more instructions than the program as a
//! whole may use. It buys a portable binary that is several times faster where wide
//! vectors exist; DEVELOPERS.md has the figures.
#![allow(unsafe_code)]

use super::lanes::{Lanes, Words};

/// A set of instructions that the fast engine is compiled for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Path {
    /// What every processor of the architecture has.
    Portable,
    /// AVX2 with bit manipulation.
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// AVX-512 with population counts of 16-bit lanes.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Path {
    /// Returns the paths that this processor can take, slowest first.
    #[must_use]
    pub fn all() -> Vec<Self> {
        #[cfg(target_arch = "x86_64")]
        {
            let mut paths = vec![Self::Portable];
            paths.extend([Self::Avx2, Self::Avx512].into_iter().filter(|path| path.is_possible()));
            paths
        }
        #[cfg(not(target_arch = "x86_64"))]
        vec![Self::Portable]
    }

    /// Returns the fastest path that this processor can take.
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

/// A calculation that is compiled once per path; `run` must be `#[inline(always)]`, and so must what
/// it calls in its hot loops.
pub(super) trait Task {
    fn run<W: Words>(self);
}

/// Runs a task on a path; on the portable one if the processor can't take it.
pub(super) fn run(path: Path, task: impl Task) {
    match path {
        // Safety: the processor has just been found to have the instructions.
        #[cfg(target_arch = "x86_64")]
        Path::Avx512 if path.is_possible() => unsafe { run_avx512(task) },
        // Safety: as above.
        #[cfg(target_arch = "x86_64")]
        Path::Avx2 if path.is_possible() => unsafe { run_avx2(task) },
        _ => task.run::<Lanes>(),
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,bmi1,bmi2,lzcnt,popcnt")]
fn run_avx2(task: impl Task) {
    task.run::<Lanes>();
}

#[cfg(target_arch = "x86_64")]
#[target_feature(
    enable = "avx512f,avx512bw,avx512dq,avx512vl,avx512bitalg,avx512vpopcntdq,avx512vbmi2,bmi1,bmi2,lzcnt,popcnt"
)]
fn run_avx512(task: impl Task) {
    task.run::<super::avx512::Register>();
}
