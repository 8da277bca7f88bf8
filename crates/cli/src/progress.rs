//! The progress bar: on standard error, only on a terminal, cleared at the end.

use std::fmt::Write;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};

use crate::summary::grouped;

/// Makes a bar that counts puzzles.
pub(crate) fn bar(verb: &'static str, total: u64, quiet: bool) -> ProgressBar {
    let target =
        if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr_with_hz(8) };
    let bar = ProgressBar::with_draw_target(Some(total), target);
    // The template is fixed text; a plain bar is a fine fallback.
    let style = ProgressStyle::with_template(
        "{msg} {wide_bar:.dim} {human_pos} of {human_len} puzzles, {rate} per second, {eta} left",
    );
    if let Ok(style) = style {
        bar.set_style(style.with_key("rate", |state: &ProgressState, text: &mut dyn Write| {
            // Writing into the bar's own text cannot fail.
            let _ = text.write_str(&grouped(state.per_sec().round() as u64));
        }));
    }
    bar.set_message(verb);
    bar
}

/// Hands a scan's progress to a bar.
pub(crate) struct ScanBar(pub(crate) ProgressBar);

impl tallyhouse_census::Progress for ScanBar {
    fn advance(&self, rows: u64) {
        self.0.inc(rows);
    }

    fn expect(&self, rows: u64) {
        self.0.set_length(rows.max(self.0.position()));
    }
}
