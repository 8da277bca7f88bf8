//! The sections of a report, from the results of the stages.

mod collection;
mod effort;
mod occurrence;
mod order;
mod parts;
mod specimens;
mod trial;

pub(super) use collection::{clues_csv, description};
pub(super) use effort::{effort, effort_csv, effort_of_weighted};
pub(super) use occurrence::{OccurrenceData, comparison, occurrence, rejected_words};
pub(super) use order::order;
pub(super) use specimens::{SpecimenGroup, specimens};
pub(super) use trial::{missed_csv, trial};
