//! Exact sums over clusters.

use std::ops::AddAssign;

use ethnum::{I256, U256};
use serde::{Deserialize, Serialize};

use crate::StatsError;

/// What weights in common use are made of: see [`Clusters`].
const FACTORS: [i128; 4] = [2, 3, 5, 7];

/// Exact sums over independent clusters of `N` whole quantities each, mergeable in any order.
///
/// A cluster is the independent unit: nothing inside it need be independent. What its quantities
/// mean is up to the question that is asked of the sums:
///
/// | question | quantities of a cluster |
/// | --- | --- |
/// | [`share`](Clusters::share) | hits, size; 0 ≤ hits ≤ size |
/// | [`ratio`](Clusters::ratio) | a count or cost, its size; neither negative |
/// | [`mean`](Clusters::mean) | sum of values, number of values |
/// | [`difference`](Clusters::difference) | sum of values, sum of other values, number of pairs |
/// | [`ratio_of_ratios`](Clusters::ratio_of_ratios) | two pairs as of a ratio |
///
/// Weights are part of the quantities: a unit of weight 2.5 adds all of its quantities 2.5 times, in
/// whole millionths (2,500,000 times). Only their proportions matter: what all quantities have in
/// common is taken out before anything is rounded, up to prime factors above 7. So data without
/// weights, the same data of weight 2.5 each, and counts in other units give the same bytes.
///
/// Clusters in which every quantity is 0 raise the number of clusters and nothing else; leave them
/// out where they say nothing of the question (a puzzle without a house of the size asked about).
///
/// Sums hold 127 bits and products 255, enough for 2⁶⁴ units of the greatest weights (10⁹) that
/// count thousands each. Beyond that a question is answered with [`StatsError::Overflow`].
///
/// ```
/// use tallyhouse_stats::{Clusters, Level};
///
/// // Three clusters: 2 of 8 places, 1 of 9, 3 of 10.
/// let mut clusters = Clusters::default();
/// for cluster in [[2, 8], [1, 9], [3, 10]] {
///     clusters.add(cluster);
/// }
/// let rate = clusters.ratio(Level::default())?;
/// assert_eq!(rate.value, 6.0 / 27.0);
/// assert!(rate.interval.low >= 0.0 && rate.interval.contains(rate.value));
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
///
/// Files hold the sums as decimals, so that nothing is lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Form", into = "Form")]
pub struct Clusters<const N: usize> {
    clusters: u64,
    sums: [i128; N],
    /// Sums of products of two quantities; only those at [i][j] with i ≤ j are kept.
    products: [[I256; N]; N],
    overflowed: bool,
}

/// Sums as files hold them; products of [i][j] with i ≤ j in this order.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Form {
    clusters: u64,
    sums: String,
    products: String,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    overflowed: bool,
}

impl<const N: usize> From<Clusters<N>> for Form {
    fn from(of: Clusters<N>) -> Self {
        let Clusters { clusters, overflowed, .. } = of;
        let sums = of.sums.map(|sum| sum.to_string()).join(" ");
        let products = (0..N).flat_map(|i| (i..N).map(move |j| (i, j)));
        let products: Vec<String> = products.map(|(i, j)| of.products[i][j].to_string()).collect();
        Self { clusters, sums, products: products.join(" "), overflowed }
    }
}

impl<const N: usize> TryFrom<Form> for Clusters<N> {
    type Error = &'static str;

    fn try_from(form: Form) -> Result<Self, &'static str> {
        let mut read =
            Self { clusters: form.clusters, overflowed: form.overflowed, ..Self::default() };
        let wrong = "sums that are no whole numbers, or too few or too many";
        let mut sums = form.sums.split(' ');
        let mut products = form.products.split(' ');
        for i in 0..N {
            read.sums[i] = sums.next().and_then(|sum| sum.parse().ok()).ok_or(wrong)?;
            for j in i..N {
                let product = products.next().and_then(|product| product.parse().ok());
                read.products[i][j] = product.ok_or(wrong)?;
            }
        }
        if sums.chain(products).next().is_none() { Ok(read) } else { Err(wrong) }
    }
}

