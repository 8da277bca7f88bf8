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
                // A value on a power of ten, give or take a rounding error, ends the axis.
                let low = (least.log10() + 1e-9).floor();
                (low, (most.log10() - 1e-9).ceil().max(low + 1.0))
            }
            Spread::Linear if least > most => (0.0, 1.0),
            Spread::Linear => round_ends(least, most, from_zero),
        };
        Self { spread: axis.spread, unit: axis.unit, low, high }
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

    /// Returns the densest marks for which `fits` holds, at least two.
    pub(crate) fn ticks(&self, fits: impl Fn(&[Tick]) -> bool) -> Vec<Tick> {
        let choices: Vec<Vec<Tick>> = match self.spread {
            Spread::Linear => (1..=7).rev().map(|count| self.linear_ticks(count)).collect(),
            Spread::Log => self.log_ticks(),
        };
        let ends = || self.ends();
        choices.into_iter().find(|ticks| ticks.len() >= 2 && fits(ticks)).unwrap_or_else(ends)
    }

    fn ends(&self) -> Vec<Tick> {
        let (low, high, step) = match self.spread {
            Spread::Linear => (self.low, self.high, round_step((self.high - self.low) / 10.0)),
            Spread::Log => {
                let (low, high) = (10f64.powf(self.low), 10f64.powf(self.high));
                return [low, high].map(|value| self.tick(value, value)).to_vec();
            }
        };
        [low, high].map(|value| self.tick(value, step)).to_vec()
    }

    fn tick(&self, value: f64, step: f64) -> Tick {
        Tick { value, words: self.unit.write(value, step) }
    }

    fn linear_ticks(&self, intervals: usize) -> Vec<Tick> {
        let step = round_step((self.high - self.low) / intervals as f64);
        let first = (self.low / step - 1e-6).ceil();
        let last = (self.high / step + 1e-6).floor();
        (0..=(last - first) as usize)
            .map(|index| self.tick((first + index as f64) * step, step))
            .collect()
    }

    fn log_ticks(&self) -> Vec<Vec<Tick>> {
        let (low, high) = (self.low.round() as i32, self.high.round() as i32);
        let decades = |step: usize| -> Vec<Tick> {
            (low..=high)
                .step_by(step)
                .map(|power| self.tick(10f64.powi(power), 10f64.powi(power)))
                .collect()
        };
        let mut choices = Vec::new();
        if high - low <= 2 {
            let within = (low..high).flat_map(|power| {
                [1.0, 2.0, 5.0].map(|factor| (factor * 10f64.powi(power), 10f64.powi(power)))
            });
            let end = 10f64.powi(high);
            choices.push(
                within.chain([(end, end)]).map(|(value, step)| self.tick(value, step)).collect(),
            );
        }
        choices.extend((1..=(high - low).max(1) as usize).map(decades));
        choices
    }
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
        assert_eq!(words(Spread::Log, &[3.0, 8.0]), ["1", "2", "5", "10"]);
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
