//! From sums to verdicts.

use std::fmt;

use serde::Serialize;
use tallyhouse_engine::Look;
use tallyhouse_engine::effort::Glances;
use tallyhouse_stats::{Estimate, Level, RatioEstimate, Share, StatsError, holm};

use super::numbers::{count, counted, decimals, one_in, share as percent};
use super::sums::{ClaimSums, Example};
use super::tally::Tally;
use crate::claims::{Claim, ClaimTest, LookPair, Per};
use crate::{AnalysisError, ClaimFile};

/// What the data say of a claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decision {
    /// The interval lies on the claimed side of the threshold.
    Supported,
    /// The interval lies on the other side.
    Refuted,
    /// The interval holds the threshold, or the p-value is not small enough for so many claims.
    Undecided,
}

impl fmt::Display for Decision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Supported => "supported",
            Self::Refuted => "refuted",
            Self::Undecided => "undecided",
        })
    }
}

/// Where a claim says that its number lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Threshold {
    /// Below this.
    Below(f64),
    /// Above this.
    Above(f64),
    /// Between these.
    Within([f64; 2]),
}

impl fmt::Display for Threshold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Below(bound) => format!("below {bound}"),
            Self::Above(bound) => format!("above {bound}"),
            Self::Within([low, high]) => format!("from {low} to {high}"),
        })
    }
}

/// The verdict on one claim.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// The name of the claim file.
    pub file: String,
    /// The id of the claim.
    pub claim: String,
    /// The kind of claim.
    pub kind: &'static str,
    /// The claim in words.
    pub statement: String,
    /// The verdict.
    pub decision: Decision,
    /// What the estimate is, in words.
    pub measure: String,
    /// Where the claim says it lies.
    pub threshold: Threshold,
    /// The estimate with its 95 % interval; none if there are no data, or if no cluster differs.
    pub estimate: Option<Estimate>,
    /// The numerator: units with the property, without weights; in comparisons of effort the houses.
    pub count: u64,
    /// The denominator, without weights; in comparisons of effort the houses.
    pub of: u64,
    /// What the denominator counts.
    pub of_what: String,
    /// All puzzles.
    pub puzzles: u64,
    /// The independent unit: `puzzle`, or `family` where puzzles depend on each other.
    pub unit: &'static str,
    /// How many independent units the estimate rests on.
    pub units: u64,
    /// True if puzzles count by weight or depend on each other.
    pub weighted: bool,
    /// The two-sided p-value against the threshold.
    pub p_value: f64,
    /// The same after Holm's correction over the claims of the file.
    pub p_adjusted: f64,
    /// How many more puzzles would decide an undecided claim if the estimate holds.
    pub more_puzzles: Option<u64>,
    /// The result in words.
    pub words: String,
    /// A warning in words where the estimate rests on few independent units.
    pub caution: Option<String>,
    /// What a comparison of effort rests on.
    pub effort: Option<EffortReport>,
    /// Up to 20 positions that speak against the claim.
    #[serde(skip)]
    pub examples: Vec<Example>,
}

/// Glances of both looks of a claim, as they were counted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffortReport {
    /// The houses in which both looks were made.
    pub houses: u64,
    /// The puzzles with such a house.
    pub puzzles: u64,
    /// The first look.
    pub look: RawGlances,
    /// The look it is compared with.
    pub than: RawGlances,
    /// Where other weights of glances would move the estimate across a threshold.
    pub flips: Vec<FlipPoints>,
}

/// Glances summed over houses, without weights.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RawGlances {
    /// The look.
    pub look: String,
    /// Cells seen.
    pub cells_seen: u64,
    /// Places gathered.
    pub places_gathered: u64,
    /// Tries.
    pub tries: u64,
}

/// The weights of one kind of glance at which the estimate would equal a threshold; the other two
/// kinds weigh 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FlipPoints {
    /// The threshold.
    pub threshold: f64,
    /// The weight of a place gathered; none if no positive weight does.
    pub place: Option<f64>,
    /// The weight of a try; none if no positive weight does.
    #[serde(rename = "try")]
    pub try_: Option<f64>,
}

