//! How the numbers of axes are written: to the place that the step of the axis needs, large and small
//! ones short, minus signs set as such.

use tallyhouse_words::count;

/// What the numbers of an axis are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Unit {
    /// Plain numbers.
    #[default]
    Number,
    /// Shares between 0 and 1, written in percent.
    Percent,
}

/// A no-break space, which holds a number and its unit together.
const HOLD: char = '\u{a0}';

impl Unit {
    /// Writes a value to the last decimal place that a step needs.
    pub(crate) fn write(self, value: f64, step: f64) -> String {
        match self {
            Self::Number => write_number(value, step),
            Self::Percent => format!("{}{HOLD}%", write_number(100.0 * value, 100.0 * step)),
        }
    }

    /// Writes a value to three significant digits, a whole number without decimals.
    pub(crate) fn write_rounded(self, value: f64) -> String {
        if value == 0.0 {
            return self.write(0.0, 1.0);
        }
        let shown = if self == Self::Percent { 100.0 * value } else { value };
        let digits = 10f64.powi(shown.abs().log10().floor() as i32 - 2);
        let is_whole = self == Self::Number && shown.fract() == 0.0;
        let step = if is_whole { digits.max(1.0) } else { digits };
        let step = if self == Self::Percent { step / 100.0 } else { step };
        self.write(value, step)
    }
}

fn write_number(value: f64, step: f64) -> String {
    // The epsilon lets 0.1, stored a little too low, count as one tenth.
    let power = (step.abs().log10() + 1e-9).floor() as i32;
    let sign = if value < 0.0 { "−" } else { "" };
    let size = value.abs();
    if size == 0.0 {
        return "0".to_owned();
    }
    // All numbers of an axis are written in one way: its step decides where they are small.
    if !(1e-6..1e15).contains(&size) || power < -6 {
        let exponent = (size.log10() + 1e-9).floor() as i32;
        let mantissa = size / 10f64.powi(exponent);
        let decimals = (exponent - power).clamp(0, 3) as usize;
        let mantissa = without_zeros(&format!("{mantissa:.decimals$}"));
        // The bundled font has raised digits, but no raised minus.
        if exponent < 0 {
            return format!("{sign}{mantissa}e−{}", -exponent);
        }
        let mantissa = if mantissa == "1" { String::new() } else { format!("{mantissa}·") };
        return format!("{sign}{mantissa}10{}", superscript(exponent));
    }
    for (unit, name) in [(1e12, "trillion"), (1e9, "billion"), (1e6, "million")] {
        // What rounds up to the unit is written in it.
        if size >= unit * 0.9995 {
            let decimals = (unit.log10().round() as i32 - power).clamp(0, 3) as usize;
            let shown = without_zeros(&format!("{:.decimals$}", size / unit));
            return format!("{sign}{shown}{HOLD}{name}");
        }
    }
    let decimals = (-power).clamp(0, 12) as usize;
    let text = format!("{size:.decimals$}");
    let (whole, fraction) = text.split_at(text.find('.').unwrap_or(text.len()));
    let whole = whole.parse().map_or_else(|_| whole.to_owned(), count);
    format!("{sign}{whole}{fraction}")
}

/// Leaves out zeros after the decimal point.
fn without_zeros(number: &str) -> String {
    let Some((whole, decimals)) = number.split_once('.') else { return number.to_owned() };
    let decimals = decimals.trim_end_matches('0');
    if decimals.is_empty() { whole.to_owned() } else { format!("{whole}.{decimals}") }
}

/// Writes a power that is not negative.
fn superscript(power: i32) -> String {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    let digits = power.to_string();
    digits.chars().filter_map(|c| c.to_digit(10)).map(|digit| DIGITS[digit as usize]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        for (value, step, words) in [
            (0.0, 0.1, "0"),
            (0.1, 0.1, "0.1"),
            (0.30000000000000004, 0.1, "0.3"),
            (1234567.0, 1.0, "1.235\u{a0}million"),
            (1000.0, 1000.0, "1,000"),
            (-12.5, 0.5, "−12.5"),
            (2e6, 1e6, "2\u{a0}million"),
            (2.5e6, 5e5, "2.5\u{a0}million"),
            (999_999_999.0, 1e6, "1\u{a0}billion"),
            (999_999.0, 1.0, "1\u{a0}million"),
            (1e9, 1.0, "1\u{a0}billion"),
            (999_000.0, 1.0, "999,000"),
            (1e-6, 5e-7, "1e−6"),
            (1e18, 1e18, "10¹⁸"),
            (2.5e-9, 5e-10, "2.5e−9"),
        ] {
            assert_eq!(Unit::Number.write(value, step), words);
        }
        assert_eq!(Unit::Percent.write(0.001, 0.001), "0.1\u{a0}%");
        assert_eq!(Unit::Percent.write_rounded(0.123_456), "12.3\u{a0}%");
        assert_eq!(Unit::Number.write_rounded(26.5769), "26.6");
        assert_eq!(Unit::Number.write_rounded(39.0), "39");
        assert_eq!(Unit::Number.write_rounded(1234.5), "1,234");
    }
}