impl<const N: usize> Default for Clusters<N> {
    fn default() -> Self {
        Self { clusters: 0, sums: [0; N], products: [[I256::ZERO; N]; N], overflowed: false }
    }
}

impl<const N: usize> Clusters<N> {
    /// Takes sums as they are; products of [i][j] with i ≤ j.
    pub(crate) const fn from_sums(
        clusters: u64,
        sums: [i128; N],
        products: [[I256; N]; N],
    ) -> Self {
        Self { clusters, sums, products, overflowed: false }
    }

    /// Adds one cluster.
    pub fn add(&mut self, cluster: [i128; N]) {
        self.clusters += 1;
        for (i, &quantity) in cluster.iter().enumerate() {
            self.add_sum(i, quantity);
            for (j, &other) in cluster.iter().enumerate().skip(i) {
                self.add_product(i, j, product(quantity, other));
            }
        }
    }

    /// Adds so many clusters that are all alike.
    pub fn add_times(&mut self, cluster: [i128; N], times: u64) {
        let mut one = Self::default();
        one.add(cluster);
        self.clusters += times;
        self.overflowed |= one.overflowed;
        for i in 0..N {
            match one.sums[i].checked_mul(times.into()) {
                Some(sum) => self.add_sum(i, sum),
                None => self.overflowed = true,
            }
            for j in i..N {
                match one.products[i][j].checked_mul(I256::from(times)) {
                    Some(product) => self.add_product(i, j, product),
                    None => self.overflowed = true,
                }
            }
        }
    }

    fn add_sum(&mut self, i: usize, more: i128) {
        let sum = self.sums[i].checked_add(more);
        self.overflowed |= sum.is_none();
        self.sums[i] = sum.unwrap_or(self.sums[i]);
    }

    fn add_product(&mut self, i: usize, j: usize, more: I256) {
        let sum = self.products[i][j].checked_add(more);
        self.overflowed |= sum.is_none();
        self.products[i][j] = sum.unwrap_or(self.products[i][j]);
    }

    /// Takes one quantity, by itself, from clusters that are all there are.
    pub(crate) fn replacing(&self, quantity: usize, all: &Self) -> Self {
        let mut of_all = *self;
        of_all.clusters = all.clusters;
        of_all.sums[quantity] = all.sums[quantity];
        of_all.products[quantity][quantity] = all.products[quantity][quantity];
        of_all.overflowed |= all.overflowed;
        of_all
    }

    /// Notes that something was left out because it was too large.
    pub(crate) fn mark_overflow(&mut self) {
        self.overflowed = true;
    }

    /// Returns how many clusters were added.
    #[must_use]
    pub const fn clusters(&self) -> u64 {
        self.clusters
    }

    /// Returns the sum of one quantity over all clusters.
    ///
    /// # Panics
    /// If there is no such quantity.
    #[must_use]
    pub const fn sum(&self, quantity: usize) -> i128 {
        self.sums[quantity]
    }

    /// Returns the sums of some of the quantities, in the order given: what adding only these would
    /// have given.
    ///
    /// # Panics
    /// If there is no such quantity.
    #[must_use]
    pub fn pick<const M: usize>(&self, quantities: [usize; M]) -> Clusters<M> {
        let mut products = [[I256::ZERO; M]; M];
        for (i, row) in products.iter_mut().enumerate() {
            for (j, product) in row.iter_mut().enumerate().skip(i) {
                *product = self.product(quantities[i], quantities[j]);
            }
        }
        Clusters {
            clusters: self.clusters,
            sums: quantities.map(|i| self.sums[i]),
            products,
            overflowed: self.overflowed,
        }
    }

