//! Effort: what looks cost a person, in glances.
//!
//! A model with stated assumptions, not a measure of "the" difficulty. Pencil marks are visible, one
//! list per cell. With n open cells in a house:
//!
//! * A naked look of size k sees each open cell once, to learn which hold 2 to k candidates; then it
//!   searches depth-first in the order of cells: it starts from each eligible cell and tries each
//!   later eligible cell, one glance per try, keeping it if the union has at most k digits. It ends
//!   at the first find or when exhausted.
//! * A hidden look of size h gathers the places of each missing digit, n glances per digit; then the
//!   same search runs over the digits with 2 to h places, in the order of digits.
//!
//! Where these sentences leave freedom, this module decides:
//!
//! * **Where a look is made.** In houses whose open count lies in the look's range and, for sizes
//!   from 2, exceeds the size: a split needs a cell on its other side. Elsewhere it costs nothing;
//!   the number of open cells is plain to see.
//! * **Singles.** For size 1 the range "2 to 1" is empty and there is nothing to search. The naked
//!   look sees cell after cell and ends at the first with one candidate; the hidden look gathers
//!   digit after digit and ends at the first with one place. What it ends at is counted.
//! * **Sizes from 2** see all n cells, or gather all n missing digits (n² places), before the search
//!   begins. The missing digits are those not fixed in the house.
//! * **Tries.** To start from a cell is no try, to add a later one is. A kept set may have fewer
//!   than k digits in its union; the search goes deeper from it at once. There is no looking ahead:
//!   cells are tried even where too few remain to reach k.
//! * **The end.** A full set of k cells ends the search if it is what [`Look`] finds: a tight set
//!   (exactly k digits) with eliminations, naked-proper for a naked look, hidden-proper for a hidden
//!   one. Tight sets without eliminations and sets that are not proper are tried and passed over. On
//!   the ladder the latter never occur: if T is a smaller tight set inside a productive S, then T is
//!   productive or, T having no eliminations, S∖T is; so an earlier look would have found something.
//!   They do occur where smaller sizes are not looked for.
//! * **Free of charge:** seeing whether a full set has eliminations, crossing them out, writing a
//!   digit, going on to the next house. Nothing is remembered from one look to the next.
//! * **Box–line intersections**: n places gathered for each missing digit of the confining house, all
//!   of them before the first is judged; with or without a find.
//!
//! The order of cells is that of [`House::cells`](tallyhouse_board::House::cells). So a naked look's
//! cost does not change when digits are renamed, and a hidden look's not when cells are moved, but
//! not the other way round.
//!
//! [`Look`]: crate::Look
//!
//! ```
//! use tallyhouse_board::{House, Puzzle};
//! use tallyhouse_engine::Order;
//! use tallyhouse_engine::effort::{GlanceWeights, effort_walk};
//!
//! // A blank board: each look fails in 27 houses of nine open cells; naked looks see nine cells in
//! // each, hidden ones gather 81 places.
//! let (puzzle, houses): (Puzzle, Vec<House>) = (".".repeat(81).parse()?, House::all().collect());
//! let effort = effort_walk(&puzzle, &Order::ladder(), &houses, |_, _, _| {});
//! assert!(effort.looks.iter().all(|look| (look.found, look.failed) == (0, 1)));
//! assert_eq!(effort.total().cost(&GlanceWeights::default()), f64::from(4 * 27 * (9 + 81)));
//! # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
//! ```

mod compared;
mod due;
mod glances;
mod house;
mod limits;
mod paired;
mod reader;
#[cfg(test)]
mod reference;
mod search;
mod walk;
mod walker;

pub use compared::{ComparedLooks, ComparedWalker, due_with};
pub use due::{DueFailures, DueLooks, DueWalk, DueWalker, FailureSums, LookSums};
pub use glances::{GlanceWeights, Glances, WeightError};
pub use house::{HouseEffort, each_look, look_effort, look_to_the_end, make_looks};
pub use limits::look_limits;
pub use paired::{PairedEffort, SideEffort, paired_efforts};
pub use reader::{Learning, LookCounts, Reader};
pub use walk::{LookEffort, WalkEffort, effort_walk};
pub use walker::{EffortEnd, EffortHalfway, EffortWalker};