/// Below so many independent units a verdict comes with a warning. Common practice, no source.
const FEW: u64 = 100;

/// A number from the data, before it is held against a threshold.
enum Measured {
    /// Independent puzzles.
    Share(Share),
    /// Weighted or clustered puzzles.
    Ratio(RatioEstimate),
    /// There is no unit to count in.
    NoData,
}

/// Which side of a threshold a number is on, with the two-sided p-value.
struct Weighed {
    estimate: Option<Estimate>,
    leaning: Decision,
    p_value: f64,
}

impl Measured {
    fn share(tally: &Tally) -> Result<Self, StatsError> {
        match (tally.x(), tally.y(), tally.is_plain()) {
            (0, ..) => Ok(Self::NoData),
            (_, _, true) => tally.share().map(Self::Share),
            (_, 0, false) => Ok(tally.none_among_effective().map_or(Self::NoData, Self::Share)),
            _ => Self::ratio(tally),
        }
    }

    fn ratio(tally: &Tally) -> Result<Self, StatsError> {
        match tally.ratio() {
            Ok(ratio) => Ok(Self::Ratio(ratio)),
            Err(StatsError::TooFewClusters(_) | StatsError::NoSize | StatsError::NoWeight) => {
                Ok(Self::NoData)
            }
            Err(error) => Err(error),
        }
    }

    fn estimate(&self) -> Option<Estimate> {
        match self {
            Self::Share(share) => Some(share.estimate(Level::P95)),
            Self::Ratio(ratio) => ratio.estimate(Level::P95),
            Self::NoData => None,
        }
    }

    /// The one-sided p-values against "at least the bound" and "at most the bound".
    fn tails(&self, bound: f64) -> Result<[f64; 2], StatsError> {
        Ok(match self {
            Self::Share(share) => [share.p_value_below(bound)?, share.p_value_above(bound)?],
            Self::Ratio(ratio) => [
                ratio.p_value_below(bound)?.unwrap_or(1.0),
                ratio.p_value_above(bound)?.unwrap_or(1.0),
            ],
            Self::NoData => [1.0, 1.0],
        })
    }

    fn weigh(&self, threshold: Threshold) -> Result<Weighed, StatsError> {
        let Some(estimate) = self.estimate() else {
            return Ok(Weighed { estimate: None, leaning: Decision::Undecided, p_value: 1.0 });
        };
        let interval = estimate.interval;
        let (supports, refutes, tail) = match threshold {
            Threshold::Below(bound) => {
                let [below, above] = self.tails(bound)?;
                (interval.high < bound, bound < interval.low, below.min(above))
            }
            Threshold::Above(bound) => {
                let [below, above] = self.tails(bound)?;
                (bound < interval.low, interval.high < bound, below.min(above))
            }
            Threshold::Within([low, high]) => {
                let ([under_low, over_low], [under_high, over_high]) =
                    (self.tails(low)?, self.tails(high)?);
                let inside = over_low.max(under_high);
                let outside = under_low.min(over_high);
                (
                    low < interval.low && interval.high < high,
                    interval.high < low || high < interval.low,
                    // Inside both ends at once, or beyond one of them.
                    if low < estimate.value && estimate.value < high { inside } else { outside },
                )
            }
        };
        let leaning = match (supports, refutes) {
            (true, _) => Decision::Supported,
            (_, true) => Decision::Refuted,
            _ => Decision::Undecided,
        };
        Ok(Weighed { estimate: Some(estimate), leaning, p_value: (2.0 * tail).min(1.0) })
    }

