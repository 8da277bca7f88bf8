//! Choices by name, in recipes and in what is kept of them.

use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serializer};
use strum::VariantArray;

/// A value that a recipe names. The names are those of the type itself.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Named<T>(pub(super) T);

impl<'de, T> Deserialize<'de> for Named<T>
where
    T: Copy + FromStr + VariantArray + Into<&'static str>,
{
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map(Self).map_err(|_| {
            let names: Vec<&str> = T::VARIANTS.iter().map(|&value| value.into()).collect();
            let names = names.join(", ");
            serde::de::Error::custom(format!("found '{text}', expected one of {names}"))
        })
    }
}

/// Writes values by their names.
pub(super) fn names<T, S>(values: &[T], to: S) -> Result<S::Ok, S::Error>
where
    T: Copy + Into<&'static str>,
    S: Serializer,
{
    to.collect_seq(values.iter().map(|&value| -> &'static str { value.into() }))
}

/// Writes a value by its name.
pub(super) fn name<T, S>(value: &T, to: S) -> Result<S::Ok, S::Error>
where
    T: Copy + Into<&'static str>,
    S: Serializer,
{
    to.serialize_str((*value).into())
}
