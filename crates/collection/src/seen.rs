use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use tallyhouse_board::{Cell, Clues, Frame9, Puzzle};

use crate::canonical::{canonical, class_key};
use crate::fingerprint;
use crate::key_table::KeyTable;

/// Where a puzzle was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Origin {
    /// The source, from 0.
    pub source: u32,
    /// The line in it, from 1.
    pub line: u64,
}

/// Whether a puzzle was read before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// It was not.
    New,
    /// It was, cell by cell, there first.
    Exactly(Origin),
    /// An equivalent one was, there first; this one was not.
    Equivalent(Origin),
}

/// What a puzzle is looked up by. Making it takes longer than looking up, and needs nothing else.
#[derive(Clone, Copy, Debug)]
pub struct SeenKeys {
    exact: u64,
    class: Option<u64>,
}

impl SeenKeys {
    /// Works out the keys, for equivalent puzzles too if they are asked for.
    #[must_use]
    pub fn of(puzzle: &Puzzle, equivalents: bool) -> Self {
        let class = equivalents.then(|| class_key(&Clues::<Frame9>::from(puzzle)));
        Self { exact: fingerprint(puzzle.values()) as u64, class }
    }
}

/// Finds puzzles that were read before, cell by cell the same or equivalent.
///
/// Keys only point to those that may be the same: the puzzles themselves decide. They wait in a file
/// without a name, 53 bytes each; in memory a puzzle takes about 10 bytes.
#[derive(Debug)]
pub struct SeenBefore {
    records: Records,
    /// The records by the key of the class for the first puzzle of its class, by its own for others.
    by_key: KeyTable,
}

impl SeenBefore {
    /// Starts with nothing seen; the file without a name is in this folder.
    ///
    /// # Errors
    /// If the file can't be made.
    pub fn in_folder(folder: &Path) -> io::Result<Self> {
        Ok(Self { records: Records::in_folder(folder)?, by_key: KeyTable::new() })
    }

    /// Tells if a puzzle was seen before, and remembers it. All keys are made with the same answer to
    /// whether equivalent puzzles are looked for.
    ///
    /// # Errors
    /// If the file can't be read or written, or for 2³² puzzles and more.
    pub fn take(&mut self, puzzle: &Puzzle, keys: SeenKeys, origin: Origin) -> io::Result<Seen> {
        let record = Record { puzzle: pack(puzzle), origin };
        let Some(class) = keys.class else {
            return match self.same(&record.puzzle, keys.exact)? {
                Some(first) => Ok(Seen::Exactly(first.origin)),
                None => self.add(keys.exact, &record).map(|()| Seen::New),
            };
        };
        let mut known = Vec::new();
        for index in self.by_key.get(class) {
            let candidate = self.records.read(index)?;
            if candidate.puzzle == record.puzzle {
                return Ok(Seen::Exactly(candidate.origin));
            }
            known.push(candidate);
        }
        if known.is_empty() {
            return self.add(class, &record).map(|()| Seen::New);
        }
        if let Some(first) = self.same(&record.puzzle, keys.exact)? {
            return Ok(Seen::Exactly(first.origin));
        }
        let form = canonical(&unpack(&record.puzzle)).form;
        let is_alike = |known: &Record| canonical(&unpack(&known.puzzle)).form == form;
        match known.into_iter().find(is_alike) {
            Some(first) => self.add(keys.exact, &record).map(|()| Seen::Equivalent(first.origin)),
            None => self.add(class, &record).map(|()| Seen::New),
        }
    }

    fn same(&mut self, puzzle: &Packed, key: u64) -> io::Result<Option<Record>> {
        for index in self.by_key.get(key) {
            let record = self.records.read(index)?;
            if record.puzzle == *puzzle {
                return Ok(Some(record));
            }
        }
        Ok(None)
    }

    fn add(&mut self, key: u64, record: &Record) -> io::Result<()> {
        let index = self.records.add(record)?;
        self.by_key.insert(key, index);
        Ok(())
    }
}

