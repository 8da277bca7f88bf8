use std::fmt;

/// One of the digits 1 to 9.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digit(u8);

impl Digit {
    /// How many digits there are.
    pub const COUNT: usize = 9;

    /// Returns the digit with this value, or `None` outside 1 to 9.
    #[must_use]
    pub const fn new(value: u8) -> Option<Self> {
        if value >= 1 && value <= 9 { Some(Self(value)) } else { None }
    }

    /// Returns the digit with this index, or `None` outside 0 to 8.
    #[must_use]
    pub const fn from_index(index: usize) -> Option<Self> {
        if index < Self::COUNT { Some(Self(index as u8 + 1)) } else { None }
    }

    /// Iterates over all digits in order.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator + Clone {
        (1..=9).map(Self)
    }

    /// Returns the value, 1 to 9.
    #[must_use]
    #[inline]
    pub const fn value(self) -> u8 {
        self.0
    }

    /// Returns the index, 0 to 8.
    #[must_use]
    #[inline]
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }

    /// Returns the character, `1` to `9`.
    #[must_use]
    pub const fn char(self) -> char {
        (b'0' + self.0) as char
    }
}

impl fmt::Display for Digit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Digit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_and_indices_agree() {
        assert_eq!(Digit::all().len(), 9);
        for digit in Digit::all() {
            assert_eq!(Digit::new(digit.value()), Some(digit));
            assert_eq!(Digit::from_index(digit.index()), Some(digit));
            assert_eq!(digit.to_string(), digit.char().to_string());
        }
        assert_eq!((Digit::new(0), Digit::new(10), Digit::from_index(9)), (None, None, None));
    }
}
