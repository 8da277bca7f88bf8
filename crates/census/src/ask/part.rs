//! The answer of one part.

use std::iter::Peekable;
use std::vec::IntoIter;

use polars::prelude::{
    DataType, Expr, Float64Type, Int64Type, IntoLazy, JoinArgs, JoinType, LazyFrame,
    SortMultipleOptions, UInt32Type, col, len, lit,
};
use tallyhouse_board::HouseKind;
use tallyhouse_collection::Weight;

use super::columns::{Asked, Scope};
use super::exposure::{CHECKED, OfHouses, positions, with_kinds};
use super::groups::{Group, Groups, Known, Values};
use super::{Per, Question};
use crate::rates::{Moment, RateSums};
use crate::table_file::TableFile;
use crate::tables::{PUZZLES, SUBSETS};
use crate::{CensusError, Dataset};

/// The name of a column that tells groups apart, in queries; keys of rows keep their own.
fn by(column: &Asked) -> String {
    format!("by {}", column.name)
}

/// The number of what is counted, in queries.
const COUNT: &str = "count";

/// Counts what a question asks of a part.
pub(super) fn count(
    question: &Question,
    dataset: &Dataset,
    part: u64,
    groups: &Groups,
) -> Result<RateSums<Group>, CensusError> {
    let query = Query { question, dataset, part };
    let table = dataset.table(&PUZZLES, part, &query.puzzle_columns())?;
    let puzzles = query.puzzles(&table);
    let positions = query.positions()?;
    let (counted, houses) = query.counted(&table, &puzzles, positions.as_ref())?;
    let hits = query.hits(&table, &puzzles, positions.as_ref())?;
    let mut known = groups.known();
    let mut counted = Rows::new(&counted)?.of_counted(question, &houses, &mut known)?;
    let mut hits = Rows::new(&hits)?.of_hits(question, &mut known)?;
    let mut sums = RateSums::default();
    let mut add = |puzzle: i64, weight, family| {
        let mut all = take(&mut counted, puzzle);
        all.extend(take(&mut hits, puzzle));
        sums.add(weight, family, &all);
    };
    if !query.is_weighted() {
        let mut puzzles: Vec<i64> = table.numbers::<Int64Type>("puzzle")?;
        puzzles.dedup();
        puzzles.into_iter().for_each(|puzzle| add(puzzle, None, None));
        return Ok(sums);
    }
    let families = table.optional::<Int64Type>("family")?;
    let weights = table.numbers::<Float64Type>("weight")?;
    let puzzles = table.numbers::<Int64Type>("puzzle")?;
    for ((puzzle, weight), family) in puzzles.into_iter().zip(weights).zip(families) {
        // A double keeps a weight to the millionth; it is never negative.
        let weight = Weight::from_millionths((weight * 1e6).round() as u64);
        let family = family.map(i64::cast_unsigned);
        add(puzzle, weight.filter(|weight| *weight != Weight::ONE), family);
    }
    Ok(sums)
}

/// What a puzzle counts.
type OfPuzzle = (i64, Vec<(Group, u32)>);

/// Takes what the next puzzle counts, if it counts anything.
fn take(rows: &mut Peekable<IntoIter<OfPuzzle>>, puzzle: i64) -> Vec<(Group, u32)> {
    rows.next_if(|(number, _)| *number == puzzle).map(|(_, counted)| counted).unwrap_or_default()
}

/// A question to one part.
struct Query<'a> {
    question: &'a Question,
    dataset: &'a Dataset,
    part: u64,
}

