//! The ratio rule: look first where the chance of success is greatest for its cost.

use rayon::prelude::*;
use serde::Serialize;
use tallyhouse_board::{House, Puzzle};
use tallyhouse_engine::effort::{GlanceWeights, Glances, effort_walk, look_effort};
use tallyhouse_engine::{Order, Outcome, Position};

use super::draft::{Draft, Kind, Rung, Side};

/// Puzzles per piece of parallel work.
const BLOCK: usize = 32;
const KINDS: usize = 16;

/// What one look, made in houses of one open count, finds and costs.
///
/// The positions are those of the full ladder's walk, one by one. Looks for subsets are measured in
/// every house of every quiet position, looks for singles in every house of every position.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RatioRow {
    /// The look, such as `naked 3`.
    pub look: String,
    /// The open cells of the houses.
    pub open: u8,
    /// How often it was tried: houses of this open count, over all positions.
    pub tries: u64,
    /// How often it found something.
    pub found: u64,
    /// `found / tries`.
    pub success_share: f64,
    /// Weighted glances per try, in vain or not.
    pub mean_glances: f64,
    /// Chance of success per glance: `success_share / mean_glances`.
    pub ratio: f64,
}

#[derive(Clone, Copy, Default)]
struct Cell {
    tries: u64,
    found: u64,
    glances: Glances,
}

/// By kind of look and open count; exact sums.
pub(super) struct RatioTable(Box<[[Cell; 10]; KINDS]>);

fn kinds() -> impl Iterator<Item = Kind> {
    Side::BOTH.map(|side| Kind { side, size: 1 }).into_iter().chain(Kind::subsets())
}

impl RatioTable {
    fn new() -> Self {
        Self(Box::new([[Cell::default(); 10]; KINDS]))
    }

    /// Walks the puzzles on the full ladder and tries every look on the way.
    pub(super) fn measure(puzzles: &[Puzzle]) -> Self {
        puzzles
            .par_chunks(BLOCK)
            .map(|block| {
                let mut table = Self::new();
                block.iter().for_each(|puzzle| table.walk(puzzle));
                table
            })
            .reduce(Self::new, Self::merged)
    }

    fn merged(mut self, other: Self) -> Self {
        for (cell, other) in self.0.iter_mut().flatten().zip(other.0.iter().flatten()) {
            cell.tries += other.tries;
            cell.found += other.found;
            cell.glances += other.glances;
        }
        self
    }

    fn walk(&mut self, puzzle: &Puzzle) {
        let houses: Vec<House> = House::all().collect();
        let walk = effort_walk(puzzle, &Order::ladder(), &houses, |position, step, _| {
            let quiet = step.look.is_none_or(|(_, look)| !look.is_single());
            self.add_position(position, quiet);
        });
        if walk.outcome == Outcome::Stuck {
            self.add_position(&walk.end, true);
        }
    }

    fn add_position(&mut self, position: &Position, quiet: bool) {
        for house in House::all() {
            let open = position.open_places(house).len();
            for (kind, row) in kinds().zip(self.0.iter_mut()) {
                let fits = usize::from(kind.least_open()) <= open;
                if open == 0 || !fits || kind.size > 1 && !quiet {
                    continue;
                }
                let effort = look_effort(position, house, kind.everywhere().look());
                let cell = &mut row[open];
                cell.tries += 1;
                cell.found += u64::from(effort.found.is_some());
                cell.glances += effort.glances;
            }
        }
    }

    /// Returns the looks that were tried, greatest ratio first; ties as in the ladder.
    fn sorted(&self, weights: &GlanceWeights) -> Vec<(Kind, RatioRow)> {
        let row = |kind: Kind, open: usize, cell: &Cell| {
            let success_share = cell.found as f64 / cell.tries as f64;
            let mean_glances = cell.glances.cost(weights) / cell.tries as f64;
            let ratio = success_share / mean_glances;
            RatioRow {
                look: kind.to_string(),
                open: open as u8,
                tries: cell.tries,
                found: cell.found,
                success_share,
                mean_glances,
                ratio,
            }
        };
        let mut rows: Vec<(Kind, RatioRow)> = kinds()
            .zip(self.0.iter())
            .flat_map(|(kind, cells)| {
                cells
                    .iter()
                    .enumerate()
                    .filter(|(_, cell)| cell.tries > 0)
                    .map(move |(open, cell)| (kind, row(kind, open, cell)))
            })
            .collect();
        rows.sort_by(|(_, a), (_, b)| b.ratio.total_cmp(&a.ratio));
        rows
    }

    pub(super) fn rows(&self, weights: &GlanceWeights) -> Vec<RatioRow> {
        self.sorted(weights).into_iter().map(|(_, row)| row).collect()
    }

