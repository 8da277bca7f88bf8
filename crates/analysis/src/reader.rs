use serde::{Deserialize, Serialize};
use tallyhouse_engine::effort::{GlanceWeights, Learning, Reader};
use toml::Spanned;

use crate::FileError;
use crate::text_file::{self, TextFile};

/// A reader with a name: a model of the person who searches.
#[derive(Clone, Debug, PartialEq)]
pub struct ReaderFile {
    /// Lower-case letters, digits and hyphens.
    pub name: String,
    /// What kind of person it is.
    pub title: String,
    /// Where the model comes from.
    pub source: String,
    /// What the model says in words.
    pub note: Option<String>,
    /// The model.
    pub model: Reader,
}

const BUILT_IN: [(&str, &str); 4] = [
    ("marking", include_str!("readers/marking.toml")),
    ("sharing", include_str!("readers/sharing.toml")),
    ("remembering", include_str!("readers/remembering.toml")),
    ("unmarked", include_str!("readers/unmarked.toml")),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawReader {
    name: Spanned<String>,
    title: String,
    source: String,
    note: Option<String>,
    learning: Spanned<String>,
    weights: Spanned<RawWeights>,
}

#[derive(Clone, Copy, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct RawWeights {
    cell: f64,
    place: Option<f64>,
    #[serde(rename = "try")]
    try_: f64,
}

impl ReaderFile {
    /// Returns the names of the built-in readers.
    pub fn built_in() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(name, _)| *name)
    }

    /// Returns the built-in readers and those of files.
    ///
    /// # Errors
    /// As [`ReaderFile::load`].
    pub fn built_in_and(files: &[String]) -> Result<Vec<Self>, FileError> {
        let built_in = BUILT_IN.iter().map(|(name, _)| Self::load(name));
        built_in.chain(files.iter().map(|file| Self::load(file))).collect()
    }

    /// Takes the name of a built-in reader or the path of a file.
    ///
    /// # Errors
    /// [`FileError`] if it is neither, or the file is not a reader.
    pub fn load(name_or_file: &str) -> Result<Self, FileError> {
        text_file::load("reader", &BUILT_IN, name_or_file, Self::parse)
    }

    /// Reads the text of a reader file; `file` names it in messages.
    ///
    /// # Errors
    /// [`FileError::Content`] with the line.
    pub fn parse(file: &str, text: &str) -> Result<Self, FileError> {
        let file = TextFile::new(file, text);
        let raw: RawReader = file.parse()?;
        file.check_name(&raw.name)?;
        let learning: Learning = raw.learning.get_ref().parse().map_err(|_| {
            let names: Vec<&str> = Learning::ALL.iter().map(|kind| kind.name()).collect();
            let found = raw.learning.get_ref().escape_debug();
            let what = format!("found '{found}', expected one of {}", names.join(", "));
            file.error(&raw.learning.span(), what)
        })?;
        let RawWeights { cell, place, try_ } = *raw.weights.get_ref();
        let place = place.or_else(|| (!gathers_places(learning)).then_some(NO_PLACES));
        let place = place.ok_or_else(|| {
            file.error(
                &raw.weights.span(),
                format!("missing field `place`, which {learning} needs"),
            )
        })?;
        let weights = GlanceWeights::new(cell, place, try_)
            .map_err(|error| file.error(&raw.weights.span(), error.to_string()))?;
        let RawReader { name, title, source, note, .. } = raw;
        let model = Reader { learning, weights };
        Ok(Self { name: name.into_inner(), title, source, note, model })
    }

    /// Writes it as a file that [`ReaderFile::parse`] reads. A weight that the model has no use for is
    /// left out.
    ///
    /// # Errors
    /// If TOML can't hold it.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        let Reader { learning, weights } = self.model;
        // A weight that counts for nothing is kept where one was given.
        let counts = gathers_places(learning) || weights.place() != NO_PLACES;
        let place = counts.then_some(weights.place());
        let weights = RawWeights { cell: weights.cell(), place, try_: weights.try_() };
        let Self { name, title, source, note, .. } = self;
        let written = Written {
            name,
            title,
            source,
            note: note.as_deref(),
            learning: learning.name(),
            weights,
        };
        toml::to_string(&written)
    }
}

/// The weight of a place for a reader who gathers none, where none is given.
const NO_PLACES: f64 = 1.0;

/// Tests if who learns in this way ever gathers the places of a digit.
pub(crate) const fn gathers_places(learning: Learning) -> bool {
    !matches!(learning, Learning::WholeHouse)
}

/// A reader as it is written.
#[derive(Serialize)]
struct Written<'a> {
    name: &'a str,
    title: &'a str,
    source: &'a str,
    note: Option<&'a str>,
    learning: &'static str,
    weights: RawWeights,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_readers_are_those_defined() {
        let models = ReaderFile::built_in().map(|name| {
            let file = ReaderFile::load(name).unwrap();
            assert_eq!(file.name, name);
            let Reader { learning, weights } = file.model;
            (name, learning, [weights.cell(), weights.place(), weights.try_()])
        });
        assert_eq!(
            models.collect::<Vec<_>>(),
            [
                ("marking", Learning::CellByCell, [1.0, 1.0, 1.0]),
                ("sharing", Learning::WholeHouse, [1.0, 1.0, 1.0]),
                ("remembering", Learning::Remembered, [1.0, 1.0, 1.0]),
                ("unmarked", Learning::CrossingHouses, [3.0, 1.0, 1.0]),
            ]
        );
    }

    #[test]
    fn what_is_written_is_read_again() {
        let mut files: Vec<ReaderFile> =
            ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap()).collect();
        let sharing = "name = \"own\"\ntitle = \"Own\"\nsource = \"me\"\nlearning = \"whole-house\"\n\
                       [weights]\ncell = 1\nplace = 0.5\ntry = 2\n";
        files.push(ReaderFile::parse("own.toml", sharing).unwrap());
        for file in files {
            let text = file.to_toml().unwrap();
            assert_eq!(ReaderFile::parse("again.toml", &text).unwrap(), file, "{text}");
        }
    }

    #[test]
    fn bad_files_are_refused_with_file_and_line() {
        let good = "name = \"own\"\ntitle = \"Own\"\nsource = \"me\"\nlearning = \"whole-house\"\n\
                    [weights]\ncell = 1\nplace = 0.5\ntry = 2\n";
        assert_eq!(ReaderFile::parse("own.toml", good).unwrap().model.weights.place(), 0.5);
        for (change, message) in [
            (["whole-house", "by heart"], "own.toml, line 4: found 'by heart', expected one of"),
            (["cell = 1", "cell = 0"], "own.toml, line 5: the weight of a cell seen must lie"),
            (["try = 2", "tries = 2"], "own.toml, line 8: unknown field `tries`"),
            (["\"own\"", "\"My own\""], "own.toml, line 1: found 'My own'"),
        ] {
            let text = good.replace(change[0], change[1]);
            let error = ReaderFile::parse("own.toml", &text).unwrap_err().to_string();
            assert!(error.starts_with(message), "{error}");
        }
        let without = good.replace("place = 0.5\n", "");
        assert!(ReaderFile::parse("own.toml", &without).is_ok(), "who reads the house needs none");
        let marking = without.replace("whole-house", "cell-by-cell");
        let error = ReaderFile::parse("own.toml", &marking).unwrap_err().to_string();
        assert!(error.starts_with("own.toml, line 5: missing field `place`"), "{error}");
        let error = ReaderFile::load("nobody").unwrap_err().to_string();
        assert!(error.ends_with("marking, sharing, remembering, unmarked"), "{error}");
    }
}
