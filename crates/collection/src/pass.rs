//! One pass over all rows: read in turn, worked on side by side, and folded in order.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use crate::digest::{BlockDigests, BlockHasher};
use crate::row::Row;
use crate::rows::PartRows;
use crate::{Block, Numbering, ReadError, Rows};

/// How many rows a block of a part has.
const BLOCK: usize = 1000;

/// So many parts for each thread may wait for an earlier one.
const WINDOW: u64 = 8;

/// Hears how far a pass has come; called from several threads.
pub trait Progress: Sync {
    /// More rows were worked on.
    fn advance(&self, rows: u64);

    /// A better guess of the number of rows.
    fn expect(&self, rows: u64);
}

/// Tells nobody how far a pass has come.
#[derive(Clone, Copy, Debug, Default)]
pub struct Silent;

impl Progress for Silent {
    fn advance(&self, _: u64) {}

    fn expect(&self, _: u64) {}
}

/// Rows that stand next to each other, in the hands of one thread; an iterator over their blocks.
///
/// Progress hears of the rows of a block when the next one is asked for, and of all that are left
/// when the part is dropped.
pub struct Part<'a> {
    number: u64,
    numbering: Numbering,
    units: Range<u64>,
    rows: std::vec::IntoIter<Row>,
    untold: u64,
    progress: &'a dyn Progress,
}

impl<'a> Part<'a> {
    pub(crate) fn new(
        number: u64,
        numbering: Numbering,
        rows: PartRows,
        progress: &'a dyn Progress,
    ) -> Self {
        let PartRows { units, rows } = rows;
        let untold = rows.len() as u64;
        Self { number, numbering, units, untold, rows: rows.into_iter(), progress }
    }

    /// Returns the number of the part, from 0.
    #[must_use]
    pub const fn number(&self) -> u64 {
        self.number
    }

    /// Returns the units of the part: rows of the collection, or made families.
    #[must_use]
    pub const fn units(&self) -> &Range<u64> {
        &self.units
    }

    /// Returns how many rows are left.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.rows.len() as u64
    }

    /// Returns the digests of the blocks of the part, of which no row may have been taken yet; see
    /// [`Rows`].
    #[must_use]
    pub fn blocks(&self) -> BlockDigests {
        let mut hasher = BlockHasher::new(self.numbering, self.units.start);
        for row in self.rows.as_slice() {
            hasher.row(row.number, &row.as_line());
        }
        hasher.finish_before(self.units.end)
    }

    /// Tells of all rows that are not left.
    fn tell(&mut self) {
        let told = self.untold - self.rows();
        self.untold -= told;
        if told > 0 {
            self.progress.advance(told);
        }
    }
}

impl Iterator for Part<'_> {
    type Item = Block;

    fn next(&mut self) -> Option<Block> {
        self.tell();
        let block: Block = self.rows.by_ref().take(BLOCK).map(Row::into_entry).collect();
        (!block.is_empty()).then_some(block)
    }
}

impl Drop for Part<'_> {
    fn drop(&mut self) {
        self.rows = Vec::new().into_iter();
        self.tell();
    }
}

impl Rows {
    /// Passes over all rows in parts of `size` rows, or of made families, the last perhaps shorter. Each part is worked on
    /// by one of as many threads as rayon has; what comes of the parts is folded in their order, so
    /// the result does not depend on the number of threads. Memory is bounded by a few parts for
    /// each thread, and by what comes of them.
    ///
    /// ```
    /// use tallyhouse_collection::{ReadError, Rows, Silent, Source};
    ///
    /// let text = format!("{}\nspoilt\n", ".".repeat(81));
    /// let mut rows = Rows::open(vec![Source::memory("in.txt", text.into_bytes())])?;
    /// let mut puzzles = 0;
    /// rows.pass(
    ///     1000,
    ///     &Silent,
    ///     |part| part.flatten().filter(Result::is_ok).count(),
    ///     |found| Ok::<(), ReadError>(puzzles += found),
    /// )?;
    /// assert_eq!(puzzles, 1);
    /// # Ok::<(), ReadError>(())
    /// ```
    ///
    /// # Errors
    /// If the rows can't be read to their end, and those of `fold`; the first of them in the order of
    /// rows. A part that broke off is not worked on.
    pub fn pass<T: Send, E: From<ReadError> + Send>(
        &mut self,
        size: usize,
        progress: &dyn Progress,
        work: impl Fn(Part<'_>) -> T + Sync,
        fold: impl FnMut(T) -> Result<(), E> + Send,
    ) -> Result<(), E> {
        let threads = rayon::current_num_threads();
        let reading = Mutex::new(Reading { rows: self, size, next: Some(0) });
        let folding = Folding {
            state: Mutex::new(Folded { next: 0, waiting: BTreeMap::new(), fold, ended: None }),
            moved: Condvar::new(),
            window: WINDOW * threads as u64,
        };
        std::thread::scope(|scope| {
            for _ in 0..threads {
                scope.spawn(|| {
                    let _guard = EndOnPanic(&folding);
                    while let Some((number, part)) = next_part(&reading, &folding, progress) {
                        folding.take(number, part.map(&work).map_err(E::from));
                    }
                });
            }
        });
        let folded = folding.state.into_inner().unwrap_or_else(PoisonError::into_inner);
        folded.ended.unwrap_or(Ok(()))
    }
}

/// Where the reading stands.
struct Reading<'a> {
    rows: &'a mut Rows,
    size: usize,
    /// The number of the next part; none after the last or an error.
    next: Option<u64>,
}

