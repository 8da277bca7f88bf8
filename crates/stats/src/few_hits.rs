//! What few hits tell of the cost of a hit, or of a ratio of two such costs.

use crate::share::upper_limit;
use crate::spread::Spread;

/// Below so many effective hits a linearised interval is not to be trusted.
pub const FEW_HITS: f64 = 30.0;

/// The least that a hit can cost, where hits are few.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LeastCost {
    /// The mean cost of a cluster by the most hits of a cluster.
    pub(crate) cost: f64,
    /// Clusters with a hit and without, as many as they are worth.
    pub(crate) with_hit: f64,
    pub(crate) without: f64,
}

impl LeastCost {
    /// A hit costs less than this with at most this probability.
    pub(crate) fn at(self, tail: f64) -> f64 {
        self.cost / upper_limit([self.with_hit, self.without], tail)
    }
}

/// What the data set a limit to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Limit {
    /// Nothing: all hits are few.
    None,
    /// The cost of a hit.
    Cost(LeastCost),
    /// The cost of a hit among few, by one among many.
    By(LeastCost, f64, Spread),
    /// The cost of a hit among many, by one among few.
    Of(LeastCost, f64, Spread),
}

/// The law of an estimate that rests on few hits: a limit on one side at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct FewHits {
    pub(crate) limit: Limit,
    /// The effective hits of what is estimated.
    pub(crate) effective: [f64; 2],
}

impl FewHits {
    /// The lower limit that is too high with at most this probability, for each look that it rests on;
    /// −∞ if there is none.
    pub(crate) fn low(self, tail: f64) -> f64 {
        match self.limit {
            Limit::Cost(least) => least.at(tail),
            Limit::By(least, other, spread) => {
                least.at(tail) / (other * spread.reach_of(tail).exp())
            }
            Limit::None | Limit::Of(..) => f64::NEG_INFINITY,
        }
    }

    /// The upper limit, in the same way; ∞ if there is none.
    pub(crate) fn high(self, tail: f64) -> f64 {
        match self.limit {
            Limit::Of(least, other, spread) => other * spread.reach_of(tail).exp() / least.at(tail),
            Limit::None | Limit::Cost(_) | Limit::By(..) => f64::INFINITY,
        }
    }

    /// The same law in a unit of so many old ones; ratios have none.
    pub(crate) fn in_units_of(self, unit: f64) -> Self {
        let limit = match self.limit {
            Limit::Cost(least) => Limit::Cost(LeastCost { cost: least.cost / unit, ..least }),
            other => other,
        };
        Self { limit, ..self }
    }

    /// The tail at which the lower limit is this bound: small if the number is clearly above it.
    pub(crate) fn tail_above(self, bound: f64) -> f64 {
        tail_where(|tail| self.low(tail) > bound)
    }

    /// The tail at which the upper limit is this bound.
    pub(crate) fn tail_below(self, bound: f64) -> f64 {
        tail_where(|tail| self.high(tail) < bound)
    }

    /// How many times as much data decide that the value lies beyond a bound. They have enough hits
    /// then, whose numbers vary as those of rare events do; where nothing was hit so far, nothing is
    /// hit in them either.
    pub(crate) fn times(
        self,
        value: f64,
        bound: f64,
        [sure, powerful]: [f64; 2],
        tail: f64,
    ) -> f64 {
        let least_share = match self.limit {
            Limit::Cost(least) if value.is_infinite() => Some((least, least.cost / bound)),
            Limit::By(least, other, _) if value.is_infinite() => {
                Some((least, least.cost / bound / other))
            }
            Limit::Of(least, other, _) if value == 0.0 => Some((least, bound * least.cost / other)),
            _ => None,
        };
        if let Some((least, share)) = least_share {
            return tail.ln() / (-share.min(1.0)).ln_1p() / least.without;
        }
        let variance: f64 = self.effective.iter().map(|hits| 1.0 / hits).sum();
        let enough = FEW_HITS / self.effective[0].min(self.effective[1]);
        let distance = (value / bound).ln();
        enough.max((sure + powerful).powi(2) * variance / (distance * distance))
    }
}

/// The least tail at which something holds that holds from some tail on; 1 if it never does.
fn tail_where(holds: impl Fn(f64) -> bool) -> f64 {
    if !holds(0.5) {
        return 1.0;
    }
    // On the scale of logarithms, down to where doubles end.
    let (mut low, mut high) = (-700.0, 0.5f64.ln());
    if holds(f64::exp(low)) {
        return f64::exp(low);
    }
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || high <= middle {
            return high.exp();
        }
        if holds(middle.exp()) { high = middle } else { low = middle }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::assert_relative;

    /// No hit in 100 clusters that cost 27 each: a hit costs more than 1,000 unless more than 2.7 % of
    /// clusters have one, and 0.973¹⁰⁰ = 6.5 %.
    #[test]
    fn nothing_found_is_evidence_of_a_price() {
        let least = LeastCost { cost: 27.0, with_hit: 0.0, without: 100.0 };
        let law = FewHits { limit: Limit::Cost(least), effective: [0.0, f64::INFINITY] };
        assert_relative(law.tail_above(1000.0), 0.973f64.powi(100), 1e-9);
        assert_eq!((law.tail_below(1000.0), law.tail_above(1e9)), (1.0, 1.0));
        assert_eq!(law.high(0.025), f64::INFINITY);
        // 0.973ⁿ < 2.5 % from n = 134.8 on.
        let times = law.times(f64::INFINITY, 1000.0, [1.96, 0.84], 0.025);
        assert_relative(times * 100.0, 0.025f64.ln() / 0.973f64.ln(), 1e-12);
    }

    #[test]
    fn limits_of_ratios_come_from_two_limits_by_hand() {
        let least = LeastCost { cost: 27.0, with_hit: 0.0, without: 100.0 };
        let spread = Spread { standard_error: 1.0, clusters: 100 };
        let share = 1.0 - 0.025f64.powf(0.01);
        let other = 50.0 * spread.reach_of(0.025).exp();
        let law = |limit| FewHits { limit, effective: [0.0, 100.0] };
        assert_relative(
            law(Limit::By(least, 50.0, spread)).low(0.025),
            27.0 / share / other,
            1e-12,
        );
        let below = law(Limit::Of(least, 50.0, Spread { standard_error: 0.1, ..spread }));
        let other = 50.0 * (0.1 * spread.reach_of(0.025)).exp();
        assert_relative(below.high(0.025), other * share / 27.0, 1e-12);
        assert!(below.tail_below(0.2) < 0.025 && below.tail_below(0.05) > 0.025);
    }
}
