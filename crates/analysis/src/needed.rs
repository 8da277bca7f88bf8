//! Which looks puzzles need first and last, as shares of puzzles with intervals.

use std::path::Path;

use serde::Serialize;
use tallyhouse_census::{CensusError, Counts, Manifest, NeededLooks, Tables, Tally, each_needed};
use tallyhouse_engine::Look;
use tallyhouse_stats::{Clusters, Estimate, Level};

use crate::csv_file::{estimate_fields, to_csv};

/// What stands for the look where a puzzle has no quiet position, as singles solve it.
pub const SINGLES_ALONE: &str = "singles alone";

/// What stands for the look where a puzzle's first quiet position holds nothing for any look.
pub const STUCK: &str = "stuck after singles";

/// What stands for the look where no look found anything in a puzzle.
pub const NOTHING_FOUND: &str = "nothing found";

/// The puzzles that need a look, among all puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookShare {
    /// The look, or in words why there is none.
    pub look: String,
    /// How many puzzles, whatever they weigh.
    pub puzzles: u64,
    /// What they weigh, in millionths; a million for each puzzle without a weight.
    pub weight: i128,
    /// The share with its interval, by weight where there are weights; `None` where the clusters
    /// of a weighted collection are too few.
    pub share: Option<Estimate>,
}

/// Which looks the puzzles of a dataset need.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookShares {
    /// All puzzles.
    pub puzzles: u64,
    /// Whether shares are by weight.
    pub weighted: bool,
    /// The independent units: families, and puzzles without one.
    pub units: u64,
    /// The puzzles in which singles alone go as far as the walk does, solved or not; `None` if the
    /// walk doesn't look for both kinds of singles.
    pub by_singles: Option<LookShare>,
    /// By the look that finds something at the puzzle's first quiet position, in the order of the
    /// walk, without those for singles, of which a quiet position has none. Before the looks stand
    /// the puzzles without a quiet position, after them those whose first quiet position holds nothing
    /// for any look.
    pub first: Vec<LookShare>,
    /// By the last look of the order that the walk needed anywhere, in the order of the walk; before
    /// them the puzzles in which no look found anything.
    pub last: Vec<LookShare>,
}

/// Returns which looks the puzzles of a dataset need. Reads the tables of the dataset; without them,
/// which looks come first is unknown and `first` is empty.
///
/// Without weights and families the puzzle is the unit (Wilson, Clopper–Pearson for rare looks). With
/// them the share is a ratio of weights, and families are the clusters.
///
/// # Errors
/// If the dataset can't be read, or is weighted and has no tables.
pub fn look_shares(
    folder: &Path,
    manifest: &Manifest,
    counts: &Counts,
    level: Level,
) -> Result<LookShares, CensusError> {
    let order = &manifest.walk.order;
    let weighted = counts.totals.weighted > 0;
    let mut first = vec![Sums::default(); order.len() + 2];
    let mut last = vec![Sums::default(); order.len() + 1];
    let mut by_singles = Sums::default();
    let is_single = |look: &String| look.parse::<Look>().is_ok_and(Look::is_single);
    // The puzzles that need no look at all stand behind the looks.
    let needs_singles_at_most = |place: usize| order.get(place).is_none_or(is_single);
    let with_tables = weighted || manifest.tables == Tables::All;
    if with_tables {
        each_needed(folder, &mut |cluster: &NeededLooks| {
            for (sums, tallies) in [(&mut first, &cluster.first), (&mut last, &cluster.last)] {
                for (sums, tally) in sums.iter_mut().zip(tallies) {
                    sums.add(*tally, cluster.all.weight);
                }
            }
            let mut singles = Tally::default();
            let last = cluster.last.iter().enumerate();
            last.filter(|(place, _)| needs_singles_at_most(*place))
                .for_each(|(_, tally)| singles.add(*tally));
            by_singles.add(singles, cluster.all.weight);
        })?;
    } else {
        let puzzles = || manifest.hardest_look.iter().map(|(_, puzzles)| *puzzles).enumerate();
        let all = counts.totals.puzzles;
        for (sums, (_, puzzles)) in last.iter_mut().zip(puzzles()) {
            *sums = Sums::of_alike(puzzles, all);
        }
        let singles = puzzles().filter(|(place, _)| needs_singles_at_most(*place));
        by_singles = Sums::of_alike(singles.map(|(_, puzzles)| puzzles).sum(), all);
    }
    let share = |look: &str, sums: &Sums| LookShare {
        look: look.to_owned(),
        puzzles: sums.tally.puzzles,
        weight: sums.tally.weight,
        share: sums.clusters.share_by_weight(level).ok(),
    };
    let looks = order.len();
    let named = |sums: &[Sums]| -> Vec<LookShare> {
        order.iter().zip(sums).map(|(look, sums)| share(look, sums)).collect()
    };
    let has = |look: &str| order.iter().any(|other| other == look);
    let both_singles = has("naked 1") && has("hidden 1");
    let without = if both_singles { SINGLES_ALONE } else { "no quiet position" };
    let mut at_first = Vec::new();
    if with_tables {
        at_first.push(share(without, &first[looks]));
        at_first.extend(named(&first[..looks]).into_iter().filter(|row| !is_single(&row.look)));
        let stuck = if both_singles { STUCK } else { NOTHING_FOUND };
        at_first.push(share(stuck, &first[looks + 1]));
    }
    let mut at_last = vec![share(NOTHING_FOUND, &last[looks])];
    at_last.extend(named(&last[..looks]));
    Ok(LookShares {
        puzzles: counts.totals.puzzles,
        weighted,
        units: last[looks].clusters.clusters(),
        by_singles: both_singles.then(|| share(SINGLES_ALONE, &by_singles)),
        first: at_first,
        last: at_last,
    })
}

/// What a puzzle of weight 1 weighs.
const MILLION: i128 = 1_000_000;

#[derive(Clone, Default)]
struct Sums {
    tally: Tally,
    clusters: Clusters<2>,
}

impl Sums {
    fn add(&mut self, tally: Tally, all: i128) {
        self.tally.add(tally);
        self.clusters.add([tally.weight, all]);
    }

    /// Takes so many of all puzzles, which count alike and stand alone.
    fn of_alike(puzzles: u64, all: u64) -> Self {
        let mut clusters = Clusters::default();
        clusters.add_times([MILLION; 2], puzzles);
        clusters.add_times([0, MILLION], all.saturating_sub(puzzles));
        Self { tally: Tally { puzzles, weight: i128::from(puzzles) * MILLION }, clusters }
    }
}

/// Writes shares as CSV: `needed,look,puzzles,share,low,high,method`; empty fields where there is no
/// estimate. `needed` is `first` or `last`.
///
/// # Errors
/// If the data can't be written.
pub fn look_shares_csv(shares: &LookShares) -> Result<Vec<u8>, csv::Error> {
    let named = [("first", &shares.first), ("last", &shares.last)];
    let records = named.into_iter().flat_map(|(needed, rows)| {
        rows.iter()
            .map(move |row| (needed, &row.look, row.puzzles, estimate_fields(row.share.as_ref())))
    });
    to_csv("needed,look,puzzles,share,low,high,method", records)
}
