//! The depth-first search that naked looks make over cells and hidden looks over digits.

/// Tries sets of `size` elements whose masks together have at most `size` bits, in lexicographic
/// order of elements, until `ends` accepts a full one; returns the number of tries.
///
/// `masks` holds the digits of each cell or the places of each digit; elements with fewer than two
/// or more than `size` bits don't take part.
pub(super) fn search(masks: &[u16; 9], size: u32, ends: impl FnMut(u16) -> bool) -> u64 {
    let eligible = (0..9)
        .filter(|&element| (2..=size).contains(&masks[element].count_ones()))
        .fold(0, |set, element| set | 1 << element);
    let mut search = Search { masks, size, ends, tries: 0 };
    let mut rest = eligible;
    while rest != 0 {
        let (start, later) = split_first(rest);
        if search.extend(1 << start, masks[start], later) {
            break;
        }
        rest = later;
    }
    search.tries
}

/// Returns the number of tries of a [`search`] that nothing ends.
///
/// Sets of `size` elements need not be judged then, so all that may complete a set count at once.
#[inline(always)]
pub(super) fn tries_in_vain(masks: &[u16; 16], size: u32) -> u32 {
    // What is not eligible is written over by the next.
    let (mut eligible, mut count) = ([0; 16], 0);
    for &mask in &masks[..9] {
        eligible[count & 15] = mask;
        count += usize::from((2..=size).contains(&mask.count_ones()));
    }
    if size == 2 || count < 3 {
        return (count * count.saturating_sub(1) / 2) as u32;
    }
    if size == 3 {
        return tries_of_three(&eligible, count);
    }
    // The union of the set at each depth, and the elements that are not yet tried there.
    let (mut unions, mut rests) = ([0; 9], [0u16; 9]);
    rests[0] = (1 << count) - 1;
    let (mut depth, mut tries) = (0, 0);
    loop {
        let rest = rests[depth];
        if rest == 0 {
            if depth == 0 {
                return tries;
            }
            depth -= 1;
            continue;
        }
        let later = rest & (rest - 1);
        rests[depth] = later;
        tries += u32::from(depth > 0);
        let union = unions[depth] | eligible[rest.trailing_zeros() as usize];
        if union.count_ones() > size {
            continue;
        }
        if depth as u32 + 2 == size {
            tries += later.count_ones();
        } else {
            depth += 1;
            unions[depth] = union;
            rests[depth] = later;
        }
    }
}

/// Counts all pairs of so many sets, and for each pair that fits into three the sets after it.
#[inline(always)]
fn tries_of_three(eligible: &[u16; 16], count: usize) -> u32 {
    let mut tries = 0;
    for second in 1..count {
        let after = (count - 1 - second) as u32;
        for first in 0..second {
            let union = eligible[first & 15] | eligible[second & 15];
            tries += 1 + if union.count_ones() <= 3 { after } else { 0 };
        }
    }
    tries
}

struct Search<'a, E> {
    masks: &'a [u16; 9],
    size: u32,
    ends: E,
    tries: u64,
}

impl<E: FnMut(u16) -> bool> Search<'_, E> {
    /// Tries every later element beside the chosen ones; true if the search is over.
    fn extend(&mut self, chosen: u16, union: u16, mut rest: u16) -> bool {
        while rest != 0 {
            let (next, later) = split_first(rest);
            rest = later;
            self.tries += 1;
            let (wider, union) = (chosen | 1 << next, union | self.masks[next]);
            if union.count_ones() > self.size {
                continue;
            }
            let over = if wider.count_ones() == self.size {
                (self.ends)(wider)
            } else {
                self.extend(wider, union, later)
            };
            if over {
                return true;
            }
        }
        false
    }
}

fn split_first(set: u16) -> (usize, u16) {
    (set.trailing_zeros() as usize, set & (set - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_that_always_fit_are_all_tried() {
        // m alike elements, fewer than the size: every set of two or more of them is tried once,
        // 2^m − m − 1 of them by the binomial theorem.
        for elements in 0..8u32 {
            let mut masks = [0; 9];
            masks[..elements as usize].fill(0b11);
            let tries = search(&masks, elements.max(2) + 1, |_| unreachable!());
            assert_eq!(tries, (1 << elements) - u64::from(elements) - 1);
        }
    }

    #[test]
    fn tries_in_vain_are_those_of_a_search_without_end() {
        let mut random = 1u64;
        for _ in 0..4000 {
            let mut masks = [0u16; 16];
            for mask in &mut masks[..9] {
                random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let bits = (random >> 33) as u16 & 0x1ff;
                *mask = bits & ((random >> 48) as u16 | 1 << (random >> 60));
            }
            let nine = std::array::from_fn(|element| masks[element]);
            for size in 2..=8 {
                let expected = search(&nine, size, |_| false);
                assert_eq!(u64::from(tries_in_vain(&masks, size)), expected, "{masks:?}, {size}");
            }
        }
    }

    #[test]
    fn pairs_that_never_fit_are_each_tried_once() {
        // C(m, 2) pairs: binomial coefficient.
        let masks = [0b11, 0b110, 0b1100, 0b1_1000, 0b11_0000, 0b110_0000, 0b1, 0b111, 0];
        assert_eq!(search(&masks, 2, |_| unreachable!()), 6 * 5 / 2);
    }

    #[test]
    fn full_sets_come_in_lexicographic_order_until_one_is_accepted() {
        let mut seen = Vec::new();
        let tries = search(&[0b111; 9], 3, |set| {
            seen.push(set);
            seen.len() == 8
        });
        assert_eq!(seen[..2], [0b111, 0b1011]);
        assert_eq!(seen[6..], [0b1_0000_0011, 0b1101]);
        // 1-2 and its seven thirds, then 1-3 and its first third.
        assert_eq!(tries, 1 + 7 + 1 + 1);
    }
}
