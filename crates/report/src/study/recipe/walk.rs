//! The walk of a study's census.

use serde::Deserialize;
use tallyhouse_analysis::{FileError, TextFile};
use tallyhouse_engine::{CourseKind, Look, Order, WalkOptions, WhenStuck};
use toml::Spanned;

use super::named::Named;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawWalk {
    looks: Option<Spanned<Vec<Spanned<String>>>>,
    intersections: Option<Spanned<bool>>,
    #[serde(default)]
    course: Named<CourseKind>,
    #[serde(default)]
    when_stuck: Named<WhenStuck>,
}

impl RawWalk {
    pub(super) fn options(self, source: TextFile<'_>) -> Result<WalkOptions, FileError> {
        let order = match (self.looks, self.intersections) {
            (Some(_), Some(intersections)) => {
                let reason = "intersections go with the full ladder: with looks of your own, write \
                              \"intersections\" among them";
                return Err(source.error_at(intersections.span().start, reason));
            }
            (Some(looks), None) => {
                let at = looks.span().start;
                let look = |text: Spanned<String>| {
                    let look = text.get_ref().parse::<Look>();
                    look.map_err(|error| source.error_at(text.span().start, error.to_string()))
                };
                let looks = looks.into_inner().into_iter().map(look).collect::<Result<_, _>>()?;
                Order::new(looks).map_err(|error| source.error_at(at, error.to_string()))?
            }
            (None, Some(intersections)) if *intersections.get_ref() => {
                Order::ladder().with_intersections()
            }
            (None, _) => Order::ladder(),
        };
        Ok(WalkOptions { order, course: self.course.0.into(), when_stuck: self.when_stuck.0 })
    }
}