    /// Returns how many times as many units would bring the interval clear of the threshold, less
    /// the units there are; in units of `units`.
    fn more(&self, threshold: Threshold, units: u64) -> Result<Option<u64>, StatsError> {
        let nearest = |value: f64| match threshold {
            Threshold::Below(bound) | Threshold::Above(bound) => bound,
            Threshold::Within([low, high]) => {
                if (value - low).abs() < (value - high).abs() {
                    low
                } else {
                    high
                }
            }
        };
        let more = match self {
            Self::Share(share) => {
                let bound = nearest(share.value());
                share
                    .trials_to_decide(bound, Level::P95)?
                    .map(|trials| trials as f64 * units as f64 / share.trials() as f64)
            }
            Self::Ratio(ratio) => ratio.estimate(Level::P95).and_then(|estimate| {
                let distance = (estimate.value - nearest(estimate.value)).abs();
                let reach = estimate.interval.width() / 2.0;
                let times = (reach / distance).powi(2);
                times.is_finite().then_some((times - 1.0) * units as f64)
            }),
            Self::NoData => None,
        };
        Ok(more.filter(|more| 0.0 < *more && *more < 1e15).map(|more| more.ceil() as u64))
    }
}

/// Estimates the share of puzzles that a tally counts; none if no interval can be given.
pub(super) fn share_estimate(tally: &Tally) -> Result<Option<Estimate>, StatsError> {
    Measured::share(tally).map(|measured| measured.estimate())
}

/// Judges the claims of one file together.
pub(super) fn verdicts(
    puzzles: u64,
    file: &ClaimFile,
    sums: &[ClaimSums],
) -> Result<Vec<Verdict>, AnalysisError> {
    let each = file.claims.iter().zip(sums).map(|(claim, sums)| {
        draft(puzzles, file, claim, sums)
            .map_err(|error| AnalysisError::Stats { claim: claim.id.clone(), error })
    });
    let mut drafts = each.collect::<Result<Vec<_>, _>>()?;
    let p_values: Vec<f64> = drafts.iter().map(|(verdict, _)| verdict.p_value).collect();
    let adjusted = holm(&p_values)
        .map_err(|error| AnalysisError::Stats { claim: file.name.clone(), error })?;
    for ((verdict, more), p_adjusted) in drafts.iter_mut().zip(adjusted) {
        verdict.p_adjusted = p_adjusted;
        if p_adjusted >= Level::P95.error_rate() {
            verdict.decision = Decision::Undecided;
        }
        if verdict.decision == Decision::Undecided {
            verdict.more_puzzles = *more;
        }
        let is_never = matches!(verdict.kind, "complete" | "flushed-out");
        if verdict.decision != Decision::Refuted && !is_never {
            verdict.examples.clear();
        }
    }
    Ok(drafts.into_iter().map(|(verdict, _)| verdict).collect())
}

fn draft(
    puzzles: u64,
    file: &ClaimFile,
    claim: &Claim,
    sums: &ClaimSums,
) -> Result<(Verdict, Option<u64>), StatsError> {
    let tally = &sums.tally;
    let (threshold, measured, measure, of_what) = match &claim.test {
        ClaimTest::Complete { rulebook, below } => (
            Threshold::Below(*below),
            Measured::share(tally)?,
            format!("share of puzzles in which {rulebook} reaches less than the full ladder"),
            "puzzles".to_owned(),
        ),
        ClaimTest::FlushedOut { rulebook, shapes, below } => (
            Threshold::Below(*below),
            Measured::share(tally)?,
            format!("share of puzzles in which {rulebook} leaves {shapes}"),
            "puzzles".to_owned(),
        ),
        ClaimTest::Rare { shapes, per, below } => (
            Threshold::Below(*below),
            if *per == Per::Puzzle { Measured::share(tally)? } else { Measured::ratio(tally)? },
            format!("share of {}s with {shapes}", per.name()),
            units_of(*per).to_owned(),
        ),
        ClaimTest::Implies { when, then, per, above } => (
            Threshold::Above(*above),
            if *per == Per::Puzzle { Measured::share(tally)? } else { Measured::ratio(tally)? },
            format!("share of {}s with {then}, of those with {when}", per.name()),
            format!("{} with {when}", units_of(*per)),
        ),
        ClaimTest::Easier { looks, ratio_below } => (
            Threshold::Below(*ratio_below),
            Measured::ratio(tally)?,
            glances_of(looks),
            format!("houses with {}", looks.houses),
        ),
        ClaimTest::AsHardAs { looks, band } => (
            Threshold::Within(*band),
            Measured::ratio(tally)?,
            glances_of(looks),
            format!("houses with {}", looks.houses),
        ),
    };
    let Weighed { estimate, leaning, p_value } = measured.weigh(threshold)?;
    let looks = claim.test.looks();
    let (hits, of) =
        if looks.is_some() { (sums.houses, sums.houses) } else { (tally.y(), tally.x()) };
    let effort = looks.map(|looks| effort(looks, sums, threshold));
    let unit = if tally.has_families() { "family" } else { "puzzle" };
    let units = tally.clusters();
    let caution = (0 < units && units < FEW).then(|| {
        let what = if unit == "puzzle" { "puzzles" } else { "families" };
        format!("rests on only {}", counted(units, what))
    });
    let verdict = Verdict {
        file: file.name.clone(),
        claim: claim.id.clone(),
        kind: claim.test.kind(),
        statement: claim.statement.clone(),
        decision: leaning,
        caution,
        words: words(&measured, hits, of, &of_what, looks.is_some()),
        measure,
        threshold,
        estimate,
        count: hits,
        of,
        of_what,
        puzzles,
        unit,
        units,
        weighted: !tally.is_plain(),
        p_value,
        p_adjusted: 1.0,
        more_puzzles: None,
        effort,
        examples: sums.examples.clone(),
    };
    Ok((verdict, measured.more(threshold, puzzles)?))
}

