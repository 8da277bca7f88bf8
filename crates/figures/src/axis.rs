//! From values to places on the sheet, and the marks on an axis.

use plotters::coord::combinators::{IntoLogRange, LogCoord};
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged};
use plotters::coord::types::RangedCoordf64;

use crate::words::Unit;

/// How values are spread over an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Spread {
    /// Equal differences look equally wide.
    #[default]
    Linear,
    /// Equal ratios look equally wide; values are positive.
    Log,
}

/// An axis of a chart.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Axis {
    /// What is measured, with its unit.
    pub title: String,
    /// How values are spread.
    pub spread: Spread,
    /// How values are written.
    pub unit: Unit,
}

impl Axis {
    /// An axis on which equal differences look equally wide.
    #[must_use]
    pub fn linear(title: &str, unit: Unit) -> Self {
        Self { title: title.to_owned(), spread: Spread::Linear, unit }
    }

    /// An axis on which equal ratios look equally wide.
    #[must_use]
    pub fn log(title: &str, unit: Unit) -> Self {
        Self { spread: Spread::Log, ..Self::linear(title, unit) }
    }
}

/// The range of values that an axis shows, ended at round values: an axis of plotters.
#[derive(Clone, Debug)]
pub(crate) struct Range {
    spread: Spread,
    unit: Unit,
    low: f64,
    high: f64,
    /// The least distance of two marks on a linear axis.
    least_step: f64,
}

/// A mark on an axis.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    pub(crate) value: f64,
    pub(crate) words: String,
}

impl Range {
    /// Returns the range of these values. A logarithmic axis leaves out what is not positive; a
    /// linear one starts at zero if `from_zero` and no value is negative.
    pub(crate) fn of(axis: &Axis, values: impl Iterator<Item = f64>, from_zero: bool) -> Self {
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values.filter(|&value| axis.spread == Spread::Linear || value > 0.0) {
            least = least.min(value);
            most = most.max(value);
        }
        // Shares end at 100 %.
        let is_whole = axis.unit == Unit::Percent && most <= 1.0;
        let (low, high) = match axis.spread {
            Spread::Log if least > most => (0.1, 1.0),
            Spread::Log if is_whole && least > 0.5 => (0.5, 1.0),
            Spread::Log => {
                let low = round_below(least);
                (low, round_above(most).max(low * 2.0))
            }
            Spread::Linear if least > most => (0.0, 1.0),
            Spread::Linear => {
                let (low, high) = round_ends(least, most, from_zero);
                (low, if is_whole { high.min(1.0) } else { high })
            }
        };
        Self { spread: axis.spread, unit: axis.unit, ..Self::between(low, high) }
    }

    /// Returns the range of whole numbers, each in the middle of its slot.
    pub(crate) fn whole(least: i64, most: i64) -> Self {
        Self { least_step: 1.0, ..Self::between(least as f64 - 0.5, most as f64 + 0.5) }
    }

    /// Returns a linear range that ends at just these values, in either order.
    pub(crate) fn between(low: f64, high: f64) -> Self {
        Self { spread: Spread::Linear, unit: Unit::Number, low, high, least_step: 0.0 }
    }

    /// Returns the part of the way from the low end to the high one, clamped to the axis.
    pub(crate) fn part(&self, value: f64) -> f64 {
        const WAY: i32 = 1 << 20;
        f64::from(self.map(&value, (0, WAY))) / f64::from(WAY)
    }

    /// Tests if the value lies below the low end.
    pub(crate) fn is_below(&self, value: f64) -> bool {
        match self.spread {
            Spread::Linear => value < self.low,
            Spread::Log => value < self.low * (1.0 - 1e-9),
        }
    }

    /// Returns the densest marks for which `fits` holds, at least two if the axis has room for two.
    pub(crate) fn ticks(&self, fits: impl Fn(&[Tick]) -> bool) -> Vec<Tick> {
        self.choices().into_iter().find(|ticks| fits(ticks)).unwrap_or_else(|| self.ends())
    }

