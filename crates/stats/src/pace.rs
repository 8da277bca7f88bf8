//! Times of several people for tasks of which it is counted what they take: a common rate for each
//! thing counted, and a pace for each person.
//!
//! seconds = pace(person) · (c₁·x₁ + … + cₙ·xₙ), with c ≥ 0 and a mean pace of 1. The spread of a time
//! is taken to grow with the time itself, so each row counts by what it is off in proportion. The
//! coefficients are least squares of the times divided by paces and weighed by 1/(fitted time)²; a pace
//! is the mean of a person's times by fitted times. One after the other is found until neither
//! changes. (These are the equations of a gamma model with an identity link: P. McCullagh & J. A.
//! Nelder, *Generalized Linear Models*, 2nd ed., 1989, ch. 8, from memory.)

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};

use crate::estimate::Law;
use crate::least_squares::NormalEquations;
use crate::student::Student;
use crate::{Estimate, Interval, Level, Method, StatsError};

/// From so many people on, intervals are given.
pub const ENOUGH_PEOPLE: usize = 8;

/// How often people are drawn anew for an interval.
const RESAMPLES: u64 = 2000;

/// A task counts as one that takes at least this share of the mean, or rows that ought to take next to
/// nothing would count for all.
const LEAST_SHARE: f64 = 0.05;

/// The most turns of finding coefficients and paces; ten or so are usual.
const MOST_TURNS: usize = 200;

/// In cross-validation the people make at most so many groups.
const MOST_GROUPS: usize = 20;

/// One task of one person: what it takes, and how long it took.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed<const N: usize> {
    /// How often each of the things is done.
    pub counts: [f64; N],
    /// The time, above 0.
    pub seconds: f64,
}

/// The times of several people.
///
/// ```
/// use tallyhouse_stats::{PaceTimes, Timed};
///
/// // Two seconds to begin, half a second a step; the second person takes three times as long.
/// let rows = |pace: f64| {
///     let row = |steps: f64| Timed { counts: [1.0, steps], seconds: pace * (2.0 + 0.5 * steps) };
///     [4.0, 8.0, 20.0].map(row).to_vec()
/// };
/// let times = PaceTimes::new(vec![rows(1.0), rows(3.0)])?;
/// let fit = times.fit();
/// // A person of mean pace takes twice as long as the first one.
/// assert!((fit.coefficients[0] - 4.0).abs() < 1e-6 && (fit.coefficients[1] - 1.0).abs() < 1e-6);
/// assert!((fit.paces[1] / fit.paces[0] - 3.0).abs() < 1e-6);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Debug)]
pub struct PaceTimes<const N: usize> {
    people: Vec<Vec<Timed<N>>>,
}

/// What fits times best.
#[derive(Clone, Debug, PartialEq)]
pub struct PaceFit<const N: usize> {
    /// The seconds for each of the things, of a person of mean pace; none is negative.
    pub coefficients: [f64; N],
    /// How many times as long as the mean each person takes.
    pub paces: Vec<f64>,
}

impl<const N: usize> PaceTimes<N> {
    /// Takes the rows of each person.
    ///
    /// # Errors
    /// [`StatsError::NoTrials`] without a person or with one who has no row, [`StatsError::Time`] if a
    /// time is not above 0, or a count negative or endless.
    pub fn new(people: Vec<Vec<Timed<N>>>) -> Result<Self, StatsError> {
        if people.is_empty() || people.iter().any(Vec::is_empty) {
            return Err(StatsError::NoTrials);
        }
        let is_time = |row: &&Timed<N>| row.seconds > 0.0 && row.seconds.is_finite();
        let is_count = |row: &&Timed<N>| row.counts.iter().all(|x| *x >= 0.0 && x.is_finite());
        match people.iter().flatten().find(|row| !is_time(row) || !is_count(row)) {
            Some(row) => Err(StatsError::Time(row.seconds)),
            None => Ok(Self { people }),
        }
    }