fn units_of(per: Per) -> &'static str {
    match per {
        Per::Puzzle => "puzzles",
        Per::Position => "quiet positions",
        Per::House => "houses at quiet positions",
    }
}

fn glances_of(looks: &LookPair) -> String {
    format!("glances of {} / {}", looks.look, looks.than)
}

fn words(measured: &Measured, hits: u64, of: u64, of_what: &str, is_effort: bool) -> String {
    if of == 0 {
        return format!("no {of_what} in this collection, so the data can't tell");
    }
    if is_effort {
        return match measured.estimate() {
            Some(estimate) => {
                let interval = estimate.interval;
                let decimals = decimals(interval.low, interval.high);
                format!(
                    "{:.decimals$} (95 %: {:.decimals$} to {:.decimals$}) in {}",
                    estimate.value,
                    // Student's interval does not know that glances are never negative.
                    interval.low.max(0.0),
                    interval.high,
                    counted(of, of_what)
                )
            }
            None => format!("{}, too few to see how much they differ", counted(of, of_what)),
        };
    }
    let found = if hits == 0 { "none".to_owned() } else { count(hits) };
    let shown = format!("{found} of {}", counted(of, of_what));
    match (measured, measured.estimate()) {
        (Measured::Share(share), _) if hits == 0 => {
            let upper = share.exact_upper(Level::P95);
            let weighted = if share.trials() == of {
                String::new()
            } else {
                format!(", which weigh as much as {}", count(share.trials()))
            };
            format!("{shown}{weighted}; with 95 % confidence fewer than {}", one_in(upper))
        }
        (_, Some(estimate)) => format!(
            "{shown}: {} (95 %: {} to {})",
            percent(estimate.value),
            percent(estimate.interval.low.max(0.0)),
            percent(estimate.interval.high)
        ),
        _ => format!("{shown}; puzzles don't differ, so there is no interval"),
    }
}

fn effort(looks: &LookPair, sums: &ClaimSums, threshold: Threshold) -> EffortReport {
    let raw = |look: Look, glances: Glances| RawGlances {
        look: look.to_string(),
        cells_seen: glances.cells_seen,
        places_gathered: glances.places_gathered,
        tries: glances.tries,
    };
    let bounds = match threshold {
        Threshold::Below(bound) | Threshold::Above(bound) => vec![bound],
        Threshold::Within(band) => band.to_vec(),
    };
    let flips = bounds.into_iter().map(|bound| flip_points(&sums.weighted, bound));
    EffortReport {
        houses: sums.houses,
        puzzles: sums.puzzles,
        look: raw(looks.look, sums.glances[0]),
        than: raw(looks.than, sums.glances[1]),
        flips: flips.collect(),
    }
}

