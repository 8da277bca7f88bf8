//! The sections of a report. Each stands in a file of its own, which says what the section measures,
//! what it says of it and what it draws; its place in the report is its place in [`IN_ORDER`].

mod card;
mod collection;
mod comparison;
mod effort;
mod in_short;
mod left_out;
mod occurrence;
mod order;
mod panel;
mod rulebooks;
mod specimens;
mod timings;
mod trial;
mod worksheet;
mod yields;

use super::collections::Study;
use super::part::Parts;

pub(super) use occurrence::shapes_table_id;

/// What each section makes of a study, in the order of the report.
pub(super) const IN_ORDER: [for<'a> fn(&'a Study<'a>) -> Parts<'a>; 14] = [
    card::of,
    trial::of,
    panel::of,
    occurrence::of,
    comparison::of,
    yields::of,
    timings::of,
    left_out::of,
    effort::of,
    rulebooks::of,
    order::of,
    collection::of,
    specimens::of,
    worksheet::of,
];
