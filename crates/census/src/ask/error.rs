/// Why a question can't be asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum QuestionError {
    /// No such column.
    #[error("no column {found:?}; expected one of {expected}")]
    NoColumn {
        /// What was asked for.
        found: String,
        /// The columns there are.
        expected: String,
    },
    /// A condition that can't be read.
    #[error(
        "found {found:?}, expected conditions joined by 'and', each a column, one of = != < <= > >=, and a value, as in open = 8 and naked >= 2"
    )]
    NoCondition {
        /// The condition.
        found: String,
    },
    /// A value that a column can't have.
    #[error("found {found:?} for the column {column}, expected {expected}")]
    NoValue {
        /// The column.
        column: String,
        /// What was asked for.
        found: String,
        /// What it holds.
        expected: String,
    },
    /// Words have no order.
    #[error("the column {0} holds words: use = or !=")]
    NoOrder(String),
    /// Several moments at once.
    #[error("one moment is asked about at a time, as in moment = first; ask once for each")]
    OneMoment,
    /// Groups by moment.
    #[error("moments share positions: ask for one at a time with --where 'moment = first'")]
    ByMoment,
    /// Groups by weight.
    #[error("the column {0} has too many values to group by")]
    ByDecimal(String),
    /// A column that is named twice.
    #[error("the column {0} is named twice")]
    Twice(String),
    /// Houses by number.
    #[error(
        "positions count houses by kind and open count, not one by one: ask for house per position or per puzzle"
    )]
    HouseNumber,
}