    /// As many clusters of one size would tell as much of a quantity: (Σy)²/Σy²; 0 where all are 0.
    pub(crate) fn effective(&self, quantity: usize) -> f64 {
        let sum = self.sums[quantity] as f64;
        if sum == 0.0 { 0.0 } else { sum * sum / float(self.product(quantity, quantity)) }
    }

    /// The sum of products of two quantities.
    pub(crate) fn product(&self, i: usize, j: usize) -> I256 {
        self.products[i.min(j)][i.max(j)]
    }

    /// The same clusters without the factors that all quantities have in common; refused where
    /// something did not fit.
    pub(crate) fn reduced(&self) -> Result<Self, StatsError> {
        if self.overflowed {
            return Err(StatsError::Overflow);
        }
        let mut reduced = *self;
        // Where all quantities are 0, every factor could be taken out for ever.
        if self.products.iter().flatten().any(|sum| *sum != I256::ZERO) {
            for factor in FACTORS {
                while let Some(smaller) = reduced.divided(factor) {
                    reduced = smaller;
                }
            }
        }
        Ok(reduced)
    }

    /// The sums of all quantities divided by a number, if they are whole.
    fn divided(&self, divisor: i128) -> Option<Self> {
        let square = I256::from(divisor * divisor);
        let whole = self.sums.iter().all(|sum| sum % divisor == 0)
            && self.products.iter().flatten().all(|sum| *sum % square == 0);
        whole.then(|| Self {
            sums: self.sums.map(|sum| sum / divisor),
            products: self.products.map(|row| row.map(|sum| sum / square)),
            ..*self
        })
    }
}

impl Clusters<2> {
    /// Takes clusters (hits, size) of which only those with hits were added, and returns what adding
    /// all of them would have given, from the sizes of all.
    #[must_use]
    pub fn among(&self, all: &Clusters<1>) -> Self {
        let [hits, mixed] = self.products[0];
        Self {
            clusters: all.clusters,
            sums: [self.sums[0], all.sums[0]],
            products: [[hits, mixed], [I256::ZERO, all.product(0, 0)]],
            overflowed: self.overflowed || all.overflowed,
        }
    }

    /// Clusters (hit or 0, size) of which some are hits as large as they are.
    pub(crate) fn hits_of_all(hits: &Clusters<1>, all: &Clusters<1>) -> Self {
        let (square_of_hits, square_of_all) = (hits.product(0, 0), all.product(0, 0));
        Self {
            clusters: all.clusters,
            sums: [hits.sums[0], all.sums[0]],
            products: [[square_of_hits, square_of_hits], [I256::ZERO, square_of_all]],
            overflowed: hits.overflowed || all.overflowed,
        }
    }
}

impl Clusters<3> {
    /// The clusters with their first two quantities replaced by the difference.
    pub(crate) fn differences(&self) -> Result<Clusters<2>, StatsError> {
        let product = |i, j| self.product(i, j);
        let difference = self.sums[0].checked_sub(self.sums[1]);
        // By Cauchy and Schwarz twice the mixed product is at most the sum of both squares.
        let squares = product(0, 0)
            .checked_add(product(1, 1))
            .and_then(|sum| sum.checked_sub(product(0, 1)))
            .and_then(|sum| sum.checked_sub(product(0, 1)));
        let mixed = product(0, 2).checked_sub(product(1, 2));
        let (Some(difference), Some(squares), Some(mixed)) = (difference, squares, mixed) else {
            return Err(StatsError::Overflow);
        };
        Ok(Clusters {
            clusters: self.clusters,
            sums: [difference, self.sums[2]],
            products: [[squares, mixed], [I256::ZERO, product(2, 2)]],
            overflowed: self.overflowed,
        })
    }
}

