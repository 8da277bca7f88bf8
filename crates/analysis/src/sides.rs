//! A look beside its complement: what both cost in the same houses, and which costs less.

use std::collections::HashSet;

use rayon::iter::ParallelIterator;
use rayon::slice::ParallelSlice;
use serde::{Deserialize, Serialize};
use tallyhouse_board::Puzzle;
use tallyhouse_engine::effort::{GlanceWeights, PairedEffort, paired_efforts};
use tallyhouse_engine::{Position, QuietPosition, Recorder, Subset, WalkOptions, walk};
use tallyhouse_stats::{
    Clusters, Decision, Estimate, Level, Question, StatsError, Threshold, decide,
};

/// The glances of a look and of its complement in the same houses.
#[derive(Clone, Debug, Default)]
pub struct PairedCosts {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// For each house the glances of the naked and of the hidden look.
    pub costs: Vec<(f64, f64)>,
    /// Puzzles with such a house as clusters: the glances of either look, in millionths.
    pub sums: Clusters<2>,
    /// The weighted glances of the naked and of the hidden look that are no places gathered.
    pub besides_places: (f64, f64),
    /// The places that the hidden look gathered, without weight.
    pub places: u64,
}

impl PairedCosts {
    /// Returns the glances of the naked look over those of the hidden one, the puzzle as cluster;
    /// none if there are too few puzzles, or they don't differ.
    ///
    /// # Errors
    /// If sums are too large.
    pub fn ratio(&self, level: Level) -> Result<Option<Estimate>, StatsError> {
        Estimate::if_known(self.sums.ratio(level))
    }
}

/// What is looked for in one house: its subsets of one shape cost the same glances, for a look ends at
/// the first of them.
struct Efforts(Vec<PairedEffort>);

impl Recorder for Efforts {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        let states = (position.states)();
        // A quiet position of a valid puzzle has no contradiction.
        let efforts = Position::from_states(&states).and_then(|position| paired_efforts(&position));
        let mut seen = HashSet::new();
        let is_new = |effort: &PairedEffort| {
            let Subset { house, open, naked, .. } = effort.subset;
            seen.insert((house, open, naked))
        };
        self.0.extend(efforts.unwrap_or_default().into_iter().filter(is_new));
    }
}

/// Compares looks with their complements at the quiet positions of some puzzles, for each of these
/// shapes in every house that holds a proper subset of it.
#[must_use]
pub fn paired_costs(
    puzzles: &[Puzzle],
    shapes: &[(u8, u8)],
    options: &WalkOptions,
    weights: &GlanceWeights,
) -> Vec<PairedCosts> {
    const BLOCK: usize = 200;
    /// So many puzzles are walked before what they cost is added up.
    const AT_ONCE: usize = 100 * BLOCK;
    let of_puzzle = |puzzle: &Puzzle| {
        let mut efforts = Efforts(Vec::new());
        walk(puzzle, options, &mut efforts);
        efforts.0
    };
    let mut all: Vec<PairedCosts> = shapes
        .iter()
        .map(|&(open, naked)| PairedCosts { open, naked, ..PairedCosts::default() })
        .collect();
    for puzzles in puzzles.chunks(AT_ONCE) {
        let blocks: Vec<Vec<Vec<PairedEffort>>> =
            puzzles.par_chunks(BLOCK).map(|block| block.iter().map(of_puzzle).collect()).collect();
        for efforts in blocks.into_iter().flatten() {
            all.iter_mut().for_each(|shape| shape.add(&efforts, weights));
        }
    }
    all
}

impl PairedCosts {
    /// Adds the houses of one puzzle that hold the shape.
    fn add(&mut self, efforts: &[PairedEffort], weights: &GlanceWeights) {
        let mut cluster = [0; 2];
        let before = self.costs.len();
        for effort in efforts {
            if (effort.subset.open, effort.subset.naked) != (self.open, self.naked) {
                continue;
            }
            let [naked, hidden] =
                [effort.naked, effort.hidden].map(|side| side.glances.cost(weights));
            let places = effort.hidden.glances.places_gathered;
            self.places += places;
            self.besides_places.0 += naked;
            self.besides_places.1 += hidden - places as f64 * weights.place();
            cluster[0] += effort.naked.glances.millionths(weights);
            cluster[1] += effort.hidden.glances.millionths(weights);
            self.costs.push((naked, hidden));
        }
        if self.costs.len() > before {
            self.sums.add(cluster);
        }
    }
}

