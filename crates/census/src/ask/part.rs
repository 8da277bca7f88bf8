//! The answer of one part: its tables side by side, puzzle by puzzle.

use polars::prelude::{Int64Chunked, Int64Type};
use tallyhouse_board::HouseKind;
use tallyhouse_collection::Weight;

use super::columns::{Asked, Scope};
use super::exposure::{CHECKED, OfHouses, houses_by_row};
use super::groups::{Group, Groups, Known, Values};
use super::{Per, Question};
use crate::rates::{Moment, RateSums};
use crate::table_file::TableFile;
use crate::tables::{POSITIONS, PUZZLES, SUBSETS};
use crate::{CensusError, Dataset};

/// Counts what a question asks of a part.
pub(super) fn count(
    question: &Question,
    dataset: &Dataset,
    part: u64,
    groups: &Groups,
) -> Result<RateSums<Group>, CensusError> {
    let query = Query { question, dataset, part };
    let table = dataset.table(&PUZZLES, part, &query.puzzle_columns())?;
    let puzzles = Rows::new(question, &table, &[Scope::Puzzle])?;
    let mut counter = Counter {
        question,
        positions: query.positions()?,
        subsets: query.subsets()?,
        known: groups.known(),
        values: question.no_values(),
    };
    let weighed = query
        .is_weighted()
        .then(|| Ok::<_, CensusError>((table.weights()?, table.integers("family")?)));
    let weighed = weighed.transpose()?;
    let mut sums = RateSums::default();
    for (row, puzzle) in puzzles.puzzles.iter().enumerate() {
        let all = counter.of_puzzle(&puzzles, row, *puzzle)?;
        let (weight, family) = match &weighed {
            Some((weights, families)) => (Some(weights[row]), families.get(row)),
            None => (None, None),
        };
        let weight = weight.filter(|weight| *weight != Weight::ONE);
        sums.add(weight, family.map(i64::cast_unsigned), &all);
    }
    Ok(sums)
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

    /// The columns to be read of some scopes, beside the keys of a row.
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
    fn positions(&self) -> Result<Option<Positions>, CensusError> {
        let question = self.question;
        if question.per == Per::Puzzle && !question.asks(Scope::Position) {
            return Ok(None);
        }
        let houses = self.houses();
        let mut columns = self.columns(&["puzzle", "position"], &[Scope::Position]);
        let names: Vec<String> = if houses.iter().any(|of| of.kind.is_some()) {
            vec![CHECKED.to_owned()]
        } else {
            houses.iter().map(OfHouses::column).collect()
        };
        let at_moment = (question.moment == Moment::Moving).then_some("look_applied");
        let more = names.iter().map(String::as_str);
        for name in more.chain(at_moment) {
            if !columns.contains(&name) {
                columns.push(name);
            }
        }
        let table = self.dataset.table(&POSITIONS, self.part, &columns)?;
        let houses = houses_by_row(self.dataset, self.part, &table, houses)?;
        let mut rows = Rows::new(question, &table, &[Scope::Position])?;
        let numbers = table.integers("position")?;
        match question.moment {
            Moment::Every => {}
            Moment::First => rows.narrow(numbers.iter().map(|number| number == Some(0))),
            Moment::Moving => {
                rows.narrow(table.integers("look_applied")?.iter().map(|look| look.is_some()));
            }
        }
        Ok(Some(Positions { rows, numbers, houses }))
    }

    fn subsets(&self) -> Result<Subsets, CensusError> {
        let keys = ["puzzle", "position", "house_kind", "house"];
        // What tells rows apart, and what of it tells hits of a puzzle apart.
        let (keys, units) = match self.question.per {
            Per::House => (&keys[..], &keys[1..]),
            Per::Position => (&keys[..2], &keys[1..2]),
            Per::Puzzle => (&keys[..2], &keys[..0]),
        };
        let scopes = [Scope::House, Scope::Subset];
        let table = self.dataset.table(&SUBSETS, self.part, &self.columns(keys, &scopes))?;
        Ok(Subsets {
            rows: Rows::new(self.question, &table, &scopes)?,
            positions: table.integers("position")?,
            units: units.iter().map(|name| table.integers(name)).collect::<Result<_, _>>()?,
        })
    }
}

/// The rows of a table, puzzle by puzzle, as far as conditions hold for them.
struct Rows {
    puzzles: Vec<i64>,
    counts: Vec<bool>,
    /// The columns that tell groups apart, with their places among the values.
    by: Vec<(Place, Int64Chunked)>,
    /// The first row of the next puzzle.
    next: usize,
}

/// The positions of a part.
struct Positions {
    rows: Rows,
    numbers: Int64Chunked,
    houses: Vec<(OfHouses, Vec<u8>)>,
}

/// The subsets of a part.
struct Subsets {
    rows: Rows,
    positions: Int64Chunked,
    /// What tells hits apart within a puzzle.
    units: Vec<Int64Chunked>,
}

/// Where a value stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    /// Among those that say what is counted.
    Counted(usize),
    /// Among those that only say what is a hit.
    Finer(usize),
}

/// The values of the columns that tell groups apart.
struct GroupValues {
    counted: Values,
    finer: Values,
}

impl GroupValues {
    fn set(&mut self, place: Place, value: Option<i64>) {
        match place {
            Place::Counted(at) => self.counted[at] = value,
            Place::Finer(at) => self.finer[at] = value,
        }
    }
}

