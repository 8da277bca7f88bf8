//! Own questions to a dataset: how many houses, quiet positions or puzzles show what is asked for.
//!
//! Each condition speaks of puzzles, positions, houses or subsets. Those of what is counted, or of what
//! it is part of, say what is counted at all; finer ones say what counts as a hit.

mod answer;
mod columns;
mod condition;
mod error;
mod exposure;
mod groups;
mod part;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use tallyhouse_stats::Level;

pub use answer::{Answer, AnswerRow};
use columns::{Asked, Columns, Scope};
use condition::Condition;
pub use error::QuestionError;
use groups::{Group, Groups};

use crate::rates::{Moment, RateSums};
use crate::{CensusError, Dataset};

tallyhouse_words::choice! {
    /// What is counted.
    #[derive(Default)]
    pub enum Per {
        /// Houses with at least two open cells, each at each quiet position.
        #[default]
        House,
        /// Quiet positions.
        Position,
        /// Puzzles.
        Puzzle,
    }
}

/// A question to a dataset.
#[derive(Clone, Debug)]
pub struct Question {
    per: Per,
    by: Vec<Asked>,
    conditions: Vec<Condition>,
    moment: Moment,
}

impl Per {
    /// What is counted, in the words of one and of several.
    #[must_use]
    pub const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::House => ("house", "houses"),
            Self::Position => ("quiet position", "quiet positions"),
            Self::Puzzle => ("puzzle", "puzzles"),
        }
    }

    /// The finest columns that say what is counted.
    const fn scope(self) -> Scope {
        match self {
            Self::House => Scope::House,
            Self::Position => Scope::Position,
            Self::Puzzle => Scope::Puzzle,
        }
    }
}

/// What one part gives.
type PartSums = Result<RateSums<Group>, CensusError>;

impl Question {
    /// Reads a question to a dataset: the columns by which rows are told apart, and conditions such as
    /// `open = 8 and naked = 5`.
    ///
    /// # Errors
    /// If a column is unknown or can't be used so, or a condition can't be read.
    pub fn new(
        dataset: &Dataset,
        per: Per,
        by: &[String],
        conditions: &str,
    ) -> Result<Self, QuestionError> {
        let columns = Columns::of(&dataset.manifest().walk.order);
        let by = by.iter().map(|name| columns.to_group(name)).collect::<Result<Vec<_>, _>>()?;
        let conditions = condition::parse(conditions, &columns)?;
        let (moments, conditions): (Vec<Condition>, Vec<Condition>) =
            conditions.into_iter().partition(Condition::is_of_moment);
        let moment = condition::moment(&moments)?;
        let names = by.iter().chain(conditions.iter().map(|condition| &condition.column));
        if per == Per::House && names.clone().any(|column| column.name == "house") {
            return Err(QuestionError::HouseNumber);
        }
        if let Some(twice) = (1..by.len()).find(|&at| by[..at].contains(&by[at])) {
            return Err(QuestionError::Twice(by[twice].name.clone()));
        }
        Ok(Self { per, by, conditions, moment })
    }

    /// Asks a dataset, as many parts at once as there are threads.
    ///
    /// # Errors
    /// If a table is missing or damaged, or there are too many groups.
    pub fn ask(&self, dataset: &Dataset, level: Level) -> Result<Answer, CensusError> {
        let groups = Groups::default();
        let next = AtomicU64::new(0);
        let parts = dataset.manifest().parts;
        let done: Mutex<Vec<(u64, PartSums)>> = Mutex::default();
        let work = || {
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= parts {
                    break;
                }
                let sums = part::count(self, dataset, number, &groups);
                if sums.is_err() {
                    next.store(parts, Ordering::Relaxed);
                }
                done.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).push((number, sums));
            }
        };
        // Threads of their own: a pool inside the pool of polars can lock up.
        let threads = (rayon::current_num_threads() as u64).min(parts);
        std::thread::scope(|scope| (0..threads).for_each(|_| drop(scope.spawn(work))));
        let mut done = done.into_inner().unwrap_or_else(|poisoned| poisoned.into_inner());
        done.sort_by_key(|(number, _)| *number);
        let mut all = RateSums::default();
        for (_, sums) in done {
            all.append(sums?);
        }
        Answer::new(self, dataset, &groups, &all.finish(), level)
    }

    /// Conditions on columns of one scope.
    fn conditions(&self, scope: Scope) -> impl Iterator<Item = &Condition> {
        self.conditions.iter().filter(move |condition| condition.column.scope == scope)
    }

    /// Tests if a column of one scope is asked about.
    fn asks(&self, scope: Scope) -> bool {
        let at_moment = scope == Scope::Position && self.moment != Moment::Every;
        let by = self.by.iter().any(|column| column.scope == scope);
        at_moment || by || self.conditions(scope).next().is_some()
    }

    /// Tests if a column says what is counted, and not only what is a hit.
    fn is_counted_by(&self, column: &Asked) -> bool {
        column.scope <= self.per.scope()
    }
}
