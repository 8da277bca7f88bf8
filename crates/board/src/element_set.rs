//! The operations that sets of cells, digits and places share; the types stay apart so that one cannot
//! be passed for the other.

/// Gives a set its operations: a newtype of a mask whose bits stand for elements by their index.
macro_rules! element_set {
    ($set:ident, $bits:ty, $all:expr, $element:ty, $index:path, $at:path, $word:literal) => {
        impl $set {
            /// The set without elements.
            pub const EMPTY: Self = Self(0);
            /// The set of all.
            pub const FULL: Self = Self($all);

            /// Returns the set with these bits, or `None` if a bit is on that stands for nothing.
            #[must_use]
            pub const fn from_bits(bits: $bits) -> Option<Self> {
                if bits & !$all == 0 { Some(Self(bits)) } else { None }
            }

            /// Returns the set with these bits; bits that stand for nothing are dropped.
            #[must_use]
            #[inline]
            pub const fn from_bits_truncate(bits: $bits) -> Self {
                Self(bits & $all)
            }

            #[doc = concat!("Returns the mask: bit i stands for ", $word, " number i, counted from 0.")]
            #[must_use]
            #[inline]
            pub const fn bits(self) -> $bits {
                self.0
            }

            #[doc = concat!("Returns the set that holds this ", $word, " alone.")]
            #[must_use]
            #[inline]
            pub const fn single(element: $element) -> Self {
                Self(1 << $index(element))
            }

            /// Returns the number of elements.
            #[must_use]
            #[inline]
            pub const fn len(self) -> usize {
                self.0.count_ones() as usize
            }

            /// Tests if there are no elements.
            #[must_use]
            #[inline]
            pub const fn is_empty(self) -> bool {
                self.0 == 0
            }

            #[doc = concat!("Tests if the ", $word, " is in the set.")]
            #[must_use]
            #[inline]
            pub const fn contains(self, element: $element) -> bool {
                self.0 >> $index(element) & 1 == 1
            }

            #[doc = concat!("Returns the set and this ", $word, ".")]
            #[must_use]
            #[inline]
            pub const fn with(self, element: $element) -> Self {
                Self(self.0 | 1 << $index(element))
            }

            #[doc = concat!("Returns the set but for this ", $word, ".")]
            #[must_use]
            #[inline]
            pub const fn without(self, element: $element) -> Self {
                Self(self.0 & !(1 << $index(element)))
            }

            /// Tests if every element is in the other set too.
            #[must_use]
            #[inline]
            pub const fn is_subset(self, other: Self) -> bool {
                self.0 & !other.0 == 0
            }

            /// Returns everything that is not in the set.
            #[must_use]
            #[inline]
            pub const fn complement(self) -> Self {
                Self(!self.0 & $all)
            }

            /// Returns the least element.
            #[must_use]
            #[inline]
            pub const fn first(self) -> Option<$element> {
                $at(self.0.trailing_zeros() as usize)
            }

            /// Returns the element of a set that has exactly one.
            #[must_use]
            #[inline]
            pub const fn only(self) -> Option<$element> {
                if self.0.is_power_of_two() { self.first() } else { None }
            }

            /// Iterates in rising order.
            pub fn iter(self) -> impl Iterator<Item = $element> + Clone {
                let mut rest = self.0;
                std::iter::from_fn(move || {
                    let element = $at(rest.trailing_zeros() as usize)?;
                    rest &= rest - 1;
                    Some(element)
                })
            }
        }

        impl std::ops::BitOr for $set {
            type Output = Self;
            #[inline]
            fn bitor(self, other: Self) -> Self {
                Self(self.0 | other.0)
            }
        }

        impl std::ops::BitAnd for $set {
            type Output = Self;
            #[inline]
            fn bitand(self, other: Self) -> Self {
                Self(self.0 & other.0)
            }
        }

        impl std::ops::Sub for $set {
            type Output = Self;
            #[inline]
            fn sub(self, other: Self) -> Self {
                Self(self.0 & !other.0)
            }
        }

        impl FromIterator<$element> for $set {
            fn from_iter<I: IntoIterator<Item = $element>>(elements: I) -> Self {
                elements.into_iter().fold(Self::EMPTY, Self::with)
            }
        }
    };
}