impl Query<'_> {
    fn is_weighted(&self) -> bool {
        self.dataset.manifest().totals.weighted > 0
    }

    /// Columns that are asked about, of one scope.
    fn asked(&self, scope: Scope) -> impl Iterator<Item = &Asked> {
        let conditions = self.question.conditions.iter().map(|condition| &condition.column);
        let all = self.question.by.iter().chain(conditions);
        all.filter(move |column| column.scope == scope)
    }

    /// The columns to be read of one scope, beside the keys of a row.
    fn columns<'a>(&'a self, keys: &[&'a str], scopes: &[Scope]) -> Vec<&'a str> {
        let mut columns = keys.to_vec();
        let asked = scopes.iter().flat_map(|scope| self.asked(*scope));
        for name in asked.flat_map(Asked::made_of) {
            if !columns.contains(&name) {
                columns.push(name);
            }
        }
        columns
    }

    fn puzzle_columns(&self) -> Vec<&str> {
        let keys: &[&str] =
            if self.is_weighted() { &["puzzle", "weight", "family"] } else { &["puzzle"] };
        self.columns(keys, &[Scope::Puzzle])
    }

    /// Keeps the rows that the conditions of some scopes hold for, with these columns and those that tell
    /// groups apart.
    fn narrowed(&self, rows: LazyFrame, scopes: &[Scope], keep: Vec<Expr>) -> LazyFrame {
        let conditions = scopes.iter().flat_map(|scope| self.question.conditions(*scope));
        let rows = conditions.fold(rows, |rows, condition| rows.filter(condition.expression()));
        let groups = self.question.by.iter().filter(|column| scopes.contains(&column.scope));
        let groups = groups.map(|column| column.number().alias(by(column)));
        rows.select(keep.into_iter().chain(groups).collect::<Vec<_>>())
    }

    fn puzzles(&self, table: &TableFile) -> LazyFrame {
        self.narrowed(table.lazy(), &[Scope::Puzzle], vec![col("puzzle")])
    }

    /// The houses that are counted, by kind and open count as far as that is asked.
    fn houses(&self) -> Vec<OfHouses> {
        let question = self.question;
        if question.per != Per::House {
            return Vec::new();
        }
        let holds = |name: &str, value: i64| {
            let conditions = question.conditions(Scope::House);
            conditions.filter(|one| one.column.name == name).all(|one| one.holds(value))
        };
        let by_kind = self.asked(Scope::House).any(|column| column.name == "house_kind");
        let kinds: Vec<Option<HouseKind>> = if by_kind {
            let kinds = HouseKind::ALL.into_iter();
            kinds.filter(|kind| holds("house_kind", *kind as i64)).map(Some).collect()
        } else {
            vec![None]
        };
        let open: Vec<u8> = (2..=9).filter(|open| holds("open", i64::from(*open))).collect();
        let of_kind = |kind: &Option<HouseKind>| {
            let kind = *kind;
            open.iter().map(move |open| OfHouses { kind, open: *open }).collect::<Vec<_>>()
        };
        kinds.iter().flat_map(of_kind).collect()
    }

    /// The positions that count, with their houses; `None` if all do and none is counted.
    fn positions(&self) -> Result<Option<LazyFrame>, CensusError> {
        let question = self.question;
        let is_asked = question.asks(Scope::Position);
        if question.per == Per::Puzzle && !is_asked {
            return Ok(None);
        }
        let houses = self.houses();
        let names: Vec<String> =
            houses.iter().map(|of| OfHouses { kind: None, ..of.clone() }.name()).collect();
        let by_kind = houses.iter().any(|of| of.kind.is_some());
        let mut columns = self.columns(&["puzzle", "position"], &[Scope::Position]);
        let more = names.iter().map(String::as_str).chain(by_kind.then_some(CHECKED));
        let at_moment = (question.moment == Moment::Moving).then_some("look_applied");
        for name in more.chain(at_moment) {
            if !columns.contains(&name) {
                columns.push(name);
            }
        }
        let table = positions(self.dataset, self.part, &columns)?;
        let frame = if by_kind {
            with_kinds(self.dataset, self.part, &table, &houses)?
        } else {
            table.frame().clone()
        };
        let rows = match question.moment {
            Moment::Every => frame.lazy(),
            Moment::First => frame.lazy().filter(col("position").eq(lit(0u16))),
            Moment::Moving => frame.lazy().filter(col("look_applied").is_not_null()),
        };
        let keys = [col("puzzle"), col("position")].into_iter();
        let keep = keys.chain(houses.iter().map(|of| col(of.name()).cast(DataType::UInt32)));
        Ok(Some(self.narrowed(rows, &[Scope::Position], keep.collect())))
    }

    /// What is counted by puzzle and group, puzzles in order, and the columns that count houses.
    fn counted(
        &self,
        table: &TableFile,
        puzzles: &LazyFrame,
        positions: Option<&LazyFrame>,
    ) -> Result<(TableFile, Vec<OfHouses>), CensusError> {
        let question = self.question;
        let houses = self.houses();
        let groups = question
            .by
            .iter()
            .filter(|column| question.is_counted_by(column) && column.scope < Scope::House)
            .map(|column| col(by(column)));
        let keys: Vec<Expr> = [col("puzzle")].into_iter().chain(groups).collect();
        let counted = match (question.per, positions) {
            (Per::Puzzle, _) | (_, None) => {
                puzzles.clone().group_by(keys).agg([len().cast(DataType::UInt32).alias(COUNT)])
            }
            (Per::Position | Per::House, Some(positions)) => {
                let rows = self.of_puzzles(positions.clone(), puzzles);
                let mut sums = vec![len().cast(DataType::UInt32).alias(COUNT)];
                sums.extend(houses.iter().map(|of| col(of.name()).sum()));
                rows.group_by(keys).agg(sums)
            }
        };
        Ok((table.collect(in_order(counted))?, houses))
    }

    /// Joins what puzzles are asked about.
    fn of_puzzles(&self, rows: LazyFrame, puzzles: &LazyFrame) -> LazyFrame {
        if !self.question.asks(Scope::Puzzle) {
            return rows;
        }
        let key = [col("puzzle")];
        rows.join(puzzles.clone(), &key, &key, JoinArgs::new(JoinType::Inner))
    }

    /// What is a hit, by puzzle and group, puzzles in order.
    fn hits(
        &self,
        table: &TableFile,
        puzzles: &LazyFrame,
        positions: Option<&LazyFrame>,
    ) -> Result<TableFile, CensusError> {
        let question = self.question;
        let units: &[&str] = match question.per {
            Per::House => &["puzzle", "position", "house_kind", "house"],
            Per::Position => &["puzzle", "position"],
            Per::Puzzle => &["puzzle"],
        };
        let at: &[&str] = if units.len() == 4 { units } else { &["puzzle", "position"] };
        let scopes = [Scope::House, Scope::Subset];
        let subsets = self.dataset.table(&SUBSETS, self.part, &self.columns(at, &scopes))?;
        let keep = at.iter().map(|name| col(*name)).collect();
        let mut rows = self.narrowed(subsets.lazy(), &scopes, keep);
        if let (true, Some(positions)) = (question.asks(Scope::Position), positions) {
            let key = [col("puzzle"), col("position")];
            rows = rows.join(positions.clone(), &key, &key, JoinArgs::new(JoinType::Inner));
        }
        let rows = self.of_puzzles(rows, puzzles);
        let groups: Vec<Expr> = question.by.iter().map(|column| col(by(column))).collect();
        let units = units.iter().map(|name| col(*name));
        let each: Vec<Expr> = units.chain(groups.iter().cloned()).collect();
        let keys: Vec<Expr> = [col("puzzle")].into_iter().chain(groups).collect();
        let once = rows.group_by(each).agg([len().alias("times")]);
        let hits = once.group_by(keys).agg([len().cast(DataType::UInt32).alias(COUNT)]);
        table.collect(in_order(hits))
    }
}

