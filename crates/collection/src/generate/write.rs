//! Writing a generated collection, and going on with one that was broken off.

use std::io::{self, BufRead, Read, Write};
use std::ops::Range;

use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_board::Puzzle;

use super::{MakeError, Recipe, Sampling, Unit};
use crate::{Numbering, Place, Source};

/// Why a generated collection was not written to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// A puzzle was not found.
    #[error(transparent)]
    Make(#[from] MakeError),
    /// Writing failed.
    #[error(transparent)]
    Io(#[from] io::Error),
}

impl Recipe {
    /// What a unit is, in the plural: puzzles, or families of puzzles.
    #[must_use]
    pub const fn units(&self) -> &'static str {
        match self.sampling() {
            Sampling::Splitting { .. } => "families",
            _ => "puzzles",
        }
    }

    /// Returns the head of a collection of these units: comment lines, each with its line end.
    #[must_use]
    pub fn head(&self, units: &Range<u64>) -> String {
        let count = format!("{}: {}", self.units(), units.end - units.start);
        let from = (units.start > 0).then(|| format!("from: {}", units.start));
        let lines = self.notes().into_iter().chain([count]).chain(from);
        lines.map(|line| format!("# {line}\n")).collect()
    }

    /// Returns how rows are numbered that are scanned while they are made.
    #[must_use]
    pub const fn numbering(&self) -> Numbering {
        match self.sampling() {
            Sampling::Splitting { .. } => Numbering::Families,
            _ => Numbering::Rows,
        }
    }

    /// Returns so many units as a source of rows, which are made when they are read.
    #[must_use]
    pub fn source(&self, count: u64) -> Source {
        let recipe = self.clone();
        let open = move |units: Range<u64>| -> io::Result<Box<dyn Read + Send>> {
            let head = if units.start == 0 { recipe.head(&(0..count)) } else { String::new() };
            let text = io::Cursor::new(head.into_bytes());
            let left = units.start..units.end.min(count);
            Ok(Box::new(MadeText { recipe: recipe.clone(), left, text }))
        };
        Source::opened_by(&self.command(count), open).with_units(count, self.numbering())
    }

    /// Returns the place in [`source`](Self::source) where a unit begins.
    #[must_use]
    pub fn place(&self, count: u64, unit: u64) -> Place {
        let head = self.head(&(0..count)).lines().count() as u64;
        let line = if unit == 0 { 0 } else { head + unit };
        Place { source: 0, offset: unit, line }
    }

    /// How many units one thread makes at a time, and how many such batches are made in one go.
    const fn batches(&self) -> (usize, usize) {
        // Sixteen lanes search side by side; a controlled-bias puzzle alone takes seconds.
        match self.sampling() {
            Sampling::Deletion | Sampling::Addition => (256, 16),
            Sampling::ControlledBias => (16, 2),
            Sampling::Splitting { .. } => (16, 16),
        }
    }

    /// Makes units in parallel.
    fn make_side_by_side(&self, units: Range<u64>) -> Vec<Result<Unit<Puzzle>, MakeError>> {
        let (batch, _) = self.batches();
        let starts: Vec<u64> = units.clone().step_by(batch).collect();
        let batches: Vec<_> = starts
            .into_par_iter()
            .map(|start| self.make(start..units.end.min(start + batch as u64)))
            .collect();
        batches.into_iter().flatten().collect()
    }

    /// Writes the puzzles of some units, one per line, with their weights and families.
    ///
    /// Works in parallel, in memory that does not grow with the number of units; `progress` hears
    /// how many more units are written. Returns how many questions about clues were left undecided;
    /// what they were asked about was not written.
    ///
    /// # Errors
    /// If a unit has no puzzle that fits, or writing fails; whole units are written until then.
    pub fn write(
        &self,
        units: Range<u64>,
        writer: &mut dyn Write,
        progress: &dyn Fn(u64),
    ) -> Result<u64, WriteError> {
        let (batch, most) = self.batches();
        // Wishes may be hopeless: that shows in one batch as in many.
        let mut window = if self.is_plain() { most } else { 1 };
        let mut undecided = 0;
        let mut start = units.start;
        while start < units.end {
            let end = units.end.min(start + (batch * window) as u64);
            for (number, unit) in (start..).zip(self.make_side_by_side(start..end)) {
                let unit = unit?;
                undecided += unit.undecided;
                for made in unit {
                    writeln!(writer, "{:.6}", made.entry(number))?;
                }
            }
            progress(end - start);
            start = end;
            window = most.min(2 * window);
        }
        Ok(undecided)
    }

    /// Reads what was written of a collection of these units before it was broken off. Returns the
    /// first unit that is not whole, and the bytes before it, head included; `None` if it has another
    /// head.
    ///
    /// # Errors
    /// If reading fails.
    pub fn written(
        &self,
        units: &Range<u64>,
        reader: &mut dyn BufRead,
    ) -> io::Result<Option<(u64, u64)>> {
        let head = self.head(units);
        let mut found = vec![0; head.len()];
        match reader.read_exact(&mut found) {
            Ok(()) if found == head.as_bytes() => {}
            Err(error) if error.kind() != io::ErrorKind::UnexpectedEof => return Err(error),
            _ => return Ok(None),
        }
        let mut whole = (units.start, head.len() as u64);
        let (mut bytes, mut lines) = (whole.1, 0);
        let mut text = Vec::new();
        loop {
            text.clear();
            let read = reader.read_until(b'\n', &mut text)?;
            if read == 0 || text.last() != Some(&b'\n') {
                break;
            }
            lines += 1;
            match self.sampling() {
                Sampling::Splitting { .. } => {
                    // The last family may lack some of its puzzles: it is made again.
                    let text = String::from_utf8_lossy(&text);
                    let family = text.trim_end().rsplit('=').next().and_then(|n| n.parse().ok());
                    let Some(family) = family else { break };
                    if family != whole.0 || lines == 1 {
                        whole = (family, bytes);
                    }
                    bytes += read as u64;
                }
                _ => {
                    bytes += read as u64;
                    whole = (units.start + lines, bytes);
                }
            }
        }
        Ok(Some(whole))
    }
}

