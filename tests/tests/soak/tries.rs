//! How many tries there are, and by which random numbers.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// How many tries there are for each of the short form.
pub(crate) fn times(short: u64) -> u64 {
    number("TALLYHOUSE_SOAK").map_or(short, |times| short * times)
}

pub(crate) fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok().map(|text| text.parse().unwrap())
}

/// The seed of all tries.
pub(crate) fn seed() -> u64 {
    number("TALLYHOUSE_SOAK_SEED").unwrap_or(1)
}

pub(crate) fn rng(of: &str, number: u64) -> ChaCha8Rng {
    let name = of.bytes().fold(seed(), |sum, byte| sum.wrapping_mul(31).wrapping_add(byte.into()));
    ChaCha8Rng::seed_from_u64(name.wrapping_mul(1_000_003).wrapping_add(number))
}
