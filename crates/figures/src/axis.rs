//! From values to places on the sheet, and the marks on an axis.

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

/// The range of values that an axis shows, ended at round values.
#[derive(Clone, Debug)]
pub(crate) struct Range {
    spread: Spread,
    unit: Unit,
    /// The ends; on a logarithmic axis as powers of ten.
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
        let (low, high) = match axis.spread {
            Spread::Log if least > most => (-1.0, 0.0),
            Spread::Log => {
                let low = round_power_below(least);
                (low, round_power_above(most).max(low + 2f64.log10()))
            }
            Spread::Linear if least > most => (0.0, 1.0),
            Spread::Linear => round_ends(least, most, from_zero),
        };
        Self { spread: axis.spread, unit: axis.unit, low, high, least_step: 0.0 }
    }

    /// Returns the range of whole numbers, each in the middle of its slot.
    pub(crate) fn whole(least: i64, most: i64) -> Self {
        Self {
            spread: Spread::Linear,
            unit: Unit::Number,
            low: least as f64 - 0.5,
            high: most as f64 + 0.5,
            least_step: 1.0,
        }
    }

    /// Returns the part of the way from the low end to the high one, clamped to the axis.
    pub(crate) fn part(&self, value: f64) -> f64 {
        let value = match self.spread {
            Spread::Linear => value,
            Spread::Log if value <= 0.0 => return 0.0,
            Spread::Log => value.log10(),
        };
        ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0)
    }

    /// Tests if the value lies below the low end.
    pub(crate) fn is_below(&self, value: f64) -> bool {
        match self.spread {
            Spread::Linear => value < self.low,
            Spread::Log => value <= 0.0 || value.log10() < self.low - 1e-9,
        }
    }

    /// Returns the densest marks for which `fits` holds, at least two if the axis has room for two.
    pub(crate) fn ticks(&self, fits: impl Fn(&[Tick]) -> bool) -> Vec<Tick> {
        let choices: Vec<Vec<Tick>> = match self.spread {
            Spread::Linear => {
                (1..=self.most_intervals()).rev().map(|count| self.linear_ticks(count)).collect()
            }
            Spread::Log => self.log_ticks(),
        };
        let ends = || self.ends();
        choices.into_iter().find(|ticks| ticks.len() >= 2 && fits(ticks)).unwrap_or_else(ends)
    }

    /// Whole numbers are each marked where there is room.
    fn most_intervals(&self) -> usize {
        if self.least_step > 0.0 { 30 } else { 7 }
    }

    fn ends(&self) -> Vec<Tick> {
        let (low, high, step) = match self.spread {
            Spread::Linear => {
                let half = self.least_step / 2.0;
                (self.low + half, self.high - half, round_step((self.high - self.low) / 10.0))
            }
            Spread::Log => {
                let power = |end: f64| 10f64.powf(end);
                let step = |end: f64| 10f64.powf((end + 1e-9).floor());
                return [self.low, self.high].map(|end| self.tick(power(end), step(end))).to_vec();
            }
        };
        let step = step.max(self.least_step);
        let mut ends = [low, high].map(|value| self.tick(value, step)).to_vec();
        ends.dedup();
        ends
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
        let within = |value: &f64| (self.low - 1e-9..=self.high + 1e-9).contains(&value.log10());
        let marks = |factors: &[f64], step: usize| -> Vec<Tick> {
            (self.low.floor() as i32..=self.high.ceil() as i32)
                .step_by(step)
                .flat_map(|power| {
                    let unit = 10f64.powi(power);
                    let values = factors.iter().map(move |factor| factor * unit);
                    values.filter(within).map(move |value| self.tick(value, unit))
                })
                .collect()
        };
        let mut choices = Vec::new();
        if self.high - self.low <= 2.5 {
            choices.push(marks(&[1.0, 2.0, 5.0], 1));
        }
        let decades = (self.high.ceil() - self.low.floor()) as usize;
        choices.extend((1..=decades.max(1)).map(|step| marks(&[1.0], step)));
        choices
    }
}

/// Returns 1, 2, 5 and 10 times the whole power of ten below a value, as powers of ten.
fn round_powers(value: f64) -> [f64; 4] {
    let power = (value.log10() + 1e-9).floor();
    [1.0, 2.0, 5.0, 10.0].map(|factor: f64| power + factor.log10())
}

// A rounding error must not add a step: hence the epsilons.

fn round_power_below(value: f64) -> f64 {
    let powers = round_powers(value);
    let below = powers.into_iter().rev().find(|&power| power <= value.log10() + 1e-9);
    below.unwrap_or(powers[0])
}

fn round_power_above(value: f64) -> f64 {
    let powers = round_powers(value);
    powers.into_iter().find(|&power| power >= value.log10() - 1e-9).unwrap_or(powers[3])
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
        assert_eq!(words(Spread::Linear, &[0.0, 0.0])[0], "0");
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
                        assert!((0.0..=1.0).contains(&range.part(value)));
                    }
                    assert!(range.part(values[0]) <= range.part(values[1]));
                    assert!(range.ticks(|_| true).len() >= 2);
                    assert!(range.ticks(|_| false).len() == 2);
                }
            }
        }
    }
}
