//! Orders told as steps that a person can follow.

use serde::Serialize;
use tallyhouse_words::{list, list_or, set_name, set_names};

use super::draft::{Draft, Kind, Rung, Side};

/// An order in sentences.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OrderSteps {
    /// What to do, one sentence for each step. Looks that follow each other in the same houses, or for the
    /// same subsets, are one step.
    pub steps: Vec<String>,
    /// What is left out, and when to begin again.
    pub rules: Vec<String>,
}

impl OrderSteps {
    pub(super) fn of(draft: &Draft) -> Self {
        let mut steps: Vec<Vec<Rung>> = Vec::new();
        for &rung in draft.rungs() {
            match steps.last_mut().filter(|step| Step::of(&joined(step, rung)).is_some()) {
                Some(step) => step.push(rung),
                None => steps.push(vec![rung]),
            }
        }
        let sentences = steps.iter().filter_map(|step| Some(Step::of(step)?.sentence(step)));
        let mut rules = vec!["After each find, begin again with step 1.".to_owned()];
        rules.extend(never(draft));
        rules.extend(singles_alone(draft));
        Self { steps: sentences.collect(), rules }
    }

    /// Returns the steps with their numbers, then the rules.
    pub fn lines(&self) -> impl Iterator<Item = String> {
        let steps =
            (1..).zip(&self.steps).map(|(number, step): (u8, _)| format!("{number}. {step}"));
        steps.chain(self.rules.iter().cloned())
    }
}

fn joined(step: &[Rung], rung: Rung) -> Vec<Rung> {
    [step, &[rung]].concat()
}

/// What the looks of one step have in common.
enum Step {
    /// They are for singles.
    Singles,
    /// They are made in houses of the same open counts: from the least in which there is room, if it is
    /// none, to the last.
    Houses(Option<u8>, u8),
    /// They are for the same subsets.
    Kind(Kind),
}

impl Step {
    fn of(rungs: &[Rung]) -> Option<Self> {
        let first = rungs.first()?;
        if rungs.iter().any(|rung| rung.kind.size == 1) {
            return rungs.iter().all(|rung| rung.kind.size == 1).then_some(Self::Singles);
        }
        let is_limited = |rung: &&Rung| rung.low > rung.kind.least_open();
        let low = rungs.iter().find(is_limited).map(|rung| rung.low);
        let fits = |rung: &Rung| {
            rung.high == first.high && rung.low == rung.kind.least_open().max(low.unwrap_or(0))
        };
        if rungs.iter().all(fits) {
            return Some(Self::Houses(low, first.high));
        }
        rungs.iter().all(|rung| rung.kind == first.kind).then_some(Self::Kind(first.kind))
    }

    fn sentence(&self, rungs: &[Rung]) -> String {
        match self {
            Self::Singles => match rungs {
                [only] => format!("Look for {}.", plural(only.kind)),
                _ => format!(
                    "Look for singles, {} ones before {} ones.",
                    side(rungs[0].kind.side),
                    side(rungs[0].kind.side.other())
                ),
            },
            Self::Houses(low, high) => {
                let alike = rungs.iter().all(|rung| rung.low == rungs[0].low);
                let low = low.or(alike.then_some(rungs[0].low).filter(|low| low == high));
                let houses = match (low, high) {
                    _ if rungs.iter().all(|rung| rung.is_everywhere()) => String::new(),
                    (None, high) => format!("in houses with up to {high} open cells"),
                    (Some(low), high) => format!("in houses with {} open cells", range(low, *high)),
                };
                let comma = if rungs.len() > 1 { "," } else { "" };
                match houses.as_str() {
                    "" => format!("Look for {}.", in_turn(rungs)),
                    houses => format!("Look for {}{comma} {houses}.", in_turn(rungs)),
                }
            }
            Self::Kind(kind) => {
                let ranges = rungs.iter().enumerate().map(|(index, rung)| {
                    let open = range(rung.low, rung.high);
                    match index {
                        0 => format!("in houses with {open} open cells"),
                        _ => format!("then in those with {open}"),
                    }
                });
                let ranges: Vec<String> = ranges.collect();
                format!("Look for {} {}.", plural(*kind), ranges.join(", "))
            }
        }
    }
}

