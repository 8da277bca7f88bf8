//! What each reader goes through for the rows of each person.

use tallyhouse_engine::Look;
use tallyhouse_engine::effort::{Glances, Learning, LookCounts};
use tallyhouse_stats::Timed;

use super::items::{Exercise, Item, Items};
use super::times::{Found, Time, Times};

/// The columns of the model: beginning a look, and glances of each kind.
pub(super) const COLUMNS: usize = 4;

/// The rows of each person as somebody who learns in this way makes the looks.
pub(super) fn rows_of(
    times: &Times,
    items: &Items,
    learning: Learning,
) -> Vec<Vec<Timed<COLUMNS>>> {
    let person = |times: &std::collections::BTreeMap<u64, Time>| {
        let mut rows = Vec::with_capacity(times.len());
        let mut memory = Memory::default();
        for (&number, time) in times {
            let Some(Item::House(exercise)) = items.get(number) else { continue };
            let counts = memory.learns(number, exercise, time.found);
            let counts =
                if learning == Learning::Remembered { counts } else { whole(exercise, time.found) };
            let Glances { cells_seen, places_gathered, tries } = counts.glances(learning);
            let counts = [1, cells_seen, places_gathered, tries].map(|count| count as f64);
            rows.push(Timed { counts, seconds: time.seconds });
        }
        rows
    };
    times.by_person.values().map(person).collect()
}

/// Tests if anybody made looks one after the other in one house, so that memory matters.
pub(super) fn has_looks_in_a_row(times: &Times, items: &Items) -> bool {
    times.by_person.values().any(|times| {
        let mut memory = Memory::default();
        times.iter().any(|(&number, time)| match items.get(number) {
            Some(Item::House(exercise)) => {
                memory.learns(number, exercise, time.found) != whole(exercise, time.found)
            }
            _ => false,
        })
    })
}

/// What a look goes through for somebody who remembers nothing.
fn whole(exercise: &Exercise, found: Found) -> LookCounts {
    match (found, exercise.to_find) {
        (Found::Yes, Some(counts)) => counts,
        _ => exercise.to_end,
    }
}

/// What somebody who remembers knows of the house of the item before.
#[derive(Default)]
struct Memory<'a> {
    before: Option<(u64, &'a Exercise)>,
    cells: bool,
    digits: bool,
}

impl<'a> Memory<'a> {
    /// Returns what a look goes through, and learns from it. Only the item that follows in the worksheet,
    /// in the same house of the same position, goes on from what is known.
    fn learns(&mut self, number: u64, exercise: &'a Exercise, found: Found) -> LookCounts {
        let goes_on = self
            .before
            .is_some_and(|(before, other)| number == before + 1 && other.place == exercise.place);
        if !goes_on {
            *self = Self::default();
        }
        let mut counts = whole(exercise, found);
        // A look for subsets learns all cells or all digits of its house.
        let known = match exercise.look {
            Look::Naked(_) => &mut self.cells,
            _ => &mut self.digits,
        };
        if std::mem::replace(known, true) {
            (counts.cells, counts.digits) = (0, 0);
        }
        self.before = Some((number, exercise));
        counts
    }
}