#[cfg(test)]
impl Clusters<2> {
    /// Clusters of which only the sums are known: those of the quantities, and yy, xy, xx.
    pub(crate) fn of_sums(clusters: u64, sums: [i128; 2], [yy, xy, xx]: [i128; 3]) -> Self {
        let products = [[yy, xy], [0, xx]].map(|row| row.map(I256::from));
        Self { clusters, sums, products, overflowed: false }
    }
}

impl<const N: usize> AddAssign for Clusters<N> {
    fn add_assign(&mut self, other: Self) {
        self.clusters += other.clusters;
        self.overflowed |= other.overflowed;
        for i in 0..N {
            self.add_sum(i, other.sums[i]);
            for j in i..N {
                self.add_product(i, j, other.products[i][j]);
            }
        }
    }
}

/// The product of two numbers of 128 bits always fits.
fn product(a: i128, b: i128) -> I256 {
    match (i64::try_from(a), i64::try_from(b)) {
        (Ok(a), Ok(b)) => I256::from(i128::from(a) * i128::from(b)),
        _ => I256::from(a) * I256::from(b),
    }
}

/// The nearest floating-point number; beyond 128 bits at most one off.
pub(crate) fn float(number: I256) -> f64 {
    if let Ok(number) = i128::try_from(number) {
        return number as f64;
    }
    let (high, low) = number.unsigned_abs().into_words();
    let size = high as f64 * 2f64.powi(128) + low as f64;
    if number.is_negative() { -size } else { size }
}

