use std::fmt;

use crate::Digit;

/// A set of digits; bit 0 of [`DigitSet::bits`] stands for digit 1.
///
/// ```
/// use tallyhouse_board::{Digit, DigitSet};
///
/// let set: DigitSet = [2, 5, 9].into_iter().filter_map(Digit::new).collect();
/// assert_eq!(set.to_string(), "259");
/// assert_eq!((set.complement() - DigitSet::single(Digit::new(1).unwrap())).to_string(), "34678");
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct DigitSet(u16);

element_set!(DigitSet, u16, 0x1ff, Digit, Digit::index, Digit::from_index, "digit");

impl fmt::Display for DigitSet {
    /// Writes the digits without separators, as in `259`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.iter().map(Digit::char).collect::<String>())
    }
}

impl fmt::Debug for DigitSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{{{self}}}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prints_its_digits_in_order() {
        let set: DigitSet = [9, 2, 5].into_iter().filter_map(Digit::new).collect();
        assert_eq!((set.to_string().as_str(), set.bits()), ("259", 0b1_0001_0010));
        assert_eq!(format!("{set:?}"), "{259}");
        assert_eq!(set.complement().to_string(), "134678");
    }
}
