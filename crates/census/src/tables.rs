//! The three tables of a part, column by column, and their Parquet files.

use std::io;
use std::path::Path;
use std::sync::Arc;

use polars::prelude::{
    Categorical8Type, CategoricalChunked, Column, DataFrame, DataType, FrozenCategories,
    IntoColumn, IntoSeries, ListChunked, NamedFrom, NewChunkedArray, ParquetCompression,
    ParquetWriter, PlSmallStr, PolarsError, Series, UInt8Chunked,
};
use strum::VariantNames;
use tallyhouse_board::HouseKind;
use tallyhouse_collection::Weight;
use tallyhouse_engine::{AppliedLook, Order, Outcome};

use crate::aside::write_file;
use crate::{CensusError, PuzzleScan, Sink};

/// The names of the three tables; each is a folder of the dataset.
pub(crate) const TABLES: [&str; 3] = ["puzzles", "positions", "subsets"];

/// The rows of one part, gathered in columns.
#[derive(Default)]
pub(crate) struct PartTables {
    looks: Vec<String>,
    puzzles: PuzzleColumns,
    positions: PositionColumns,
    subsets: SubsetColumns,
}

#[derive(Default)]
struct PuzzleColumns {
    puzzle: Vec<u64>,
    line: Vec<String>,
    clues: Vec<u8>,
    outcome: Vec<u8>,
    quiet_positions: Vec<u16>,
    hardest: Vec<Option<u8>>,
    given_digits: Vec<u8>,
    weight: Vec<f64>,
    family: Vec<Option<u64>>,
}

#[derive(Default)]
struct PositionColumns {
    puzzle: Vec<u64>,
    position: Vec<u16>,
    fixed_cells: Vec<u8>,
    candidates_left: Vec<u16>,
    exposure: [Vec<u8>; 8],
    subsets: Vec<u16>,
    applied: Vec<Option<u8>>,
    given_digits: Vec<u8>,
    states: Vec<[u16; 81]>,
}

#[derive(Default)]
struct SubsetColumns {
    puzzle: Vec<u64>,
    position: Vec<u16>,
    house_kind: Vec<u8>,
    house: Vec<u8>,
    open: Vec<u8>,
    naked: Vec<u8>,
    hidden: Vec<u8>,
    live_open: Vec<u8>,
    live_naked: Vec<u8>,
    live_hidden: Vec<u8>,
    cells: Vec<u16>,
    digits: Vec<u16>,
    eliminations: Vec<u8>,
    naked_proper: Vec<bool>,
    hidden_proper: Vec<bool>,
    applied: Vec<bool>,
    given_digits: Vec<u8>,
}

impl PartTables {
    pub(crate) fn new(order: &Order) -> Self {
        let looks = order.looks().iter().map(ToString::to_string);
        Self { looks: looks.collect(), ..Self::default() }
    }

    /// Writes the part's file of each table.
    pub(crate) fn write(self, folder: &Path, file_name: &str) -> Result<(), CensusError> {
        let looks = &self.looks;
        let frames = [
            self.puzzles.into_frame(looks),
            self.positions.into_frame(looks),
            self.subsets.into_frame(),
        ];
        for (table, frame) in TABLES.iter().zip(frames) {
            write_parquet(&folder.join(table).join(file_name), frame)?;
        }
        Ok(())
    }
}

/// Writes a frame as a Parquet file.
pub(crate) fn write_parquet(
    path: &Path,
    frame: Result<DataFrame, PolarsError>,
) -> Result<(), CensusError> {
    let failed = |error| CensusError::Write { path: path.to_owned(), error };
    let mut frame = frame.map_err(io::Error::other).map_err(failed)?;
    write_file(path, |writer| {
        // Not in parallel: the parts already are, and a pool inside a pool can lock up.
        ParquetWriter::new(writer)
            .with_compression(ParquetCompression::Zstd(None))
            .set_parallel(false)
            .finish(&mut frame)
            .map(drop)
            .map_err(io_error)
    })
}

/// Keeps the system's own error, so that a full disk reads as one.
pub(crate) fn io_error(error: PolarsError) -> io::Error {
    match error {
        PolarsError::IO { error, .. } => io::Error::new(error.kind(), error.to_string()),
        other => io::Error::other(other),
    }
}