    /// Returns the order by the rule: the singles, the one with the greater ratio over all open
    /// counts first, then every look and open count that ever found something by falling ratio,
    /// neighbours of one kind that fit together as one range.
    ///
    /// The theory behind it is that of searching for one thing in independent places, where cost is
    /// least if the chance per cost falls. Looks are not independent (complements find the same), so
    /// it is a place to start from.
    pub(super) fn order(&self, weights: &GlanceWeights) -> Draft {
        let single_ratio = |cells: &[Cell; 10]| {
            let found: u64 = cells.iter().map(|cell| cell.found).sum();
            let glances: Glances = cells.iter().map(|cell| cell.glances).sum();
            if found == 0 { 0.0 } else { found as f64 / glances.cost(weights) }
        };
        let mut rungs = Side::BOTH.map(|side| Kind { side, size: 1 }.everywhere());
        if single_ratio(&self.0[1]) > single_ratio(&self.0[0]) {
            rungs.reverse();
        }
        let rows = self.sorted(weights).into_iter();
        let rows = rows.filter(|(kind, row)| kind.size > 1 && row.found > 0);
        let subsets = rows.map(|(kind, row)| Rung { kind, low: row.open, high: row.open });
        Draft::joined(rungs.into_iter().chain(subsets))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_blank_cell_by_hand() {
        // One position: r1c1 is open in row 1, column 1 and box 1, one open cell each. The naked
        // look sees one cell, the hidden look gathers one place; both succeed each time.
        let solved: String = (0..81)
            .map(|cell| char::from(b'1' + ((cell / 9 % 3 * 3 + cell / 27 + cell % 9) % 9) as u8))
            .collect();
        let puzzle: Puzzle = format!(".{}", &solved[1..]).parse().unwrap();
        let table = RatioTable::measure(&[puzzle]);
        let row = |look: &str, mean_glances| RatioRow {
            look: look.to_owned(),
            open: 1,
            tries: 3,
            found: 3,
            success_share: 1.0,
            mean_glances,
            ratio: 1.0 / mean_glances,
        };
        let even = GlanceWeights::default();
        assert_eq!(table.rows(&even), [row("naked 1", 1.0), row("hidden 1", 1.0)]);
        assert_eq!(table.order(&even).order().to_string(), "naked 1, hidden 1");
        // A cell that costs as much as four places.
        let dear = GlanceWeights::new(4.0, 1.0, 1.0).unwrap();
        assert_eq!(table.rows(&dear), [row("hidden 1", 1.0), row("naked 1", 4.0)]);
        assert_eq!(table.order(&dear).order().to_string(), "hidden 1, naked 1");
    }

    #[test]
    fn a_blank_board_finds_nothing() {
        // One quiet position, 27 houses of nine open cells; looks cost 9 cells or 81 places.
        let table = RatioTable::measure(&[".".repeat(81).parse().unwrap()]);
        let rows = table.rows(&GlanceWeights::default());
        assert_eq!(rows.len(), 16);
        for row in rows {
            let glances = if row.look.starts_with("naked") { 9.0 } else { 81.0 };
            assert_eq!((row.open, row.tries, row.found), (9, 27, 0), "{}", row.look);
            assert_eq!((row.mean_glances, row.ratio), (glances, 0.0), "{}", row.look);
        }
        let order = table.order(&GlanceWeights::default()).order();
        assert_eq!(order.to_string(), "naked 1, hidden 1");
    }

    #[test]
    fn ratios_sort_and_neighbours_become_ranges() {
        // Hand-worked: tries, found, glances; ratio = found / glances.
        let mut table = RatioTable::new();
        let mut set = |kind: usize, open: usize, found: u64, cells_seen: u64| {
            let glances = Glances { cells_seen, ..Glances::default() };
            table.0[kind][open] = Cell { tries: 100, found, glances };
        };
        set(0, 5, 10, 1000); // naked 1: 0.01
        set(1, 5, 50, 1000); // hidden 1: 0.05
        set(2, 5, 20, 400); // naked 2: 0.05
        set(2, 6, 16, 400); // naked 2: 0.04
        set(2, 8, 12, 400); // naked 2: 0.03
        set(3, 6, 9, 200); // hidden 2: 0.045, but after naked 2 of 5
        set(4, 6, 5, 1000); // naked 3: 0.005
        set(4, 5, 4, 1000); // naked 3: 0.004
        set(5, 6, 0, 10); // hidden 3 finds nothing
        let order = table.order(&GlanceWeights::default()).order();
        assert_eq!(
            order.to_string(),
            "hidden 1, naked 1, naked 2 open 5, hidden 2 open 6, naked 2 open 6, \
             naked 2 open 8, naked 3 open 5..6"
        );
        let rows = table.rows(&GlanceWeights::default());
        assert_eq!((rows[0].look.as_str(), rows[0].success_share), ("hidden 1", 0.5));
        assert_eq!((rows[2].look.as_str(), rows[2].mean_glances), ("hidden 2", 2.0));
        assert!((rows[2].ratio - 0.045).abs() < 1e-15);
    }
}