fn in_order(rows: LazyFrame) -> LazyFrame {
    rows.sort(["puzzle"], SortMultipleOptions::default())
}

/// The rows that a query came to, puzzles in order.
struct Rows<'a> {
    table: &'a TableFile,
    puzzles: Vec<i64>,
}

impl<'a> Rows<'a> {
    fn new(table: &'a TableFile) -> Result<Self, CensusError> {
        Ok(Self { table, puzzles: table.numbers::<Int64Type>("puzzle")? })
    }

    /// The values of a column in each row; what is no column of the query has none yet.
    fn groups(&self, columns: &[&Asked]) -> Result<Vec<Values>, CensusError> {
        let mut values = vec![vec![None; columns.len()]; self.puzzles.len()];
        for (at, column) in columns.iter().enumerate() {
            if self.table.has_column(&by(column)) {
                let found = self.table.optional::<Int64Type>(&by(column))?;
                values.iter_mut().zip(found).for_each(|(values, found)| values[at] = found);
            }
        }
        Ok(values)
    }

    /// Puts what rows count beside their puzzles; a puzzle counts each group once.
    fn of_puzzles(&self, rows: Vec<Vec<(Group, u32)>>) -> Peekable<IntoIter<OfPuzzle>> {
        let mut all: Vec<OfPuzzle> = Vec::new();
        for (puzzle, counted) in self.puzzles.iter().zip(rows) {
            match all.last_mut() {
                Some((last, of_puzzle)) if last == puzzle => of_puzzle.extend(counted),
                _ => all.push((*puzzle, counted)),
            }
        }
        all.into_iter().peekable()
    }

