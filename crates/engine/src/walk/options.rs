use std::collections::BTreeMap;
use std::str::FromStr;

use strum::VariantArray;
use tallyhouse_board::House;
use tallyhouse_words::list_or;

use crate::Order;

/// How finds are applied.
#[derive(Clone, Debug, PartialEq, Eq, strum::EnumDiscriminants)]
#[strum_discriminants(
    name(CourseKind),
    doc = "The kinds of [`Course`], by name.",
    derive(
        Default,
        strum::Display,
        strum::EnumMessage,
        strum::EnumString,
        strum::IntoStaticStr,
        strum::VariantArray
    ),
    strum(serialize_all = "kebab-case")
)]
pub enum Course {
    /// All finds of the first look that has any are applied at once.
    ///
    /// The result does not depend on the order of houses and is invariant under the board's
    /// symmetries.
    #[strum_discriminants(default)]
    Together,
    /// As a person works: the first find is applied at once; rows first, then columns, then boxes.
    ///
    /// The houses come in the order given here. Within a house, naked sides come in the order of
    /// their cells and hidden sides of their digits.
    OneByOne(Vec<House>),
}

impl From<CourseKind> for Course {
    /// Takes the houses of a one-by-one walk in their usual order.
    fn from(kind: CourseKind) -> Self {
        match kind {
            CourseKind::Together => Self::Together,
            CourseKind::OneByOne => Self::OneByOne(House::all().collect()),
        }
    }
}

tallyhouse_words::choice! {
    /// What happens when no look finds anything.
    #[derive(Default)]
    pub enum WhenStuck {
        /// The walk ends.
        #[default]
        Stop,
        /// One digit of the solution is given, and the walk goes on.
        ///
        /// It is given in the open cell with the fewest candidates, of several the one of lowest index.
        /// Only a puzzle that is found to have exactly one solution is helped so; with others the walk
        /// ends.
        GiveDigit,
    }
}

/// Everything that decides a walk.
///
/// ```
/// use tallyhouse_engine::{CourseKind, Order, WalkOptions};
///
/// let options = WalkOptions { course: CourseKind::OneByOne.into(), ..WalkOptions::default() };
/// assert_eq!(options.order, Order::ladder());
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalkOptions {
    /// The looks.
    pub order: Order,
    /// How finds are applied.
    pub course: Course,
    /// What happens when no look finds anything.
    pub when_stuck: WhenStuck,
}

impl Default for WalkOptions {
    /// The default ladder, together, stopping when stuck.
    fn default() -> Self {
        Self { order: Order::ladder(), course: Course::Together, when_stuck: WhenStuck::Stop }
    }
}

/// A choice that a walk does not have, or a name that a choice does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{found}' is no {of}: expected {expected}")]
pub struct UnknownChoice {
    of: String,
    found: String,
    expected: String,
}

impl UnknownChoice {
    fn new(of: &str, found: &str, expected: impl IntoIterator<Item = &'static str>) -> Self {
        Self { of: of.to_owned(), found: found.to_owned(), expected: list_or(expected) }
    }
}

impl WalkOptions {
    /// Returns what is chosen beside the looks and the order of houses, by name: how a walk is
    /// written down.
    ///
    /// ```
    /// use tallyhouse_engine::WalkOptions;
    ///
    /// let mut options = WalkOptions::default();
    /// assert_eq!(options.choices()["when_stuck"], "stop");
    /// options.choose("when_stuck", "give-digit")?;
    /// assert_eq!(options.choices()["when_stuck"], "give-digit");
    /// # Ok::<(), tallyhouse_engine::UnknownChoice>(())
    /// ```
    #[must_use]
    pub fn choices(&self) -> BTreeMap<&'static str, &'static str> {
        let course = CourseKind::from(&self.course);
        BTreeMap::from([("course", course.into()), ("when_stuck", self.when_stuck.into())])
    }

    /// Tests if all but these choices are as usual: who knows no others can go by that.
    pub(crate) fn chooses_only(&self, known: &[&str]) -> bool {
        let usual = Self::default().choices();
        let fits = |(choice, name)| known.contains(&choice) || usual.get(choice) == Some(&name);
        self.choices().into_iter().all(fits)
    }

    /// Chooses by name.
    ///
    /// # Errors
    /// If there is no such choice, or it does not know the name.
    pub fn choose(&mut self, choice: &str, name: &str) -> Result<(), UnknownChoice> {
        match choice {
            "course" => self.course = named::<CourseKind>(choice, name)?.into(),
            "when_stuck" => self.when_stuck = named(choice, name)?,
            _ => return Err(UnknownChoice::new("choice", choice, self.choices().into_keys())),
        }
        Ok(())
    }
}

fn named<T>(choice: &str, name: &str) -> Result<T, UnknownChoice>
where
    T: VariantArray + FromStr + Copy + Into<&'static str>,
{
    let names = || T::VARIANTS.iter().map(|&value| value.into());
    name.parse().map_err(|_| UnknownChoice::new(choice, name, names()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_that_is_not_known_has_to_be_the_usual_one() {
        let mut options = WalkOptions::default();
        assert!(options.chooses_only(&[]));
        options.choose("when_stuck", "give-digit").unwrap();
        assert!(!options.chooses_only(&["course"]) && options.chooses_only(&["when_stuck"]));
    }
}