/// Which side of a split costs less to find.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Cheaper {
    /// The naked side.
    Naked,
    /// The hidden side.
    Hidden,
    /// The data can't tell.
    Unsettled,
}

impl Cheaper {
    /// Returns the word for tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Naked => "naked",
            Self::Hidden => "hidden",
            Self::Unsettled => "not settled",
        }
    }
}

/// Both sides of one shape compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SideComparison {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// Houses that hold a proper subset of the shape.
    pub houses: u64,
    /// Puzzles with such a house.
    pub puzzles: u64,
    /// Mean glances of the naked look; 0 if there is no house.
    pub mean_naked: f64,
    /// Mean glances of the hidden look; 0 if there is no house.
    pub mean_hidden: f64,
    /// Naked glances over hidden ones with an interval, the puzzle as cluster; `None` if there
    /// are too few puzzles, or they don't differ.
    pub ratio: Option<Estimate>,
    /// The p-value against "both cost the same", after Holm's correction over all shapes compared.
    pub p_adjusted: f64,
    /// The side that costs less: the interval is clear of 1 and the p-value below the error rate.
    pub cheaper: Cheaper,
    /// The weight of a place gathered at which both would cost the same, the other weights as they
    /// are; `None` if none above 0 does that.
    pub equal_place_weight: Option<f64>,
}

impl SideComparison {
    /// Returns the size of the hidden side.
    #[must_use]
    pub const fn hidden(&self) -> u8 {
        self.open - self.naked
    }
}

/// Compares the sides of shapes; all intervals have this level.
///
/// # Errors
/// If sums are too large.
pub fn compare_sides(
    costs: &[PairedCosts],
    level: Level,
) -> Result<Vec<SideComparison>, StatsError> {
    let each = costs.iter().map(|costs| side_by_side(costs, level));
    let mut sides = each.collect::<Result<Vec<_>, _>>()?;
    let naked_is_cheaper = |side: &SideComparison| Question::of(side.ratio, Threshold::Below(1.0));
    let questions: Vec<Question> = sides.iter().map(naked_is_cheaper).collect();
    for (side, answer) in sides.iter_mut().zip(decide(&questions, level)?) {
        side.p_adjusted = answer.p_adjusted.unwrap_or(1.0);
        side.cheaper = match answer.decision {
            Decision::Supported => Cheaper::Naked,
            Decision::Refuted => Cheaper::Hidden,
            _ => Cheaper::Unsettled,
        };
    }
    Ok(sides)
}

fn side_by_side(costs: &PairedCosts, level: Level) -> Result<SideComparison, StatsError> {
    let houses = costs.costs.len();
    let mean = |side: fn(&(f64, f64)) -> f64| {
        costs.costs.iter().map(side).sum::<f64>() / houses.max(1) as f64
    };
    let ratio = costs.ratio(level)?;
    Ok(SideComparison {
        open: costs.open,
        naked: costs.naked,
        houses: houses as u64,
        puzzles: costs.sums.clusters(),
        mean_naked: mean(|cost| cost.0),
        mean_hidden: mean(|cost| cost.1),
        ratio,
        p_adjusted: 1.0,
        cheaper: Cheaper::Unsettled,
        equal_place_weight: equal_place_weight(costs),
    })
}