    /// Returns how many people there are.
    #[must_use]
    pub fn people(&self) -> usize {
        self.people.len()
    }

    /// Returns for each coefficient if the counts can tell it: if its counts are no sum of multiples of
    /// the others.
    #[must_use]
    pub fn are_told(&self) -> [bool; N] {
        let mut sums = NormalEquations::default();
        self.people.iter().flatten().for_each(|row| sums.add(&row.counts, 0.0, 1.0));
        sums.are_told()
    }

    /// Returns what fits best.
    #[must_use]
    pub fn fit(&self) -> PaceFit<N> {
        self.fit_drawn(&vec![1; self.people.len()], None)
    }

    /// Returns each coefficient of a fit with its interval, by drawing people anew; `None` where it
    /// can't be told, or if there are fewer than [`ENOUGH_PEOPLE`]. The seed decides who is drawn.
    ///
    /// Percentiles that are moved outwards for few people: T. C. Hesterberg, *What Teachers Should Know
    /// About the Bootstrap*, The American Statistician 69, 2015, 371–386 ("expanded percentile").
    #[must_use]
    pub fn estimates(&self, fit: &PaceFit<N>, level: Level, seed: u64) -> [Option<Estimate>; N] {
        self.estimates_from(fit, level, seed, RESAMPLES)
    }

    fn estimates_from(
        &self,
        fit: &PaceFit<N>,
        level: Level,
        seed: u64,
        resamples: u64,
    ) -> [Option<Estimate>; N] {
        let people = self.people.len();
        if people < ENOUGH_PEOPLE {
            return [None; N];
        }
        let mut found: [Vec<f64>; N] = std::array::from_fn(|_| Vec::new());
        for resample in 0..resamples {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(resample);
            let mut drawn = vec![0; people];
            (0..people).for_each(|_| drawn[rng.random_range(0..people)] += 1);
            let drawn = self.fit_drawn(&drawn, Some(fit));
            found.iter_mut().zip(drawn.coefficients).for_each(|(all, one)| all.push(one));
        }
        let tail = expanded_tail(level, people);
        let (method, law) = (Method::ResampledPeople, Law::Unknown);
        let told = self.are_told();
        std::array::from_fn(|column| {
            let all = &mut found[column];
            all.sort_by(f64::total_cmp);
            let at = (tail * (all.len() + 1) as f64).floor().max(1.0) as usize;
            let interval = Interval { low: all[at - 1], high: all[all.len() - at] };
            let value = fit.coefficients[column];
            told[column].then_some(Estimate { value, interval, level, method, law })
        })
    }

    /// Returns for each person by how much times are off that others' coefficients foretell: the mean
    /// square of ln(time by foretold time). People are left out in turn, at most twenty groups of them;
    /// a person's pace for a row comes from the other rows. `None` for a person with one row, and if
    /// there are no others.
    #[must_use]
    pub fn held_out(&self) -> Vec<Option<f64>> {
        let people = self.people.len();
        if people < 2 {
            return vec![None; people];
        }
        let groups = people.min(MOST_GROUPS);
        let mut errors = vec![None; people];
        for group in 0..groups {
            let is_out = |person: usize| person % groups == group;
            let drawn: Vec<u32> = (0..people).map(|person| u32::from(!is_out(person))).collect();
            let fit = self.fit_drawn(&drawn, None);
            let least = self.least(&fit.coefficients, &drawn);
            for person in (0..people).filter(|&person| is_out(person)) {
                let off =
                    |row: &Timed<N>| (row.seconds / row.fitted(&fit.coefficients, least)).ln();
                errors[person] = square_off_others(self.people[person].iter().map(off).collect());
            }
        }
        errors
    }