fn next_part<'a, T, E, F: FnMut(T) -> Result<(), E>>(
    reading: &Mutex<Reading<'_>>,
    folding: &Folding<T, E, F>,
    progress: &'a dyn Progress,
) -> Option<(u64, Result<Part<'a>, ReadError>)> {
    let mut reading = lock(reading);
    let number = reading.next.take()?;
    // Nobody else can read meanwhile, nor has to: the window is full for all.
    folding.wait_for_room(number)?;
    let size = reading.size;
    let numbering = reading.rows.numbering();
    let part = reading.rows.take_part(number, size as u64);
    let part = part.transpose()?.map(|rows| Part::new(number, numbering, rows, progress));
    if part.is_ok() {
        reading.next = Some(number + 1);
        if let Some(rows) = reading.rows.expected() {
            progress.expect(rows);
        }
    }
    Some((number, part))
}

/// Brings what comes of the parts back into their order.
struct Folding<T, E, F> {
    state: Mutex<Folded<T, E, F>>,
    moved: Condvar,
    window: u64,
}

struct Folded<T, E, F> {
    /// The number of the part that is folded next.
    next: u64,
    waiting: BTreeMap<u64, Result<T, E>>,
    fold: F,
    /// Set when no more is to be read.
    ended: Option<Result<(), E>>,
}

impl<T, E, F: FnMut(T) -> Result<(), E>> Folding<T, E, F> {
    /// Waits until few enough parts are under way; `None` if it has ended.
    fn wait_for_room(&self, number: u64) -> Option<()> {
        let mut state = lock(&self.state);
        while state.ended.is_none() && number >= state.next + self.window {
            state = self.moved.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        state.ended.is_none().then_some(())
    }

    fn take(&self, number: u64, result: Result<T, E>) {
        let mut state = lock(&self.state);
        let state = &mut *state;
        state.waiting.insert(number, result);
        while state.ended.is_none()
            && let Some(result) = state.waiting.remove(&state.next)
        {
            state.next += 1;
            if let Err(error) = result.and_then(&mut state.fold) {
                state.ended = Some(Err(error));
            }
        }
        self.moved.notify_all();
    }
}

/// Lets no thread wait for one that panicked; the scope of the threads hands the panic on.
struct EndOnPanic<'a, T, E, F: FnMut(T) -> Result<(), E>>(&'a Folding<T, E, F>);

impl<T, E, F: FnMut(T) -> Result<(), E>> Drop for EndOnPanic<'_, T, E, F> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            lock(&self.0.state).ended.get_or_insert(Ok(()));
            self.0.moved.notify_all();
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;
    use crate::Source;

    fn rows(count: usize) -> Rows {
        let text: String = (0..count).map(|row| format!("row {row}\n")).collect();
        Rows::open(vec![Source::memory("in.txt", text.into_bytes())]).unwrap()
    }

    fn in_threads<T: Send>(threads: usize, run: impl FnOnce() -> T + Send) -> T {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(run)
    }

    #[derive(Default)]
    struct Heard(AtomicU64);

    impl Progress for Heard {
        fn advance(&self, rows: u64) {
            self.0.fetch_add(rows, Ordering::Relaxed);
        }

        fn expect(&self, _: u64) {}
    }

    #[test]
    fn results_come_in_the_order_of_rows_whatever_the_threads() {
        for threads in [1, 2, 8] {
            let heard = Heard::default();
            let mut numbers = Vec::new();
            let mut lines = Vec::new();
            let work = |part: Part<'_>| {
                // Early parts take longest.
                if part.number().is_multiple_of(3) {
                    std::thread::yield_now();
                }
                let number = part.number();
                (number, part.flatten().map(|row| row.unwrap_err().line).collect::<Vec<_>>())
            };
            in_threads(threads, || {
                rows(2345).pass(10, &heard, work, |(number, more)| {
                    numbers.push(number);
                    lines.extend(more);
                    Ok::<(), ReadError>(())
                })
            })
            .unwrap();
            assert_eq!(numbers, (0..235).collect::<Vec<_>>());
            assert_eq!(lines, (1..=2345).collect::<Vec<_>>());
            assert_eq!(heard.0.into_inner(), 2345);
        }
    }

    #[test]
    fn a_part_that_is_not_looked_at_is_told_of() {
        let heard = Heard::default();
        rows(25).pass(10, &heard, |_| (), |()| Ok::<(), ReadError>(())).unwrap();
        assert_eq!(heard.0.into_inner(), 25);
    }

    #[test]
    fn the_first_error_in_the_order_of_rows_ends_the_pass() {
        for threads in [1, 5] {
            let mut folded = 0;
            let error = in_threads(threads, || {
                rows(1000).pass(
                    10,
                    &Silent,
                    |part| part.number(),
                    |number| {
                        folded += 1;
                        if number < 7 { Ok(()) } else { Err(ReadError::Empty(number.to_string())) }
                    },
                )
            });
            assert!(matches!(error, Err(ReadError::Empty(number)) if number == "7"));
            assert_eq!(folded, 8);
        }
    }

    #[test]
    #[should_panic(expected = "a scoped thread panicked")]
    fn a_panic_is_handed_on() {
        let work = |part: Part<'_>| assert_ne!(part.number(), 3);
        let _ = in_threads(3, || rows(1000).pass(1, &Silent, work, |()| Ok::<(), ReadError>(())));
    }
}