/// Solves Σ cost of one look = bound · Σ cost of the other for one weight, the others being 1.
fn flip_points(glances: &[[i128; 3]; 2], bound: f64) -> FlipPoints {
    let [cells, places, tries] =
        [0, 1, 2].map(|kind| glances[0][kind] as f64 - bound * glances[1][kind] as f64);
    let solve = |constant: f64, slope: f64| {
        let weight = -constant / slope;
        (weight.is_finite() && weight > 0.0).then_some(weight)
    };
    FlipPoints {
        threshold: bound,
        place: solve(cells + tries, places),
        try_: solve(cells + places, tries),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weigh(measured: &Measured, threshold: Threshold) -> (Decision, f64) {
        let weighed = measured.weigh(threshold).unwrap();
        (weighed.leaning, weighed.p_value)
    }

    fn share(hits: u64, trials: u64) -> Measured {
        Measured::Share(Share::new(hits, trials).unwrap())
    }

    #[test]
    fn a_share_is_judged_by_size() {
        let below = Threshold::Below(0.01);
        assert_eq!(weigh(&share(20, 10_000), below).0, Decision::Supported);
        assert_eq!(weigh(&share(300, 10_000), below).0, Decision::Refuted);
        assert_eq!(weigh(&share(105, 10_000), below).0, Decision::Undecided);
        assert_eq!(weigh(&share(300, 10_000), Threshold::Above(0.01)).0, Decision::Supported);
        // The rule of three: none of 100 leaves up to 3 %, none of 1000 up to 0.3 %.
        assert_eq!(weigh(&share(0, 100), below).0, Decision::Undecided);
        let (leaning, p) = weigh(&share(0, 1000), below);
        assert_eq!(leaning, Decision::Supported);
        assert!((p - 2.0 * 0.99f64.powi(1000)).abs() < 1e-12, "{p}");
        let more = share(0, 100).more(below, 100).unwrap().unwrap();
        // Clopper–Pearson with no hits: 1 − 0.025^(1/n) < 0.01 from n = 368 on.
        assert_eq!(more, 268);
    }

    #[test]
    fn a_band_needs_both_ends() {
        let ratio = |ratio, standard_error| {
            Measured::Ratio(RatioEstimate { ratio, standard_error, clusters: 10_001 })
        };
        let band = Threshold::Within([0.8, 1.25]);
        assert_eq!(weigh(&ratio(1.0, 0.01), band).0, Decision::Supported);
        assert_eq!(weigh(&ratio(0.5, 0.01), band).0, Decision::Refuted);
        assert_eq!(weigh(&ratio(1.5, 0.01), band).0, Decision::Refuted);
        let (leaning, p) = weigh(&ratio(0.81, 0.01), band);
        // One standard error inside: 2 · 0.1587.
        assert_eq!(leaning, Decision::Undecided);
        assert!((p - 0.3173).abs() < 0.0005, "{p}");
        // 1.96 standard errors must shrink to one: 3.84 times as many, 2.84 more.
        let more = ratio(0.81, 0.01).more(band, 10_000).unwrap().unwrap();
        assert!((28_400..28_500).contains(&more), "{more}");
        assert_eq!(weigh(&ratio(1.0, 0.0), band), (Decision::Undecided, 1.0));
    }

    #[test]
    fn weights_flip_a_verdict_where_the_costs_are_equal() {
        // 10 + 4t = 20p + t: at t = 1 from p = 0.65 on, at p = 1 from t = 10/3 on.
        let glances = [[10, 0, 4], [0, 20, 1]];
        let flips = flip_points(&glances, 1.0);
        assert!((flips.place.unwrap() - 0.65).abs() < 1e-12);
        assert!((flips.try_.unwrap() - 10.0 / 3.0).abs() < 1e-12);
        // More tries for less: no weight of a try makes the first look the cheaper one.
        assert_eq!(flip_points(&[[10, 0, 4], [0, 0, 1]], 1.0).try_, None);
    }
}
