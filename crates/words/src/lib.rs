//! Numbers, intervals and lists as people write them.
//!
//! Files keep every digit; text gets as many as its numbers support:
//!
//! - A number with an interval ([`Measured`]) is written to the place at which the interval is 2 to
//!   20 units wide, so that its width shows one or two digits: `0.5 % (0.4–0.6 %)`.
//! - A share of a count ([`share_of`]) is written to the place that as many independent draws would
//!   support.
//! - A number with neither has three digits that count ([`percent`], [`rounded`]).
//! - A share is never rounded to 0 or to 100 %; a share that is exactly that is written bare.
//!
//! ```
//! use tallyhouse_words::{Measured, count, counted, list, share_of};
//!
//! let short = Measured { value: 0.005, low: 0.004, high: 0.006 };
//! assert_eq!(short.percent(), "0.5 % (0.4–0.6 %)");
//! assert_eq!(count(1_234), "1,234");
//! assert_eq!(counted(1, "puzzle", "puzzles"), "1 puzzle");
//! assert_eq!(share_of(4_188, 10_000), "41.9 %");
//! assert_eq!(list(["pairs", "triples", "quads"]), "pairs, triples and quads");
//! ```
#![forbid(unsafe_code)]
#![deny(missing_docs)]

mod choice;
mod counts;
mod foreign;
mod lists;
mod measured;
mod numbers;
mod outcome;
mod places;
mod sets;

pub use counts::{about, compact, count, counted, plural, read_back, share_of};
pub use foreign::{as_field, as_field_or_number, from_field, shown};
pub use lists::{list, list_or, list_some, mid_sentence, sentence_start};
pub use measured::{Measured, share_and_ends, share_within, thousandths};
pub use numbers::{
    exact_percent, fixed, over, p_value, percent, read_range, rounded, rounded_down, rounded_up,
    under_share,
};
pub use outcome::{Advice, Outcome};
pub use sets::{number_range, number_word, set_name, set_names, set_size};