    /// Returns round marks, from the densest choice to the sparsest: three or more, on a logarithmic
    /// axis at least two powers of ten.
    ///
    /// Those of plotters are worse here: from 0 to 15 they leave the end without a mark, and on a
    /// logarithmic axis they have no 2 and 5, so none at all from 3 to 8.
    fn choices(&self) -> Vec<Vec<Tick>> {
        // Whole numbers are each marked where there is room.
        let most_intervals = if self.least_step > 0.0 { 30 } else { 7 };
        let mut choices: Vec<_> = match self.spread {
            Spread::Linear => {
                (2..=most_intervals).rev().map(|count| self.linear_ticks(count)).collect()
            }
            Spread::Log => self.log_ticks(),
        };
        let least = if self.spread == Spread::Log { 2 } else { 3 };
        choices.retain(|ticks| ticks.len() >= least);
        // Plotters asks for marks by their number.
        choices.dedup_by_key(|ticks| ticks.len());
        choices
    }

    fn ends(&self) -> Vec<Tick> {
        if self.spread == Spread::Log {
            let ends = [self.low, self.high];
            return ends.map(|end| self.tick(end, power_of_ten_below(end))).to_vec();
        }
        let half = self.least_step / 2.0;
        let step = round_step((self.high - self.low) / 10.0).max(self.least_step);
        let ends = [self.low + half, self.high - half].map(|value| self.tick(value, step));
        let count = if ends[0] == ends[1] { 1 } else { 2 };
        ends[..count].to_vec()
    }

    fn tick(&self, value: f64, step: f64) -> Tick {
        Tick { value, words: self.unit.write(value, step) }
    }

    fn linear_ticks(&self, intervals: usize) -> Vec<Tick> {
        let step = round_step((self.high - self.low) / intervals as f64).max(self.least_step);
        let first = (self.low / step - 1e-6).ceil();
        let last = (self.high / step + 1e-6).floor();
        (0..=(last - first) as usize)
            .map(|index| self.tick((first + index as f64) * step, step))
            .collect()
    }

    fn log_ticks(&self) -> Vec<Vec<Tick>> {
        let within =
            |value: &f64| (self.low * (1.0 - 1e-9)..=self.high * (1.0 + 1e-9)).contains(value);
        let (first, last) = (self.low.log10().floor(), self.high.log10().ceil());
        let marks = |factors: &[f64], step: usize| -> Vec<Tick> {
            (first as i32..=last as i32)
                .step_by(step)
                .flat_map(|power| {
                    let unit = 10f64.powi(power);
                    let values = factors.iter().map(move |factor| factor * unit);
                    values.filter(within).map(move |value| self.tick(value, unit))
                })
                .collect()
        };
        let mut choices = Vec::new();
        if self.high <= self.low * 320.0 {
            choices.push(marks(&[1.0, 2.0, 5.0], 1));
        }
        choices.extend((1..=(last - first).max(1.0) as usize).map(|step| marks(&[1.0], step)));
        // Sparse marks may miss the powers of ten that the axis shows.
        choices.sort_by_key(|ticks| std::cmp::Reverse(ticks.len()));
        choices
    }
}

impl Ranged for Range {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        // Plotters adds whole pixels without a look at overflow: far values end at the axis.
        let value = value.max(self.low.min(self.high)).min(self.high.max(self.low));
        match self.spread {
            Spread::Linear => RangedCoordf64::from(self.range()).map(&value, limit),
            Spread::Log => LogCoord::from(self.range().log_scale()).map(&value, limit),
        }
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        let most = hint.max_num_points();
        let fitting = self.choices().into_iter().find(|ticks| ticks.len() <= most);
        let ticks = fitting.unwrap_or_else(|| self.ends());
        ticks.into_iter().take(most).map(|tick| tick.value).collect()
    }

    fn range(&self) -> std::ops::Range<f64> {
        self.low..self.high
    }
}

/// Returns the power of ten at or below a value.
fn power_of_ten_below(value: f64) -> f64 {
    // A rounding error must not add a step: hence the epsilon.
    10f64.powf((value.log10() + 1e-9).floor())
}

/// Returns 1, 2, 5 and 10 times the power of ten at or below a value.
fn round_values(value: f64) -> [f64; 4] {
    let unit = power_of_ten_below(value).max(f64::MIN_POSITIVE);
    [1.0, 2.0, 5.0, 10.0].map(|factor: f64| (factor * unit).min(f64::MAX))
}

fn round_below(value: f64) -> f64 {
    let values = round_values(value);
    let below = values.into_iter().rev().find(|&round| round <= value * (1.0 + 1e-9));
    below.unwrap_or(values[0])
}

