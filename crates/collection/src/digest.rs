//! The digest of a collection: BLAKE3 over the digests of its blocks of rows, so that it does not
//! depend on how the rows are spread over files or parts.

/// How many rows a block has.
pub const BLOCK_ROWS: u64 = 1000;

/// How much is hashed at once: much at once is faster.
const HASHED_AT_ONCE: usize = 1 << 16;

/// How the rows of a collection are numbered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Numbering {
    /// One after the other, from 0.
    #[default]
    Rows,
    /// Made families, each a unit of its own: the number of the family times 2²⁰, and the place in
    /// it. So the numbers of a family depend on no other.
    Families,
}

impl Numbering {
    /// How many numbers a family has: more than splitting can have puzzles.
    const FAMILY: u64 = 1 << 20;

    /// Returns the first number of a unit: of a row, or of a made family.
    #[must_use]
    pub const fn first(self, unit: u64) -> u64 {
        match self {
            Self::Rows => unit,
            Self::Families => unit * Self::FAMILY,
        }
    }

    /// Returns the unit that a number belongs to.
    #[must_use]
    pub const fn unit(self, number: u64) -> u64 {
        match self {
            Self::Rows => number,
            Self::Families => number / Self::FAMILY,
        }
    }

    /// Returns how many units a block of the digest has: 1,000 rows, or one family.
    #[must_use]
    pub const fn block_units(self) -> u64 {
        match self {
            Self::Rows => BLOCK_ROWS,
            Self::Families => 1,
        }
    }

    const fn block(self, number: u64) -> u64 {
        self.unit(number) / self.block_units()
    }
}

/// The digests of blocks that stand next to each other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BlockDigests(Vec<u8>);

impl BlockDigests {
    /// Adds the blocks that follow.
    pub fn append(&mut self, more: &Self) {
        self.0.extend_from_slice(&more.0);
    }

    /// Returns the digest of a collection of these blocks, in hexadecimal.
    #[must_use]
    pub fn digest(&self) -> String {
        blake3::hash(&self.0).to_hex().to_string()
    }

    /// Returns the digests, one after the other, in hexadecimal.
    #[must_use]
    pub fn to_hex(&self) -> String {
        use std::fmt::Write;
        self.0.iter().fold(String::with_capacity(2 * self.0.len()), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
    }

    /// Reads what [`to_hex`](Self::to_hex) writes; `None` if the text is something else.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Self> {
        let whole = text.is_ascii() && text.len().is_multiple_of(2 * blake3::OUT_LEN);
        let byte = |at| u8::from_str_radix(text.get(at..at + 2)?, 16).ok();
        let bytes = || (0..text.len()).step_by(2).map(byte).collect::<Option<_>>();
        whole.then(bytes).flatten().map(Self)
    }
}

/// Digests rows block by block.
#[derive(Clone, Debug)]
pub struct BlockHasher {
    numbering: Numbering,
    /// The block that is under way.
    block: u64,
    hasher: blake3::Hasher,
    /// What is not hashed yet.
    text: Vec<u8>,
    done: BlockDigests,
    /// Whether a row was added.
    begun: bool,
}

impl BlockHasher {
    /// Begins with the block of a unit, which has to be the first of its block.
    #[must_use]
    pub fn new(numbering: Numbering, unit: u64) -> Self {
        Self {
            numbering,
            block: unit / numbering.block_units(),
            hasher: blake3::Hasher::new(),
            text: Vec::new(),
            done: BlockDigests::default(),
            begun: false,
        }
    }

    /// Adds a row as one line of text, given without its end. Rows come in the order of their numbers.
    pub fn row(&mut self, number: u64, line: &str) {
        let block = self.numbering.block(number);
        while self.block < block {
            self.end_block();
        }
        self.begun = true;
        self.text.extend_from_slice(line.as_bytes());
        self.text.push(b'\n');
        if self.text.len() >= HASHED_AT_ONCE {
            self.hasher.update(&self.text);
            self.text.clear();
        }
    }

    fn end_block(&mut self) {
        self.hasher.update(&self.text);
        self.text.clear();
        self.done.0.extend_from_slice(self.hasher.finalize().as_bytes());
        self.hasher.reset();
        self.block += 1;
        self.begun = false;
    }

    /// Ends with the last row that was added.
    #[must_use]
    pub fn finish(mut self) -> BlockDigests {
        if self.begun {
            self.end_block();
        }
        self.done
    }

    /// Ends with the block before a unit, those without a row included.
    #[must_use]
    pub fn finish_before(mut self, unit: u64) -> BlockDigests {
        while self.block < unit.div_ceil(self.numbering.block_units()) {
            self.end_block();
        }
        self.done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hashed(numbering: Numbering, units: std::ops::Range<u64>, rows: &[u64]) -> BlockDigests {
        let mut hasher = BlockHasher::new(numbering, units.start);
        rows.iter().for_each(|&number| hasher.row(number, &format!("row {number}")));
        hasher.finish_before(units.end)
    }

    #[test]
    fn the_digest_does_not_depend_on_where_parts_end() {
        let rows: Vec<u64> = (0..4321).collect();
        let whole = hashed(Numbering::Rows, 0..4321, &rows);
        for size in [1000, 2000, 5000] {
            let mut joined = BlockDigests::default();
            for part in rows.chunks(size) {
                let end = part[0] + part.len() as u64;
                joined.append(&hashed(Numbering::Rows, part[0]..end, part));
            }
            assert_eq!(joined, whole);
        }
        assert_eq!(BlockDigests::from_hex(&whole.to_hex()), Some(whole.clone()));
        assert_eq!(BlockDigests::from_hex("00"), None);
        let block = |rows: &[u64]| {
            let text: String = rows.iter().map(|row| format!("row {row}\n")).collect();
            *blake3::hash(text.as_bytes()).as_bytes()
        };
        let blocks: Vec<u8> = rows.chunks(1000).flat_map(block).collect();
        assert_eq!(whole.digest(), blake3::hash(&blocks).to_hex().to_string());
        // Nothing is hashed after the last row.
        let mut hasher = BlockHasher::new(Numbering::Rows, 0);
        rows.iter().for_each(|&number| hasher.row(number, &format!("row {number}")));
        assert_eq!(hasher.finish(), whole);
    }

    #[test]
    fn families_without_a_puzzle_have_a_digest_too() {
        let number = |family, place| Numbering::Families.first(family) + place;
        let rows = [number(1, 0), number(1, 1), number(4, 0)];
        let whole = hashed(Numbering::Families, 0..6, &rows);
        let mut joined = hashed(Numbering::Families, 0..3, &rows[..2]);
        joined.append(&hashed(Numbering::Families, 3..6, &rows[2..]));
        assert_eq!((joined, whole.0.len()), (whole.clone(), 6 * 32));
    }
}