impl Sink for PartTables {
    fn puzzle(&mut self, scan: &PuzzleScan) {
        let entry = &scan.entry;
        let columns = &mut self.puzzles;
        columns.puzzle.push(entry.number);
        columns.line.push(entry.puzzle.to_string());
        columns.clues.push(scan.clues);
        columns.outcome.push(scan.outcome as u8);
        columns.quiet_positions.push(scan.quiet_positions);
        columns.hardest.push(scan.hardest.map(|index| index as u8));
        columns.given_digits.push(scan.given_digits);
        // A weight has at most sixteen digits, so a double keeps it to the millionth.
        columns.weight.push(entry.weight.unwrap_or(Weight::ONE).millionths() as f64 / 1e6);
        columns.family.push(entry.family);

        let given = self.looks.len() as u8;
        let columns = &mut self.positions;
        for position in &scan.positions {
            columns.puzzle.push(entry.number);
            columns.position.push(position.number);
            columns.fixed_cells.push(position.fixed_cells);
            columns.candidates_left.push(position.candidates_left);
            for (column, &houses) in columns.exposure.iter_mut().zip(&position.exposure[2..]) {
                column.push(houses);
            }
            columns.subsets.push(position.subsets);
            columns.applied.push(match position.applied {
                AppliedLook::Look(index) => Some(index as u8),
                AppliedLook::Given => Some(given),
                AppliedLook::Nothing => None,
            });
            columns.given_digits.push(position.given_digits);
            columns.states.extend(position.states);
        }

        let columns = &mut self.subsets;
        for &(position, subset) in &scan.subsets {
            columns.puzzle.push(entry.number);
            columns.position.push(position);
            columns.house_kind.push(subset.house.kind() as u8);
            columns.house.push(subset.house.number());
            columns.open.push(subset.open);
            columns.naked.push(subset.naked);
            columns.hidden.push(subset.hidden());
            columns.live_open.push(subset.live_open);
            columns.live_naked.push(subset.live_naked);
            columns.live_hidden.push(subset.live_hidden());
            columns.cells.push(subset.cells.bits());
            columns.digits.push(subset.digits.bits());
            columns.eliminations.push(subset.eliminations);
            columns.naked_proper.push(subset.naked_proper);
            columns.hidden_proper.push(subset.hidden_proper);
            columns.applied.push(subset.applied);
            columns.given_digits.push(scan.positions[usize::from(position)].given_digits);
        }
    }
}

impl PuzzleColumns {
    fn into_frame(self, looks: &[String]) -> Result<DataFrame, PolarsError> {
        frame(vec![
            column("puzzle", self.puzzle),
            column("line", self.line),
            column("clues", self.clues),
            words(
                "outcome",
                UInt8Chunked::from_vec("outcome".into(), self.outcome),
                Outcome::VARIANTS,
            )?,
            column("quiet_positions", self.quiet_positions),
            optional_words("hardest_look", &self.hardest, looks)?,
            column("given_digits", self.given_digits),
            column("weight", self.weight),
            column("family", self.family),
        ])
    }
}

impl PositionColumns {
    fn into_frame(self, looks: &[String]) -> Result<DataFrame, PolarsError> {
        let mut applied_words = looks.to_vec();
        applied_words.push("given digit".to_owned());
        let mut columns = vec![
            column("puzzle", self.puzzle),
            column("position", self.position),
            column("fixed_cells", self.fixed_cells),
            column("candidates_left", self.candidates_left),
        ];
        for (open, houses) in (2..=9).zip(self.exposure) {
            columns.push(column(&format!("houses_open_{open}"), houses));
        }
        columns.push(column("subsets", self.subsets));
        columns.push(optional_words("look_applied", &self.applied, &applied_words)?);
        columns.push(column("given_digits", self.given_digits));
        if !self.states.is_empty() {
            let states = self.states.iter().map(|states| Some(Series::new("".into(), states)));
            columns.push(states.collect::<ListChunked>().with_name("state".into()).into_column());
        }
        frame(columns)
    }
}

impl SubsetColumns {
    fn into_frame(self) -> Result<DataFrame, PolarsError> {
        let kinds = HouseKind::ALL.map(HouseKind::name);
        let house_kind = UInt8Chunked::from_vec("house_kind".into(), self.house_kind);
        frame(vec![
            column("puzzle", self.puzzle),
            column("position", self.position),
            words("house_kind", house_kind, &kinds)?,
            column("house", self.house),
            column("open", self.open),
            column("naked", self.naked),
            column("hidden", self.hidden),
            column("live_open", self.live_open),
            column("live_naked", self.live_naked),
            column("live_hidden", self.live_hidden),
            column("cells", self.cells),
            column("digits", self.digits),
            column("eliminations", self.eliminations),
            column("naked_proper", self.naked_proper),
            column("hidden_proper", self.hidden_proper),
            column("applied", self.applied),
            column("given_digits", self.given_digits),
        ])
    }
}

fn frame(columns: Vec<Column>) -> Result<DataFrame, PolarsError> {
    DataFrame::new_infer_height(columns)
}

pub(crate) fn column<T, D: ?Sized>(name: &str, values: T) -> Column
where
    Series: NamedFrom<T, D>,
{
    Column::from(<Series as NamedFrom<T, D>>::new(name.into(), values))
}

fn optional_words(
    name: &str,
    codes: &[Option<u8>],
    words_in_order: &[String],
) -> Result<Column, PolarsError> {
    words(name, UInt8Chunked::from_slice_options(name.into(), codes), words_in_order)
}

/// A column of words from a short fixed list, stored as codes.
fn words<W: AsRef<str>>(
    name: &str,
    codes: UInt8Chunked,
    words_in_order: &[W],
) -> Result<Column, PolarsError> {
    let list: Arc<FrozenCategories> =
        FrozenCategories::new(words_in_order.iter().map(AsRef::as_ref))?;
    let kind = DataType::from_frozen_categories(list);
    let series =
        CategoricalChunked::<Categorical8Type>::from_cats_and_dtype(codes, kind).into_series();
    Ok(series.with_name(PlSmallStr::from(name)).into_column())
}
