//! Writing a generated collection, and going on with one that was broken off.

use std::io::{self, BufRead, Write};
use std::ops::Range;

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use super::{MakeError, Recipe, Sampling};

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

    /// Returns the head of a collection of so many units: comment lines, each with its line end.
    #[must_use]
    pub fn head(&self, count: u64) -> String {
        let lines = self.notes().into_iter().chain([format!("{}: {count}", self.units())]);
        lines.map(|line| format!("# {line}\n")).collect()
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
        // Sixteen lanes search side by side; a controlled-bias puzzle alone takes seconds.
        let (batch, window) = match self.sampling() {
            Sampling::Deletion | Sampling::Addition => (256, 16),
            Sampling::ControlledBias => (16, 2),
            Sampling::Splitting { .. } => (1, 16),
        };
        let mut undecided = 0;
        for start in units.clone().step_by(batch * window) {
            let end = units.end.min(start + (batch * window) as u64);
            let batches: Vec<_> = (start..end)
                .step_by(batch)
                .collect::<Vec<_>>()
                .into_par_iter()
                .map(|start| self.make(start..end.min(start + batch as u64)))
                .collect();
            for (number, unit) in (start..).zip(batches.into_iter().flatten()) {
                let unit = unit?;
                undecided += unit.undecided;
                for made in unit {
                    writeln!(writer, "{:.6}", made.entry(number))?;
                }
            }
            progress(end - start);
        }
        Ok(undecided)
    }

    /// Reads what was written of a collection of `count` units before it was broken off. Returns
    /// the number of whole units and of their bytes, head included; `None` if it has another head.
    ///
    /// # Errors
    /// If reading fails.
    pub fn written(&self, count: u64, reader: &mut dyn BufRead) -> io::Result<Option<(u64, u64)>> {
        let head = self.head(count);
        let mut found = vec![0; head.len()];
        match reader.read_exact(&mut found) {
            Ok(()) if found == head.as_bytes() => {}
            Err(error) if error.kind() != io::ErrorKind::UnexpectedEof => return Err(error),
            _ => return Ok(None),
        }
        let mut whole = (0, head.len() as u64);
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
                    whole = (lines, bytes);
                }
            }
        }
        Ok(Some(whole))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Wishes;

    fn text(recipe: &Recipe, units: Range<u64>) -> String {
        let mut bytes = Vec::new();
        recipe.write(units, &mut bytes, &|_| {}).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn a_broken_collection_is_continued_to_the_same_bytes() {
        for sampling in [Sampling::Deletion, Sampling::Splitting { population: 20 }] {
            let recipe = Recipe::plain(sampling, 3);
            let whole = recipe.head(12) + &text(&recipe, 0..12);
            let head = recipe.head(12).len();
            for cut in (head..=whole.len()).step_by(211) {
                let part = &whole.as_bytes()[..cut];
                let (units, bytes) = recipe.written(12, &mut &*part).unwrap().unwrap();
                let again = [&part[..bytes as usize], text(&recipe, units..12).as_bytes()].concat();
                assert_eq!(String::from_utf8(again).unwrap(), whole, "{sampling:?} {cut}");
            }
            assert_eq!(recipe.written(13, &mut whole.as_bytes()).unwrap(), None);
            assert_eq!(recipe.written(12, &mut &b"# method"[..]).unwrap(), None);
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