    /// Fits the rows of people, each taken so many times; paces of those not taken mean nothing. What
    /// fits nearly may be handed over to begin with; what is found then need not be as exact.
    fn fit_drawn(&self, drawn: &[u32], near: Option<&PaceFit<N>>) -> PaceFit<N> {
        let taken = || self.people.iter().zip(drawn).enumerate().filter(|(_, (_, n))| **n > 0);
        let people: f64 = drawn.iter().copied().map(f64::from).sum();
        let mut paces = near.map_or_else(|| vec![1.0; drawn.len()], |near| near.paces.clone());
        let mut coefficients = near.map(|near| near.coefficients);
        let tolerance = if near.is_some() { 1e-6 } else { 1e-10 };
        for _ in 0..MOST_TURNS {
            let least = coefficients.map(|found| self.least(&found, drawn));
            let mut sums = NormalEquations::default();
            for (person, (rows, &times)) in taken() {
                for row in rows {
                    let size = match (&coefficients, least) {
                        (Some(found), Some(least)) => row.fitted(found, least),
                        _ => 1.0,
                    };
                    let weight = f64::from(times) / (size * size);
                    sums.add(&row.counts, row.seconds / paces[person], weight);
                }
            }
            let mut found = sums.not_negative();
            let least = self.least(&found, drawn);
            let mut next = paces.clone();
            for (person, (rows, _)) in taken() {
                let ratio = |row: &Timed<N>| row.seconds / row.fitted(&found, least);
                next[person] = rows.iter().map(ratio).sum::<f64>() / rows.len() as f64;
            }
            let mean = taken().map(|(person, (_, &n))| f64::from(n) * next[person]).sum::<f64>();
            let mean = mean / people;
            next.iter_mut().for_each(|pace| *pace /= mean);
            found.iter_mut().for_each(|coefficient| *coefficient *= mean);
            let is_as_before = coefficients
                .is_some_and(|before| is_near(&before, &found, tolerance))
                && is_near(&paces, &next, tolerance);
            (paces, coefficients) = (next, Some(found));
            if is_as_before {
                break;
            }
        }
        PaceFit { coefficients: coefficients.unwrap_or([0.0; N]), paces }
    }

    /// The least time that a task counts as.
    fn least(&self, coefficients: &[f64; N], drawn: &[u32]) -> f64 {
        let (mut sum, mut rows) = (0.0, 0.0);
        for (person, &times) in self.people.iter().zip(drawn).filter(|(_, n)| **n > 0) {
            sum += f64::from(times) * person.iter().map(|row| row.sum(coefficients)).sum::<f64>();
            rows += f64::from(times) * person.len() as f64;
        }
        (LEAST_SHARE * sum / rows).max(f64::MIN_POSITIVE)
    }
}

impl<const N: usize> Timed<N> {
    fn sum(&self, coefficients: &[f64; N]) -> f64 {
        self.counts.iter().zip(coefficients).map(|(count, each)| count * each).sum()
    }

    fn fitted(&self, coefficients: &[f64; N], least: f64) -> f64 {
        self.sum(coefficients).max(least)
    }
}

/// Tests if numbers are the same but for so small a part of them.
fn is_near(before: &[f64], after: &[f64], part: f64) -> bool {
    before.iter().zip(after).all(|(a, b)| (a - b).abs() <= part * a.abs().max(b.abs()))
}

/// The mean square of what each number is off the mean of the others; none for one alone.
fn square_off_others(numbers: Vec<f64>) -> Option<f64> {
    let count = numbers.len() as f64;
    if numbers.len() < 2 {
        return None;
    }
    let mean = numbers.iter().sum::<f64>() / count;
    let off = |number: &f64| (number - mean) * count / (count - 1.0);
    Some(numbers.iter().map(|number| off(number) * off(number)).sum::<f64>() / count)
}