    fn of_counted(
        &self,
        question: &Question,
        houses: &[OfHouses],
        known: &mut Known<'_>,
    ) -> Result<Peekable<IntoIter<OfPuzzle>>, CensusError> {
        let columns: Vec<&Asked> =
            question.by.iter().filter(|column| question.is_counted_by(column)).collect();
        let mut rows = vec![Vec::new(); self.puzzles.len()];
        let groups = self.groups(&columns)?;
        if question.per != Per::House {
            let counts = self.table.numbers::<UInt32Type>(COUNT)?;
            for ((row, values), count) in rows.iter_mut().zip(&groups).zip(counts) {
                row.push((known.counted(values)?, count));
            }
            return Ok(self.of_puzzles(rows));
        }
        let place = |name: &str| columns.iter().position(|column| column.name == name);
        let (open_at, kind_at) = (place("open"), place("house_kind"));
        for of in houses {
            let counts = self.table.numbers::<UInt32Type>(&of.name())?;
            for ((row, values), count) in rows.iter_mut().zip(&groups).zip(counts) {
                let mut values = values.clone();
                if let Some(at) = open_at {
                    values[at] = Some(of.open.into());
                }
                if let (Some(at), Some(kind)) = (kind_at, of.kind) {
                    values[at] = Some(kind as i64);
                }
                add(row, known.counted(&values)?, count);
            }
        }
        Ok(self.of_puzzles(rows))
    }

    fn of_hits(
        &self,
        question: &Question,
        known: &mut Known<'_>,
    ) -> Result<Peekable<IntoIter<OfPuzzle>>, CensusError> {
        let (counted, finer): (Vec<&Asked>, Vec<&Asked>) =
            question.by.iter().partition(|column| question.is_counted_by(column));
        let counts = self.table.numbers::<UInt32Type>(COUNT)?;
        let groups = self.groups(&counted)?.into_iter().zip(self.groups(&finer)?);
        let row = |((counted, finer), count): ((Values, Values), u32)| {
            let group = known.counted(&counted)?;
            Ok(vec![(known.hits(group, &finer)?, count)])
        };
        let rows = groups.zip(counts).map(row).collect::<Result<_, CensusError>>()?;
        Ok(self.of_puzzles(rows))
    }
}

/// Adds to what is counted of a group.
fn add(row: &mut Vec<(Group, u32)>, group: Group, count: u32) {
    match row.iter_mut().find(|(other, _)| *other == group) {
        Some((_, sum)) => *sum += count,
        None if count > 0 => row.push((group, count)),
        None => {}
    }
}