/// The square of a number; always fits.
pub(crate) fn square(number: i128) -> U256 {
    let size = U256::from(number.unsigned_abs());
    size * size
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::clusters_of;
    use crate::{Families, Level};

    #[test]
    fn products_of_small_and_large_numbers_are_exact() {
        let large = i128::MAX;
        for (a, b) in [(3, -7), (-(1 << 62), 1 << 62), (large, large), (i128::MIN, i128::MIN)] {
            assert_eq!(product(a, b), I256::from(a).checked_mul(I256::from(b)).unwrap());
        }
    }

    #[test]
    fn numbers_of_any_size_become_floats() {
        let two = |power: u32| I256::ONE << power;
        for (number, expected) in [
            (I256::from(-3), -3.0),
            (two(100) + 1, 2f64.powi(100)),
            (two(200), 2f64.powi(200)),
            (-two(200), -(2f64.powi(200))),
            (-two(127), -(2f64.powi(127))),
            (-two(128), -(2f64.powi(128))),
            (two(130) + two(127), 2f64.powi(130) + 2f64.powi(127)),
        ] {
            assert_eq!(float(number), expected);
        }
    }

    /// The sums of all clusters of a population of 18,447 rows of the greatest weight, 10¹⁵
    /// millionths each, leave 64 bits.
    #[test]
    fn the_greatest_weights_stay_exact() {
        let weight = 1_000_000_000_000_000;
        let mut clusters = Clusters::default();
        clusters.add_times([weight, weight], 18_447);
        assert_eq!(clusters.sum(1), 18_447 * weight);
        assert!(clusters.sum(1) > i128::from(u64::MAX));
        // Of one family of all of them and one single row.
        let mut families = Clusters::default();
        families.add([weight * 18_447, weight * 18_447]);
        families.add([0, weight]);
        let share = families.mean(Level::default()).unwrap();
        assert_eq!(share.value, 18_447.0 / 18_448.0);
    }

    #[test]
    fn clusters_without_hits_can_be_left_out() {
        let (hits, all) = ([[2, 8], [0, 5], [3, 10], [0, 7]], [[8], [5], [10], [7]]);
        let with_hits: Vec<[i128; 2]> = hits.into_iter().filter(|hits| hits[0] > 0).collect();
        assert_eq!(clusters_of(&with_hits).among(&clusters_of(&all)), clusters_of(&hits));
    }

    #[test]
    fn files_hold_all_of_the_sums() {
        let sums = clusters_of(&[[i128::MAX, 3], [-7, i128::MIN]]);
        let text = serde_json::to_string(&sums).unwrap();
        assert_eq!(serde_json::from_str::<Clusters<2>>(&text).unwrap(), sums);
        assert!(serde_json::from_str::<Clusters<1>>(&text).is_err());
        assert!(serde_json::from_str::<Clusters<3>>(&text).is_err());
        let none = r#"{"clusters":0,"sums":"0","products":"0"}"#;
        assert_eq!(serde_json::to_string(&Clusters::<1>::default()).unwrap(), none);
        assert!(serde_json::from_str::<Clusters<1>>(&none.replace("\"0\"", "\"x\"")).is_err());
    }

    #[test]
    fn sums_beyond_all_bounds_are_refused() {
        let mut clusters = Clusters::default();
        clusters.add([i128::MAX, 1]);
        clusters.add([i128::MAX, 2]);
        assert_eq!(clusters.mean(Level::default()), Err(StatsError::Overflow));
        let mut merged = clusters_of(&[[1, 1], [2, 3]]);
        merged += clusters;
        assert_eq!(merged.mean(Level::default()), Err(StatsError::Overflow));
        let mut many = Clusters::default();
        many.add_times([i128::MAX / 2, 1], 3);
        assert_eq!(many.mean(Level::default()), Err(StatsError::Overflow));
        // What did not fit stays refused, whatever is added later and however it is merged.
        many.add_times([1, 1], 2);
        assert_eq!(many.mean(Level::default()), Err(StatsError::Overflow));
        many += clusters_of(&[[1, 1], [2, 3]]);
        assert_eq!(many.mean(Level::default()), Err(StatsError::Overflow));
        let mut families = Families::default();
        families.add(Some(1), [i128::MAX]);
        families.add(Some(1), [1]);
        let plain = Families::default();
        for (hits, all) in [(&families, &plain), (&plain, &families)] {
            assert_eq!(hits.among(all).share(Level::default()), Err(StatsError::Overflow));
        }
    }

    fn quantity() -> impl Strategy<Value = i128> {
        let limit = 1i128 << 100;
        prop_oneof![-1000i128..1000, -limit..limit]
    }

    proptest! {
        #[test]
        fn merging_in_any_order_is_adding(
            all in prop::collection::vec([quantity(), quantity(), quantity()], 0..30),
            cuts in [0usize..30, 0usize..30],
        ) {
            let whole = clusters_of(&all);
            let [first, second] = cuts.map(|cut| cut.min(all.len()));
            let (left, right) = (first.min(second), first.max(second));
            let parts =
                [&all[right..], &all[..left], &all[left..right]].map(clusters_of);
            let mut merged = Clusters::default();
            parts.into_iter().for_each(|part| merged += part);
            prop_assert_eq!(merged, whole);
            let backwards: Vec<_> = all.iter().rev().copied().collect();
            prop_assert_eq!(clusters_of(&backwards), whole);
        }

        #[test]
        fn adding_many_alike_is_adding_each(cluster in [quantity(), quantity()], times in 0u64..20) {
            let mut at_once = Clusters::default();
            at_once.add_times(cluster, times);
            prop_assert_eq!(at_once, clusters_of(&vec![cluster; times as usize]));
        }

        #[test]
        fn picking_is_adding_only_those(
            all in prop::collection::vec([quantity(), quantity(), quantity()], 0..20),
        ) {
            let picked: Vec<[i128; 2]> = all.iter().map(|c| [c[2], c[0]]).collect();
            prop_assert_eq!(clusters_of(&all).pick([2, 0]), clusters_of(&picked));
        }

        #[test]
        fn differences_are_those_of_each_cluster(
            all in prop::collection::vec([quantity(), quantity(), quantity()], 0..20),
        ) {
            let each: Vec<[i128; 2]> = all.iter().map(|c| [c[0] - c[1], c[2]]).collect();
            prop_assert_eq!(clusters_of(&all).differences(), Ok(clusters_of(&each)));
        }
    }
}