/// Two cells to a byte.
type Packed = [u8; Cell::COUNT.div_ceil(2)];

fn pack(puzzle: &Puzzle) -> Packed {
    let mut packed = [0; Cell::COUNT.div_ceil(2)];
    for (byte, cells) in packed.iter_mut().zip(puzzle.values().chunks(2)) {
        *byte = cells.iter().rev().fold(0, |byte, value| byte << 4 | value);
    }
    packed
}

fn unpack(packed: &Packed) -> Clues<Frame9> {
    (0..Cell::COUNT)
        .map(|cell| (cell, packed[cell / 2] >> (4 * (cell % 2)) & 0xf))
        .fold(Clues::BLANK, |clues, (cell, value)| clues.with(cell, value))
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Record {
    puzzle: Packed,
    origin: Origin,
}

impl Record {
    const SIZE: usize = size_of::<Packed>() + size_of::<u32>() + size_of::<u64>();

    fn to_bytes(self) -> [u8; Self::SIZE] {
        let mut bytes = [0; Self::SIZE];
        let (puzzle, rest) = bytes.split_at_mut(size_of::<Packed>());
        let (source, line) = rest.split_at_mut(size_of::<u32>());
        puzzle.copy_from_slice(&self.puzzle);
        source.copy_from_slice(&self.origin.source.to_le_bytes());
        line.copy_from_slice(&self.origin.line.to_le_bytes());
        bytes
    }

    fn from_bytes(bytes: [u8; Self::SIZE]) -> Self {
        let at = size_of::<Packed>();
        let source = u32::from_le_bytes(std::array::from_fn(|i| bytes[at + i]));
        let line = u64::from_le_bytes(std::array::from_fn(|i| bytes[at + size_of::<u32>() + i]));
        let puzzle = std::array::from_fn(|i| bytes[i]);
        Self { puzzle, origin: Origin { source, line } }
    }
}

/// Records in a file without a name, the last ones still in memory.
#[derive(Debug)]
struct Records {
    file: File,
    written: u64,
    waiting: Vec<u8>,
}

impl Records {
    const WAITING: usize = 4096 * Record::SIZE;

    fn in_folder(folder: &Path) -> io::Result<Self> {
        Ok(Self { file: tempfile::tempfile_in(folder)?, written: 0, waiting: Vec::new() })
    }

    /// Returns the number of the record.
    fn add(&mut self, record: &Record) -> io::Result<u32> {
        let records = (self.written + self.waiting.len() as u64) / Record::SIZE as u64;
        let number = u32::try_from(records).ok().filter(|&number| number < KeyTable::END);
        let number = number.ok_or_else(|| {
            io::Error::other(format!("expected fewer than {} puzzles at once", KeyTable::END))
        })?;
        self.waiting.extend(record.to_bytes());
        if self.waiting.len() >= Self::WAITING {
            self.file.seek(SeekFrom::Start(self.written))?;
            self.file.write_all(&self.waiting)?;
            self.written += self.waiting.len() as u64;
            self.waiting.clear();
        }
        Ok(number)
    }

    fn read(&mut self, index: u32) -> io::Result<Record> {
        let at = u64::from(index) * Record::SIZE as u64;
        let mut bytes = [0; Record::SIZE];
        if let Some(waiting) = at.checked_sub(self.written) {
            bytes.copy_from_slice(&self.waiting[waiting as usize..][..Record::SIZE]);
        } else {
            self.file.seek(SeekFrom::Start(at))?;
            self.file.read_exact(&mut bytes)?;
        }
        Ok(Record::from_bytes(bytes))
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::MinimalByDeletion;

    /// The same questions answered from maps of whole puzzles and canonical forms.
    #[derive(Default)]
    struct Plain {
        exact: HashMap<Puzzle, Origin>,
        classes: HashMap<Clues<Frame9>, Origin>,
    }

    impl Plain {
        fn take(&mut self, puzzle: Puzzle, origin: Origin) -> Seen {
            let first = *self.exact.entry(puzzle).or_insert(origin);
            let form = canonical(&Clues::from(&puzzle)).form;
            let alike = *self.classes.entry(form).or_insert(origin);
            match (first == origin, alike == origin) {
                (false, _) => Seen::Exactly(first),
                (true, false) => Seen::Equivalent(alike),
                (true, true) => Seen::New,
            }
        }
    }

    fn turned(puzzle: &Puzzle, random: &mut ChaCha8Rng) -> Puzzle {
        let shift = random.random_range(0..3);
        let values = (0..81).map(|cell| {
            let (row, column) = (cell / 9, cell % 9);
            let row = row / 3 * 3 + (row + shift) % 3;
            char::from(b'0' + puzzle.values()[column * 9 + row])
        });
        values.collect::<String>().parse().unwrap()
    }

    #[test]
    fn repeats_are_those_of_plain_maps() {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let fresh = MinimalByDeletion { seed: 3 }.puzzles(0..6000);
        let folder = tempfile::tempdir().unwrap();
        let mut seen = SeenBefore::in_folder(folder.path()).unwrap();
        let (mut plain, mut read) = (Plain::default(), Vec::<Puzzle>::new());
        let mut counts = [0; 3];
        for (puzzle, line) in fresh.into_iter().zip(1..) {
            let puzzle = match random.random_range(0..4) {
                0 if !read.is_empty() => read[random.random_range(0..read.len())],
                1 if !read.is_empty() => {
                    let earlier = read[random.random_range(0..read.len())];
                    turned(&earlier, &mut random)
                }
                _ => puzzle,
            };
            read.push(puzzle);
            let origin = Origin { source: 7, line };
            let found = seen.take(&puzzle, SeenKeys::of(&puzzle, true), origin).unwrap();
            assert_eq!(found, plain.take(puzzle, origin));
            counts[match found {
                Seen::New => 0,
                Seen::Exactly(_) => 1,
                Seen::Equivalent(_) => 2,
            }] += 1;
        }
        assert!(counts.iter().all(|count| *count > 1000), "{counts:?}");
        assert_eq!(folder.path().read_dir().unwrap().count(), 0);
    }

    /// Keys that all puzzles share leave the answers as they are.
    #[test]
    fn keys_decide_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut seen = SeenBefore::in_folder(folder.path()).unwrap();
        let mut plain = Plain::default();
        let mut random = ChaCha8Rng::seed_from_u64(2);
        let fresh: Vec<Puzzle> = MinimalByDeletion { seed: 4 }.puzzles(0..20).into_iter().collect();
        for line in 1..200 {
            let puzzle = turned(&fresh[random.random_range(0..fresh.len())], &mut random);
            let origin = Origin { source: 0, line };
            let keys = SeenKeys { exact: 1, class: Some(1) };
            assert_eq!(seen.take(&puzzle, keys, origin).unwrap(), plain.take(puzzle, origin));
        }
    }

    #[test]
    fn without_equivalents_only_the_same_puzzle_is_a_repeat() {
        let puzzle: Puzzle = format!("12{}", ".".repeat(79)).parse().unwrap();
        let same: Puzzle = format!("12{}", "0".repeat(79)).parse().unwrap();
        let other = puzzle.without(Cell::at(0, 1));
        let folder = tempfile::tempdir().unwrap();
        let mut seen = SeenBefore::in_folder(folder.path()).unwrap();
        let at = |line| Origin { source: 0, line };
        let rows = [puzzle, other, same, other];
        let found = rows.iter().zip(1..).map(|(puzzle, line)| {
            seen.take(puzzle, SeenKeys::of(puzzle, false), at(line)).unwrap()
        });
        let found: Vec<Seen> = found.collect();
        assert_eq!(found, [Seen::New, Seen::New, Seen::Exactly(at(1)), Seen::Exactly(at(2))]);
    }
}