/// Solves naked cost = hidden cost for the weight of a place; naked looks gather none.
fn equal_place_weight(costs: &PairedCosts) -> Option<f64> {
    let (naked, hidden) = costs.besides_places;
    let weight = (naked - hidden) / costs.places as f64;
    (costs.places > 0 && weight > 0.0).then_some(weight)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn costs(pairs: &[(u64, u64)]) -> PairedCosts {
        let mut costs = PairedCosts { open: 6, naked: 2, ..PairedCosts::default() };
        for &(naked, hidden) in pairs {
            costs.costs.push((naked as f64, hidden as f64));
            costs.sums.add([naked, hidden].map(|glances| i128::from(glances) * 1_000_000));
        }
        costs
    }

    #[test]
    fn a_side_is_cheaper_only_where_the_data_settle_it() {
        let cheap = costs(&[(10, 50), (12, 60), (9, 50), (11, 52), (10, 49)]);
        let dear = costs(&[(50, 10), (60, 12), (50, 9), (52, 11), (49, 10)]);
        let even = costs(&[(10, 11), (11, 10), (10, 10), (12, 11), (10, 12)]);
        let one = costs(&[(10, 50)]);
        let sides = compare_sides(&[cheap, dear, even, one, costs(&[])], Level::default()).unwrap();
        let cheaper: Vec<Cheaper> = sides.iter().map(|side| side.cheaper).collect();
        use Cheaper::{Hidden, Naked, Unsettled};
        assert_eq!(cheaper, [Naked, Hidden, Unsettled, Unsettled, Unsettled]);
        let ratio = sides[0].ratio.as_ref().unwrap().value;
        assert!((ratio - 52.0 / 261.0).abs() < 1e-12 && (sides[0].mean_naked - 10.4).abs() < 1e-12);
        assert_eq!((sides[3].ratio.as_ref(), sides[3].houses), (None, 1));
        assert_eq!((sides[4].houses, sides[4].mean_hidden), (0, 0.0));
        assert!(sides[0].p_adjusted < 0.05 && sides[3].p_adjusted == 1.0);
    }

    /// A house of six open cells with two naked pairs is one house.
    #[test]
    fn houses_are_counted_once_whatever_they_hold() {
        let puzzles = tallyhouse_collection::MinimalByDeletion { seed: 3 }.puzzles(0..20_000);
        let found = paired_costs(
            &puzzles,
            &[(6, 2), (9, 2)],
            &WalkOptions::default(),
            &GlanceWeights::default(),
        );
        for shape in found {
            let (mut houses, mut subsets) = (0, 0);
            for puzzle in &puzzles {
                let mut seen = Seen { shape: (shape.open, shape.naked), houses: 0, subsets: 0 };
                walk(puzzle, &WalkOptions::default(), &mut seen);
                houses += seen.houses;
                subsets += seen.subsets;
            }
            assert_eq!(shape.costs.len(), houses);
            assert!(shape.open == 9 || subsets > houses, "{subsets} subsets in {houses} houses");
        }
    }

    /// Counts the houses that hold a proper subset of a shape, and those subsets.
    struct Seen {
        shape: (u8, u8),
        houses: usize,
        subsets: usize,
    }

    impl Recorder for Seen {
        fn quiet_position(&mut self, position: &QuietPosition<'_>) {
            let of_shape = |s: &&Subset| s.is_proper() && (s.open, s.naked) == self.shape;
            let found: Vec<_> = position.subsets.iter().filter(of_shape).collect();
            self.subsets += found.len();
            self.houses += found.iter().map(|s| s.house).collect::<HashSet<_>>().len();
        }
    }

    #[test]
    fn at_the_weight_of_equality_both_looks_cost_the_same() {
        let puzzles = tallyhouse_collection::MinimalByDeletion { seed: 3 }.puzzles(0..400);
        let shapes = [(5, 3), (6, 4), (7, 5), (8, 6)];
        let costs = |place: f64| {
            let weights = GlanceWeights::new(1.0, place, 2.0).unwrap();
            paired_costs(&puzzles, &shapes, &WalkOptions::default(), &weights)
        };
        let mut solved = 0;
        for (index, side) in
            compare_sides(&costs(1.0), Level::default()).unwrap().iter().enumerate()
        {
            let Some(weight) = side.equal_place_weight else { continue };
            let equal = &compare_sides(&costs(weight), Level::default()).unwrap()[index];
            assert!((equal.mean_naked - equal.mean_hidden).abs() < 1e-6 * equal.mean_naked);
            solved += 1;
        }
        assert!(solved >= 2, "{solved}");
    }

    #[test]
    fn many_comparisons_need_more_evidence_than_one() {
        // Alone the interval is clear of 1; among forty shapes that is no surprise.
        let weak = costs(&[(10, 14), (11, 12), (12, 13), (10, 12), (11, 14), (12, 13)]);
        let alone = compare_sides(std::slice::from_ref(&weak), Level::default()).unwrap();
        assert_eq!(alone[0].cheaper, Cheaper::Naked);
        assert!(alone[0].p_adjusted > 0.001, "{}", alone[0].p_adjusted);
        let even = costs(&[(10, 11), (11, 10), (10, 10), (12, 11), (10, 12)]);
        let mut many = vec![even; 39];
        many.push(weak);
        assert_eq!(compare_sides(&many, Level::default()).unwrap()[39].cheaper, Cheaper::Unsettled);
    }
}