fn round_above(value: f64) -> f64 {
    let values = round_values(value);
    values.into_iter().find(|&round| round >= value * (1.0 - 1e-9)).unwrap_or(values[3])
}

fn round_ends(least: f64, most: f64, from_zero: bool) -> (f64, f64) {
    let mut low = if from_zero && least >= 0.0 { 0.0 } else { least };
    let mut high = most;
    if high - low <= low.abs().max(high.abs()) * 1e-9 {
        // All values are equal: leave them some room.
        let room = if high == 0.0 { 1.0 } else { high.abs() * 0.1 };
        (low, high) = if high == 0.0 { (0.0, room) } else { (low - room, high + room) };
    }
    let step = round_step((high - low) / 5.0);
    ((low / step + 1e-6).floor() * step, (high / step - 1e-6).ceil() * step)
}

/// Returns the least of 1, 2 and 5 times a power of ten that is no less than a value.
fn round_step(value: f64) -> f64 {
    let unit = 10f64.powf(value.log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| factor * unit >= value * 0.999);
    factor.unwrap_or(10.0) * unit
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(spread: Spread, values: &[f64]) -> Vec<String> {
        let axis = Axis { spread, ..Axis::default() };
        let ticks = Range::of(&axis, values.iter().copied(), true).ticks(|_| true);
        ticks.into_iter().map(|tick| tick.words).collect()
    }

    #[test]
    fn marks_are_round_and_hold_the_values() {
        assert_eq!(words(Spread::Linear, &[0.3, 4.2]), ["0", "1", "2", "3", "4", "5"]);
        assert_eq!(words(Spread::Linear, &[7.0]), ["0", "2", "4", "6", "8"]);
        assert_eq!(words(Spread::Log, &[3.0, 8.0]), ["2", "5", "10"]);
        assert_eq!(words(Spread::Log, &[0.001, 100.0]), ["0.001", "0.01", "0.1", "1", "10", "100"]);
        assert_eq!(words(Spread::Log, &[]), ["0.1", "0.2", "0.5", "1"]);
        // Where few marks fit, powers of ten come before the ends of the axis.
        let axis = Axis { spread: Spread::Log, ..Axis::default() };
        let range = Range::of(&axis, [0.000_002, 0.02].into_iter(), true);
        let few = range.ticks(|ticks| ticks.len() < 4);
        let few: Vec<_> = few.into_iter().map(|tick| tick.words).collect();
        assert_eq!(few, ["0.0001", "0.01"]);
        assert_eq!(words(Spread::Linear, &[0.0, 0.0])[0], "0");
    }

    #[test]
    fn shares_end_at_one_hundred_percent() {
        for spread in [Spread::Linear, Spread::Log] {
            let axis = Axis { spread, unit: Unit::Percent, ..Axis::default() };
            for values in [[1.0, 1.0], [0.97, 0.999], [0.2, 1.0], [0.6, 0.7]] {
                let range = Range::of(&axis, values.into_iter(), false);
                assert!(range.high <= 1.0 && range.low < range.high, "{spread:?} {range:?}");
                assert!(range.ticks(|_| true).len() >= 2);
            }
            let beyond = Range::of(&axis, [0.9, 1.3].into_iter(), false);
            assert!(beyond.high >= 1.3);
        }
    }

    #[test]
    fn every_value_lies_on_its_axis() {
        for spread in [Spread::Linear, Spread::Log] {
            for values in [[1e-12, 5e-12], [3.0, 3.0], [999.0, 1e18], [0.1, 0.3]] {
                let axis = Axis { spread, ..Axis::default() };
                for from_zero in [true, false] {
                    let range = Range::of(&axis, values.into_iter(), from_zero);
                    for value in values {
                        assert!(!range.is_below(value), "{spread:?} {values:?}");
                        assert!((-7..=900).contains(&range.map(&value, (-7, 900))));
                    }
                    let [one, other] = values.map(|value| range.map(&value, (0, 1000)));
                    assert!(one <= other);
                    assert!(range.ticks(|_| true).len() >= 2);
                    for most in 2..=8 {
                        let ticks = range.ticks(|ticks| ticks.len() <= most);
                        let places: Vec<_> = ticks.into_iter().map(|tick| tick.value).collect();
                        assert_eq!(range.key_points(most), places);
                    }
                    assert!(range.ticks(|_| false).len() == 2);
                }
            }
        }
    }
}
