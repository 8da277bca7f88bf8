//! A table from keys to numbers, in little memory.

/// How many shards there are. Each grows by itself, so that hardly anything lies in memory twice.
const SHARDS: usize = 256;
/// What no number is.
const FREE: u64 = u64::MAX;

/// Numbers by keys that are spread evenly. Only 40 bits of a key are kept: others may have the same.
///
/// A number takes 9 to 10.3 bytes once there are many.
#[derive(Debug)]
pub(crate) struct KeyTable {
    shards: Vec<Shard>,
}

impl KeyTable {
    /// The numbers are less than this.
    pub(crate) const END: u32 = u32::MAX;

    pub(crate) fn new() -> Self {
        Self { shards: std::iter::repeat_with(Shard::default).take(SHARDS).collect() }
    }

    /// Returns the numbers that may have a key, in rising order: all that have it, and hardly any other.
    pub(crate) fn get(&self, key: u64) -> Vec<u32> {
        let (shard, key) = parts(key);
        self.shards[shard].get(key)
    }

    /// Adds a number, which must be less than [`END`](Self::END).
    pub(crate) fn insert(&mut self, key: u64, number: u32) {
        debug_assert!(number < Self::END, "{number}");
        let (shard, key) = parts(key);
        self.shards[shard].insert(u64::from(key) << 32 | u64::from(number));
    }
}

/// Cuts a key into its shard and what is kept of it there.
const fn parts(key: u64) -> (usize, u32) {
    ((key >> 56) as usize, (key >> 24) as u32)
}

/// Slots in which a key and its number lie at the place that the key says, or in the next free one.
#[derive(Debug, Default)]
struct Shard {
    slots: Vec<u64>,
    used: usize,
}

impl Shard {
    fn get(&self, key: u32) -> Vec<u32> {
        let mut numbers = Vec::new();
        if self.slots.is_empty() {
            return numbers;
        }
        let mut at = self.place(key);
        while self.slots[at] != FREE {
            if (self.slots[at] >> 32) as u32 == key {
                numbers.push(self.slots[at] as u32);
            }
            at = self.after(at);
        }
        numbers.sort_unstable();
        numbers
    }

    fn insert(&mut self, entry: u64) {
        // Up to seven slots of eight are used.
        if (self.used + 1) * 8 > self.slots.len() * 7 {
            self.grow();
        }
        self.put(entry);
        self.used += 1;
    }

    fn grow(&mut self) {
        let slots = vec![FREE; self.slots.len() + self.slots.len() / 8 + 8];
        let old = std::mem::replace(&mut self.slots, slots);
        old.into_iter().filter(|&entry| entry != FREE).for_each(|entry| self.put(entry));
    }

    fn put(&mut self, entry: u64) {
        let mut at = self.place((entry >> 32) as u32);
        while self.slots[at] != FREE {
            at = self.after(at);
        }
        self.slots[at] = entry;
    }

    fn place(&self, key: u32) -> usize {
        ((u64::from(key) * self.slots.len() as u64) >> 32) as usize
    }

    fn after(&self, at: usize) -> usize {
        if at + 1 == self.slots.len() { 0 } else { at + 1 }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    #[test]
    fn numbers_are_those_of_a_plain_map() {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let (mut table, mut plain) = (KeyTable::new(), HashMap::<u64, Vec<u32>>::new());
        // Few keys at the ends of their ranges, so that many meet and wrap around.
        let key = |random: &mut ChaCha8Rng| {
            let kept: u64 = random.random_range(0..1 << 12);
            let shard = [0, 1, 255][random.random_range(0..3)];
            shard << 56
                | (kept * 0x10_0100).min(0xffff_ffff) << 24
                | random.random_range(0..1 << 24)
        };
        let kept = |key: u64| key >> 24;
        for number in 0..20_000 {
            let key = key(&mut random);
            table.insert(key, number);
            plain.entry(kept(key)).or_default().push(number);
        }
        for _ in 0..20_000 {
            let key = key(&mut random);
            assert_eq!(table.get(key), plain.get(&kept(key)).cloned().unwrap_or_default());
        }
        assert!(plain.values().any(|numbers| numbers.len() > 3));
        assert!(KeyTable::new().get(0).is_empty());
    }

    #[test]
    fn memory_grows_with_the_numbers_alone() {
        let mut random = ChaCha8Rng::seed_from_u64(6);
        let mut table = KeyTable::new();
        for number in 0..1_000_000 {
            table.insert(random.random(), number);
            if number % 100_000 == 99_999 {
                let bytes: usize = table.shards.iter().map(|s| s.slots.capacity() * 8).sum();
                let each = bytes as f64 / f64::from(number + 1);
                assert!((9.0..10.5).contains(&each), "{each} bytes for each of {number}");
            }
        }
    }
}