/// Lists looks in their order; a side is named again where it changes.
fn in_turn(rungs: &[Rung]) -> String {
    let kinds = rungs.iter().map(|rung| rung.kind);
    if rungs.len() > 3 {
        return format!("these, in this order: {}", list(kinds.map(plural)));
    }
    let mut last = None;
    let names = kinds.map(|kind| match last.replace(kind.side) == Some(kind.side) {
        true => set_names(kind.size),
        false => plural(kind),
    });
    names.collect::<Vec<_>>().join(", then ")
}

/// What is not looked for in any house.
fn never(draft: &Draft) -> Option<String> {
    let is_sought = |kind: Kind| draft.rungs().iter().any(|rung| rung.kind == kind);
    let largest = draft.rungs().iter().map(|rung| rung.kind.size).max().unwrap_or(1);
    if largest == 1 {
        return Some("Never look for anything but singles.".to_owned());
    }
    let left_out = Kind::subsets().filter(|kind| kind.size <= largest && !is_sought(*kind));
    let mut names: Vec<String> = left_out.map(plural).collect();
    if largest < 8 {
        names.push(format!("anything larger than a {}", set_name(largest)));
    }
    (!names.is_empty()).then(|| format!("Never look for {}.", list_or(names)))
}

/// The houses that can hold subsets and in which none is looked for.
fn singles_alone(draft: &Draft) -> Option<String> {
    let is_searched = |open: u8| {
        let subsets = draft.rungs().iter().filter(|rung| rung.kind.size > 1);
        subsets.into_iter().any(|rung| (rung.low..=rung.high).contains(&open))
    };
    let open: Vec<u8> = (4..=9).filter(|&open| !is_searched(open)).collect();
    let sought = draft.rungs().iter().any(|rung| rung.kind.size > 1);
    (sought && !open.is_empty())
        .then(|| format!("In houses with {} open cells look for singles alone.", list_or(open)))
}

const fn side(side: Side) -> &'static str {
    match side {
        Side::Naked => "naked",
        Side::Hidden => "hidden",
    }
}

/// Names all that a look finds: `naked pairs`, `hidden sets of six`.
fn plural(kind: Kind) -> String {
    format!("{} {}", side(kind.side), set_names(kind.size))
}

fn range(low: u8, high: u8) -> String {
    match high - low {
        0 => low.to_string(),
        1 => format!("{low} or {high}"),
        _ => format!("{low} to {high}"),
    }
}

#[cfg(test)]
mod tests {
    use insta::assert_snapshot;
    use tallyhouse_engine::Order;

    use super::*;
    use crate::order_search::draft::draft;

    #[test]
    fn orders_are_told_as_steps() {
        let ladder = Order::ladder().to_string();
        let told = [
            ladder.as_str(),
            "hidden 1, naked 1",
            "naked 1, naked 2 open 3..5, naked 3 open 4..5, hidden 1, hidden 2 open 9",
            "naked 1, hidden 1, naked 3 open 7..8, naked 3 open 4..5, naked 4 open 9, hidden 4 open 9, \
             naked 2 open 4..7, hidden 6, naked 7 open 9, naked 5 open 8",
            "naked 2 open 3, naked 1, hidden 1, hidden 2, hidden 3, naked 8, hidden 8, naked 4 open 5",
        ]
        .map(|text| {
            let steps: Vec<String> = OrderSteps::of(&draft(text)).lines().collect();
            format!("{text}\n{}\n", steps.join("\n"))
        });
        assert_snapshot!(told.join("\n"));
    }
}