impl Question {
    fn no_values(&self) -> GroupValues {
        let counted = self.by.iter().filter(|column| self.is_counted_by(column)).count();
        GroupValues { counted: vec![None; counted], finer: vec![None; self.by.len() - counted] }
    }

    /// The place of each column that tells groups apart.
    fn places(&self) -> impl Iterator<Item = (Place, &Asked)> {
        let (mut counted, mut finer) = (0.., 0..);
        self.by.iter().filter_map(move |column| {
            let place = if self.is_counted_by(column) {
                Place::Counted(counted.next()?)
            } else {
                Place::Finer(finer.next()?)
            };
            Some((place, column))
        })
    }

    fn place(&self, name: &str) -> Option<Place> {
        self.places().find(|(_, column)| column.name == name).map(|(place, _)| place)
    }
}

impl Rows {
    fn new(question: &Question, table: &TableFile, scopes: &[Scope]) -> Result<Self, CensusError> {
        let puzzles = table.numbers::<Int64Type>("puzzle")?;
        if !puzzles.is_sorted() {
            return Err(table.damaged("its puzzles are not in order"));
        }
        let mut counts = vec![true; puzzles.len()];
        for condition in scopes.iter().flat_map(|scope| question.conditions(*scope)) {
            condition.narrow(table, &mut counts)?;
        }
        let by = question.places().filter(|(_, column)| scopes.contains(&column.scope));
        let by = by.map(|(place, column)| Ok((place, column.integers(table)?)));
        Ok(Self { counts, by: by.collect::<Result<_, CensusError>>()?, puzzles, next: 0 })
    }

    fn narrow(&mut self, holds: impl Iterator<Item = bool>) {
        self.counts.iter_mut().zip(holds).for_each(|(counts, holds)| *counts &= holds);
    }

    /// Takes the rows of a puzzle that count; puzzles come in order.
    fn take(&mut self, puzzle: i64) -> Vec<usize> {
        let rest = &self.puzzles[self.next..];
        let skipped = rest.iter().take_while(|other| **other < puzzle).count();
        let rows = rest[skipped..].iter().take_while(|other| **other == puzzle).count();
        let start = self.next + skipped;
        self.next = start + rows;
        (start..self.next).filter(|row| self.counts[*row]).collect()
    }

    fn put(&self, row: usize, values: &mut GroupValues) {
        self.by.iter().for_each(|(place, column)| values.set(*place, column.get(row)));
    }
}

/// Counts puzzle by puzzle.
struct Counter<'a> {
    question: &'a Question,
    positions: Option<Positions>,
    subsets: Subsets,
    known: Known<'a>,
    values: GroupValues,
}

impl Counter<'_> {
    /// Returns what a puzzle counts, each group once.
    fn of_puzzle(
        &mut self,
        puzzles: &Rows,
        row: usize,
        puzzle: i64,
    ) -> Result<Vec<(Group, u32)>, CensusError> {
        let mut all = Vec::new();
        if !puzzles.counts[row] {
            return Ok(all);
        }
        let Self { question, values, known, subsets, .. } = self;
        puzzles.put(row, values);
        if question.per == Per::Puzzle {
            add(&mut all, known.counted(&values.counted)?, 1);
        }
        let mut met = Vec::new();
        if let Some(positions) = &mut self.positions {
            met = positions.rows.take(puzzle);
            for at in &met {
                positions.rows.put(*at, values);
                match question.per {
                    Per::Puzzle => {}
                    Per::Position => add(&mut all, known.counted(&values.counted)?, 1),
                    Per::House => positions.count_houses(*at, question, values, known, &mut all)?,
                }
            }
        }
        let met_only = self.positions.as_ref().filter(|_| question.asks(Scope::Position));
        let mut hits: Vec<(Group, [Option<i64>; 3])> = Vec::new();
        for at in subsets.rows.take(puzzle) {
            if let Some(positions) = met_only {
                let position = subsets.positions.get(at);
                let Some(row) = met.iter().find(|row| positions.numbers.get(**row) == position)
                else {
                    continue;
                };
                positions.rows.put(*row, values);
            }
            subsets.rows.put(at, values);
            let group = known.counted(&values.counted)?;
            let mut unit = [None; 3];
            unit.iter_mut().zip(&subsets.units).for_each(|(unit, column)| *unit = column.get(at));
            hits.push((known.hits(group, &values.finer)?, unit));
        }
        hits.sort_unstable();
        hits.dedup();
        all.extend(hits.chunk_by(|a, b| a.0 == b.0).map(|same| (same[0].0, same.len() as u32)));
        Ok(all)
    }
}

impl Positions {
    /// Counts the houses of a position.
    fn count_houses(
        &self,
        row: usize,
        question: &Question,
        values: &mut GroupValues,
        known: &mut Known<'_>,
        all: &mut Vec<(Group, u32)>,
    ) -> Result<(), CensusError> {
        let (open_at, kind_at) = (question.place("open"), question.place("house_kind"));
        for (of, houses) in &self.houses {
            if let Some(place) = open_at {
                values.set(place, Some(of.open.into()));
            }
            if let (Some(place), Some(kind)) = (kind_at, of.kind) {
                values.set(place, Some(kind as i64));
            }
            add(all, known.counted(&values.counted)?, houses[row].into());
        }
        Ok(())
    }
}

/// Adds to what is counted of a group.
fn add(all: &mut Vec<(Group, u32)>, group: Group, count: u32) {
    match all.iter_mut().find(|(other, _)| *other == group) {
        Some((_, sum)) => *sum += count,
        None if count > 0 => all.push((group, count)),
        None => {}
    }
}