/// The text of units that are made when it is read.
struct MadeText {
    recipe: Recipe,
    left: Range<u64>,
    text: io::Cursor<Vec<u8>>,
}

impl Read for MadeText {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let read = self.text.read(buffer)?;
            if read > 0 || buffer.is_empty() || self.left.is_empty() {
                return Ok(read);
            }
            let (batch, window) = self.recipe.batches();
            let end = self.left.end.min(self.left.start + (batch * window) as u64);
            let mut text = Vec::new();
            let made = self.recipe.write(self.left.start..end, &mut text, &|_| {});
            made.map_err(io::Error::other)?;
            self.left.start = end;
            self.text = io::Cursor::new(text);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BlockDigests, Part, Rows, Silent, Wishes};

    fn text(recipe: &Recipe, units: Range<u64>) -> String {
        let mut bytes = Vec::new();
        recipe.write(units, &mut bytes, &|_| {}).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn a_broken_collection_is_continued_to_the_same_bytes() {
        for sampling in [Sampling::Deletion, Sampling::Splitting { population: 20 }] {
            let recipe = Recipe::plain(sampling, 3);
            for wanted in [0..12, 5..17] {
                let whole = recipe.head(&wanted) + &text(&recipe, wanted.clone());
                let head = recipe.head(&wanted).len();
                for cut in (head..=whole.len()).step_by(211) {
                    let part = &whole.as_bytes()[..cut];
                    let (next, bytes) = recipe.written(&wanted, &mut &*part).unwrap().unwrap();
                    let rest = text(&recipe, next..wanted.end);
                    let again = [&part[..bytes as usize], rest.as_bytes()].concat();
                    assert_eq!(String::from_utf8(again).unwrap(), whole, "{sampling:?} {cut}");
                }
                let more = wanted.start..wanted.end + 1;
                assert_eq!(recipe.written(&more, &mut whole.as_bytes()).unwrap(), None);
                assert_eq!(recipe.written(&wanted, &mut &b"# method"[..]).unwrap(), None);
            }
        }
    }

    /// Parts of what is made are made by themselves, families too.
    #[test]
    fn parts_that_are_made_are_those_of_the_whole() {
        for (sampling, count, size) in
            [(Sampling::Deletion, 2500, 1000), (Sampling::Splitting { population: 30 }, 21, 5)]
        {
            let recipe = Recipe::plain(sampling, 3);
            let sources = [recipe.source(count)];
            let mut whole = Vec::new();
            let mut blocks = BlockDigests::default();
            let pass = Rows::open(sources.to_vec()).unwrap().pass(
                size,
                &Silent,
                |part| (part.blocks(), part.flatten().collect::<Vec<_>>()),
                |(more, rows)| {
                    blocks.append(&more);
                    whole.extend(rows);
                    Ok::<(), crate::ReadError>(())
                },
            );
            pass.unwrap();
            let mut apart = Vec::new();
            let mut apart_blocks = BlockDigests::default();
            for number in 0..count.div_ceil(size as u64) {
                let first = number * size as u64;
                let place = recipe.place(count, first);
                let part = Part::read(&sources, &place, number, size as u64, &Silent).unwrap();
                assert_eq!(*part.units(), first..count.min(first + size as u64));
                apart_blocks.append(&part.blocks());
                apart.extend(part.flatten());
            }
            assert_eq!(apart, whole);
            assert_eq!(apart_blocks, blocks);
            let made = recipe.make(0..count).into_iter().map(|unit| unit.unwrap().made);
            let mut number = 0;
            let mut expected = Vec::new();
            for (unit, made) in (0..).zip(made) {
                number = recipe.numbering().first(unit).max(number);
                for one in made {
                    expected.push((number, one.puzzle, one.family));
                    number += 1;
                }
                if sampling == Sampling::Deletion {
                    number = unit + 1;
                }
            }
            let entry = |row: &Result<crate::Entry, crate::Reject>| {
                let entry = row.as_ref().unwrap();
                (entry.number, entry.puzzle, entry.family)
            };
            assert_eq!(whole.iter().map(entry).collect::<Vec<_>>(), expected);
        }
    }

    #[test]
    fn a_wish_that_is_never_met_ends_the_writing_with_an_error() {
        let wishes = Wishes { clues: Some(17..=17), ..Wishes::default() };
        let recipe = Recipe::new(Sampling::Deletion, wishes, 1).unwrap().with_most_tries(2);
        let error = recipe.write(4..5, &mut Vec::new(), &|_| {}).unwrap_err();
        assert_eq!(error.to_string(), "puzzle 4: nothing that fits the wishes in 2 tries");
    }
}
