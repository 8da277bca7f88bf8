//! What became of the tries.

use std::collections::BTreeMap;
use std::sync::Mutex;

use tallyhouse_tests::command::Ran;

use crate::tries::seed;

/// What became of the tries, by kind and command.
#[derive(Default)]
pub(crate) struct Figures {
    counts: BTreeMap<(String, String, &'static str), u64>,
    wrong: Vec<String>,
}

impl Figures {
    pub(crate) fn count(&mut self, kind: &str, command: &str, outcome: &'static str) {
        *self.counts.entry((kind.to_owned(), command.to_owned(), outcome)).or_default() += 1;
    }

    pub(crate) fn wrong(&mut self, kind: &str, command: &str, what: &str) {
        self.count(kind, command, "WRONG");
        let what: String = what.chars().take(400).collect();
        self.wrong.push(format!("{command}, {kind}: {what}"));
    }

    pub(crate) fn print(&self, title: &str) {
        println!("{title}, seed {}", seed());
        for ((kind, command, outcome), count) in &self.counts {
            println!("  {kind:<34} {command:<22} {outcome:<28} {count:>7}");
        }
        println!("  tries {:>7}", self.counts.values().sum::<u64>());
    }

    pub(crate) fn assert_right(&self) {
        let first: Vec<&String> = self.wrong.iter().take(20).collect();
        assert!(first.is_empty(), "{} wrong: {first:#?}", self.wrong.len());
    }
}

/// Counts a run that may say what is wrong or do as an undisturbed one; anything else is wrong.
pub(crate) fn judge(
    ran: &Ran,
    same: impl FnOnce() -> Option<String>,
) -> Result<&'static str, String> {
    if ran.err.contains("panicked") {
        return Err(format!("panic: {}", ran.err));
    }
    match ran.code {
        Some(0) => same().map_or(Ok("the same results"), Err),
        Some(1) if ran.err.starts_with("error: ") || ran.err.contains("\nerror: ") => Ok("refused"),
        _ => Err(format!("{ran:?}")),
    }
}

pub(crate) fn tell(
    figures: &Mutex<Figures>,
    kind: &str,
    name: &str,
    found: Result<&'static str, String>,
) {
    let mut figures = figures.lock().unwrap();
    match found {
        Ok(outcome) => figures.count(kind, name, outcome),
        Err(what) => figures.wrong(kind, name, &what),
    }
}
