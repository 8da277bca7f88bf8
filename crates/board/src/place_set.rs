use std::fmt;

/// A set of the nine places of a house, numbered 0 to 8 in the order of [`crate::House::cells`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PlaceSet(u16);

element_set!(PlaceSet, u16, 0x1ff, usize, checked, place, "place");

const fn checked(place: usize) -> usize {
    assert!(place < 9, "places run from 0 to 8");
    place
}

const fn place(index: usize) -> Option<usize> {
    if index < 9 { Some(index) } else { None }
}

impl fmt::Debug for PlaceSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self.iter()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn set_words_do_what_they_say() {
        let set: PlaceSet = [8, 0, 4].into_iter().collect();
        assert_eq!((set.len(), set.bits()), (3, 0b1_0001_0001));
        assert!(set.contains(4) && !set.contains(5));
        assert_eq!(set.without(4).with(5).iter().collect::<Vec<_>>(), [0, 5, 8]);
        assert_eq!((set | PlaceSet::from_bits_truncate(2)).len(), 4);
        assert_eq!((set & PlaceSet::from_bits_truncate(3)).first(), Some(0));
        assert!((set - set).is_empty() && PlaceSet::EMPTY.is_subset(set));
        assert!(!set.is_subset(PlaceSet::EMPTY) && set.is_subset(PlaceSet::FULL));
        assert_eq!(PlaceSet::from_bits(1 << 9), None);
        assert_eq!(set.without(8).without(0).only(), Some(4));
        assert_eq!(set.only(), None);
    }
}