/// The probability left out at either end: as far out as Student's t of so many people says.
fn expanded_tail(level: Level, people: usize) -> f64 {
    let people = people as f64;
    let t = Student::new(people as u64 - 1).upper_quantile(level.error_rate() / 2.0);
    Normal::standard().sf(t * (people / (people - 1.0)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::{assert_close, assert_relative};

    /// Seconds to begin, and for each of three things.
    const TRUTH: [f64; 4] = [2.0, 0.6, 0.08, 0.4];

    fn normal(rng: &mut ChaCha8Rng) -> f64 {
        Normal::standard().inverse_cdf(rng.random::<f64>().max(1e-12))
    }

    /// A factor of mean 1 whose logarithm varies by this.
    fn factor(rng: &mut ChaCha8Rng, by: f64) -> f64 {
        (by * normal(rng) - by * by / 2.0).exp()
    }

    /// Tasks of two kinds, as looks are: some see n cells, others gather n² places; both try sets.
    fn tasks(count: usize) -> Vec<[f64; 4]> {
        let task = |number: usize| {
            let open = (4 + number % 6) as f64;
            let tries = (number * number * 7 % 31) as f64;
            if number.is_multiple_of(2) {
                [1.0, open, 0.0, tries]
            } else {
                [1.0, 0.0, open * open, tries]
            }
        };
        (0..count).map(task).collect()
    }

    /// Simulated people; `by` is how much the logarithm of a time varies.
    fn simulated(seed: u64, people: usize, by: f64) -> PaceTimes<4> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut person = || {
            let pace = factor(&mut rng, 0.4);
            let row = |counts: [f64; 4]| {
                let seconds: f64 = counts.iter().zip(TRUTH).map(|(x, c)| x * c).sum();
                Timed { counts, seconds: pace * seconds * factor(&mut rng, by) }
            };
            tasks(24).into_iter().map(row).collect()
        };
        PaceTimes::new((0..people).map(|_| person()).collect()).unwrap()
    }

    #[test]
    fn times_without_chance_give_their_coefficients_back() {
        let times = simulated(1, 5, 0.0);
        let fit = times.fit();
        assert_close(fit.paces.iter().sum::<f64>() / 5.0, 1.0, 1e-9);
        for (found, truth) in fit.coefficients.iter().zip(TRUTH) {
            assert_relative(found / fit.coefficients[0], truth / TRUTH[0], 1e-6);
        }
        for error in times.held_out() {
            assert_close(error.unwrap(), 0.0, 1e-9);
        }
        assert_eq!(times.are_told(), [true; 4]);
        assert_eq!(times.estimates(&fit, Level::default(), 1), [None; 4], "too few people");
    }

    /// The logarithm of the likelihood of gamma distributed times, up to its constants, by its textbook
    /// form −Σ(t/μ + ln μ).
    fn likelihood(times: &PaceTimes<4>, coefficients: [f64; 4], paces: &[f64]) -> f64 {
        let of_row = |pace: f64, row: &Timed<4>| {
            let mean = pace * row.counts.iter().zip(coefficients).map(|(x, c)| x * c).sum::<f64>();
            -(row.seconds / mean + mean.ln())
        };
        let people = times.people.iter().zip(paces);
        people.flat_map(|(rows, &pace)| rows.iter().map(move |row| of_row(pace, row))).sum()
    }

    #[test]
    fn no_weights_or_paces_nearby_are_likelier() {
        for seed in 0..6 {
            let times = simulated(seed, 10, 0.35);
            let PaceFit { coefficients, paces } = times.fit();
            let best = likelihood(&times, coefficients, &paces);
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            for step in 0..400 {
                let by = if step % 2 == 0 { 0.05 } else { 0.002 };
                let mut near =
                    |number: f64| number * (1.0 + by * (2.0 * rng.random::<f64>() - 1.0));
                let coefficients = coefficients.map(&mut near);
                let paces: Vec<f64> = paces.iter().copied().map(&mut near).collect();
                assert!(likelihood(&times, coefficients, &paces) < best, "seed {seed}");
            }
        }
    }

    #[test]
    fn people_who_did_different_tasks_keep_their_pace() {
        // The quick one did the long tasks: what takes long is not taken for slowness.
        let row =
            |pace: f64, steps: f64| Timed { counts: [1.0, steps], seconds: pace * (1.0 + steps) };
        let quick = [10.0, 20.0, 30.0].map(|steps| row(0.5, steps)).to_vec();
        let slow = [1.0, 2.0, 3.0].map(|steps| row(1.5, steps)).to_vec();
        let fit = PaceTimes::new(vec![quick, slow]).unwrap().fit();
        assert_close(fit.coefficients[0], 1.0, 1e-6);
        assert_close(fit.coefficients[1], 1.0, 1e-6);
        assert_close(fit.paces[0], 0.5, 1e-6);
    }

    #[test]
    fn what_is_no_time_is_refused() {
        let row = |seconds: f64, count: f64| vec![vec![Timed { counts: [count], seconds }]];
        for seconds in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(PaceTimes::new(row(seconds, 1.0)), Err(StatsError::Time(_))));
        }
        assert!(PaceTimes::new(row(1.0, -1.0)).is_err());
        assert_eq!(PaceTimes::<1>::new(vec![]).unwrap_err(), StatsError::NoTrials);
        assert_eq!(PaceTimes::<1>::new(vec![vec![]]).unwrap_err(), StatsError::NoTrials);
    }

    #[test]
    fn one_row_tells_nothing_of_the_next() {
        let times = simulated(3, 9, 0.2);
        let mut people = times.people.clone();
        people[4].truncate(1);
        let errors = PaceTimes::new(people).unwrap().held_out();
        assert_eq!(errors.iter().position(Option::is_none), Some(4));
        let alone = PaceTimes::new(times.people[..1].to_vec()).unwrap();
        assert_eq!(alone.held_out(), [None]);
        // 1 and 3: each is 2 off the other.
        assert_eq!(square_off_others(vec![1.0, 3.0]), Some(4.0));
    }

    /// By hand: t for 8 people is 2.3646 at 2.5 %; times √(8/7) it is 2.528, beyond which lies 0.574 %.
    #[test]
    fn few_people_move_the_ends_outwards() {
        assert_close(expanded_tail(Level::default(), 8), 0.005_74, 2e-5);
        assert_close(expanded_tail(Level::default(), 100_000), 0.025, 1e-5);
    }

    /// What comes of many simulated samples.
    struct Trials {
        /// The mean of each coefficient by the truth.
        mean: [f64; 4],
        /// The share of intervals that hold the truth.
        covered: [f64; 4],
    }

    fn trials(count: u64, resamples: u64, people: usize) -> Trials {
        let (mut mean, mut covered) = ([0.0; 4], [0.0; 4]);
        for trial in 0..count {
            let times = simulated(1000 + trial, people, 0.35);
            let fit = times.fit();
            let found = times.estimates_from(&fit, Level::default(), trial, resamples);
            for (column, found) in found.into_iter().map(Option::unwrap).enumerate() {
                mean[column] += found.value / TRUTH[column] / count as f64;
                let holds = found.interval.contains(TRUTH[column]);
                covered[column] += f64::from(u8::from(holds)) / count as f64;
            }
        }
        Trials { mean, covered }
    }

    /// 150 samples: three standard errors below 95 % are 89.7 %.
    #[test]
    fn coefficients_are_unbiased_and_their_intervals_hold_them() {
        let Trials { mean, covered } = trials(150, 300, 12);
        for (mean, covered) in mean.into_iter().zip(covered) {
            assert_close(mean, 1.0, 0.1);
            assert!(covered >= 0.897, "{covered}");
        }
    }

    #[test]
    #[ignore = "takes some minutes"]
    fn intervals_hold_the_truth_with_few_people_and_many() {
        for people in [8, 12, 20, 40] {
            let Trials { mean, covered } = trials(500, 500, people);
            println!("{people} people: mean {mean:.3?}, covered {covered:.3?}");
            for (mean, covered) in mean.into_iter().zip(covered) {
                assert_close(mean, 1.0, 0.05);
                assert!((0.92..=0.99).contains(&covered), "{people} people: {covered}");
            }
        }
    }
}
