//! The progress bar: on standard error, only on a terminal, cleared at the end.

use std::fmt::Write;

use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use tallyhouse_collection::Progress;
use tallyhouse_words::count;

const KNOWN: &str =
    "{msg} {wide_bar:.dim} {human_pos} of {human_len} {prefix}, {rate} per second{left}";
const UNKNOWN: &str = "{msg} {spinner} {human_pos} {prefix}, {rate} per second";

/// A bar that hears how far something has come and goes away when it is dropped.
pub(crate) struct Bar(ProgressBar);

impl Bar {
    /// Makes a bar; `total` is left out where it is not known yet.
    pub(crate) fn new(
        verb: &'static str,
        units: &'static str,
        total: Option<u64>,
        quiet: bool,
    ) -> Self {
        let target = if quiet {
            ProgressDrawTarget::hidden()
        } else {
            ProgressDrawTarget::stderr_with_hz(8)
        };
        // Nothing is drawn before the bar is whole.
        let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::hidden())
            .with_message(verb)
            .with_prefix(units);
        set_style(&bar, if total.is_some() { KNOWN } else { UNKNOWN });
        bar.set_draw_target(target);
        Self(bar)
    }
}

impl Progress for Bar {
    fn advance(&self, more: u64) {
        self.0.inc(more);
    }

    fn expect(&self, total: u64) {
        if self.0.length().is_none() {
            set_style(&self.0, KNOWN);
        }
        self.0.set_length(total.max(self.0.position()));
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

fn set_style(bar: &ProgressBar, template: &str) {
    // The template is fixed text; a plain bar is a fine fallback.
    if let Ok(style) = ProgressStyle::with_template(template) {
        // Writing into the bar's own text cannot fail.
        let rate = |state: &ProgressState, text: &mut dyn Write| {
            let _ = text.write_str(&rate(state.per_sec()));
        };
        let left = |state: &ProgressState, text: &mut dyn Write| {
            if state.pos() > 0 {
                let _ = write!(text, ", {} left", HumanDuration(state.eta()));
            }
        };
        bar.set_style(style.with_key("rate", rate).with_key("left", left));
    }
}

/// Writes a rate without decimals, slow ones with one.
fn rate(per_second: f64) -> String {
    if per_second < 10.0 { format!("{per_second:.1}") } else { count(per_second.round() as u64) }
}
