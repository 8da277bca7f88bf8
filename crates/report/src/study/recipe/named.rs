//! Choices by name, in recipes and in what is kept of them.

use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serializer};
use strum::VariantArray;

/// What a recipe names one of.
pub(super) trait Choice:
    Copy + PartialEq + FromStr + VariantArray + Into<&'static str>
{
}

impl<T: Copy + PartialEq + FromStr + VariantArray + Into<&'static str>> Choice for T {}

/// Lists the names.
pub(super) fn names_of<T: Choice>() -> String {
    let names: Vec<&str> = T::VARIANTS.iter().map(|&value| value.into()).collect();
    names.join(", ")
}

/// A value that a recipe names. The names are those of the type itself.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Named<T>(pub(super) T);

impl<'de, T: Choice> Deserialize<'de> for Named<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        let unknown = || format!("found '{text}', expected one of {}", names_of::<T>());
        text.parse().map(Self).map_err(|_| serde::de::Error::custom(unknown()))
    }
}

/// Writes values by their names.
pub(super) fn names<T: Choice, S: Serializer>(values: &[T], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(values.iter().map(|&value| -> &'static str { value.into() }))
}

/// Writes a value by its name.
pub(super) fn name<T: Choice, S: Serializer>(value: &T, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str((*value).into())
}
