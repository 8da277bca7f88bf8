//! Statements that data can support or refute, and the files that hold them.

mod kinds;

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;
use serde::de::{DeserializeOwned, IntoDeserializer};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::FileError;
use crate::text_file::{self, TextFile};
pub(crate) use kinds::{Certainty, ClaimKind, Examples, Known, PriceClaim};
pub use kinds::{Noun, Quantity};

/// A list of claims that are put on trial together.
#[derive(Clone, Debug)]
pub struct ClaimFile {
    /// Lower-case letters, digits and hyphens.
    pub name: String,
    /// The title for readers.
    pub title: String,
    /// Who claims it.
    pub source: String,
    /// A note, if there is one.
    pub note: Option<String>,
    /// The claims.
    pub claims: Vec<Claim>,
}

/// A statement that data can support or refute.
#[derive(Clone, Debug)]
pub struct Claim {
    /// Lower-case letters, digits and hyphens; once in its file.
    pub id: String,
    /// The claim in words.
    pub statement: String,
    /// The kind as claim files write it.
    pub kind: &'static str,
    /// What is measured, and the threshold that matters to a reader.
    pub(crate) test: Arc<dyn ClaimKind>,
}

const BUILT_IN: [(&str, &str); 2] = [
    ("common-claims", include_str!("../claim_files/common-claims.toml")),
    ("which-side", include_str!("../claim_files/which-side.toml")),
];

/// What a claim file says beside its claims.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileHead {
    name: Spanned<String>,
    title: String,
    source: String,
    note: Option<String>,
}

/// What a claim of any kind says.
#[derive(Deserialize)]
struct ClaimHead {
    id: Spanned<String>,
    kind: Spanned<String>,
    statement: String,
}

const CLAIM_HEAD: [&str; 3] = ["id", "kind", "statement"];

impl ClaimFile {
    /// Returns the names of the built-in claim files.
    pub fn built_in() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(name, _)| *name)
    }

    /// Takes the name of a built-in claim file or the path of a file.
    ///
    /// # Errors
    /// [`FileError`] if it is neither, or the file is not one of claims.
    pub fn load(name_or_file: &str) -> Result<Self, FileError> {
        text_file::load("claim file", &BUILT_IN, name_or_file, Self::parse)
    }

    /// Returns the text of a built-in claim file, or of a file.
    ///
    /// # Errors
    /// If there is none.
    pub fn text(name_or_file: &str) -> Result<String, FileError> {
        text_file::text("claim file", &BUILT_IN, name_or_file)
    }

    /// Reads the text of a claim file; `file` names it in messages.
    ///
    /// # Errors
    /// [`FileError::Content`] with the line.
    pub fn parse(file: &str, text: &str) -> Result<Self, FileError> {
        let file = TextFile::new(file, text);
        let mut table = DeTable::parse(text).map_err(|error| file.unreadable(&error))?;
        let claims = table.get_mut().remove("claim");
        let FileHead { name, title, source, note } = read(file, table)?;
        file.check_name(&name)?;
        let claims = claims.map_or_else(|| Ok(Vec::new()), |claims| tables(file, claims))?;
        if claims.is_empty() {
            let what = "found a claim file without claims, expected [[claim]] tables";
            return Err(file.error(&name.span(), what));
        }
        let mut ids = BTreeSet::new();
        let mut read = Vec::new();
        for table in claims {
            let (at, claim) = read_claim(file, table)?;
            if !ids.insert(claim.id.clone()) {
                let what =
                    format!("'{}' is the id of an earlier claim, expected a new one", claim.id);
                return Err(file.error(&at, what));
            }
            read.push(claim);
        }
        Ok(Self { name: name.into_inner(), title, source, note, claims: read })
    }
}

/// Splits a list of tables.
fn tables<'t>(
    file: TextFile<'_>,
    list: Spanned<DeValue<'t>>,
) -> Result<Vec<Spanned<DeTable<'t>>>, FileError> {
    let span = list.span();
    let expected = || file.error(&span, "expected a list of [[claim]] tables");
    let DeValue::Array(items) = list.into_inner() else { return Err(expected()) };
    let table = |item: Spanned<DeValue<'t>>| {
        let span = item.span();
        match item.into_inner() {
            DeValue::Table(table) => Ok(Spanned::new(span, table)),
            _ => Err(expected()),
        }
    };
    items.into_iter().map(table).collect()
}

/// Reads a claim; returns where its id stands beside it.
fn read_claim(
    file: TextFile<'_>,
    table: Spanned<DeTable<'_>>,
) -> Result<(std::ops::Range<usize>, Claim), FileError> {
    let span = table.span();
    let (mut head, mut keys) = (DeTable::new(), DeTable::new());
    for (key, value) in table.into_inner() {
        let is_head = CLAIM_HEAD.contains(&&**key.get_ref());
        if is_head { &mut head } else { &mut keys }.insert(key, value);
    }
    let ClaimHead { id, kind, statement } = read(file, Spanned::new(span.clone(), head))?;
    file.check_name(&id)?;
    let found = kinds::ALL.iter().find(|(name, _)| name == kind.get_ref());
    let Some(&(name, reader)) = found else {
        let known: Vec<&str> = kinds::ALL.iter().map(|(name, _)| *name).collect();
        let what = format!(
            "found kind '{}', expected one of {}",
            kind.get_ref().escape_debug(),
            known.join(", ")
        );
        return Err(file.error(&kind.span(), what));
    };
    let test = reader(Keys { file, table: Spanned::new(span, keys) })?;
    Ok((id.span(), Claim { id: id.into_inner(), statement, kind: name, test }))
}

/// The keys of a claim that belong to its kind.
pub(crate) struct Keys<'a> {
    file: TextFile<'a>,
    table: Spanned<DeTable<'a>>,
}

impl<'a> Keys<'a> {
    /// Reads all keys; returns the file for messages beside them.
    fn read<T: DeserializeOwned>(self) -> Result<(T, TextFile<'a>), FileError> {
        Ok((read(self.file, self.table)?, self.file))
    }
}

fn read<T: DeserializeOwned>(
    file: TextFile<'_>,
    table: Spanned<DeTable<'_>>,
) -> Result<T, FileError> {
    T::deserialize(table.into_deserializer()).map_err(|error| file.unreadable(&error))
}

#[cfg(test)]
mod tests {
    use tallyhouse_stats::Threshold;

    use super::*;
    use crate::Rulebook;
    use crate::yields::Frame;

    #[test]
    fn the_built_in_claims_read() {
        let file = ClaimFile::load("common-claims").unwrap();
        let kinds: Vec<(&str, &str)> =
            file.claims.iter().map(|claim| (claim.id.as_str(), claim.kind)).collect();
        assert_eq!(
            kinds,
            [
                ("pair-before-hidden-quad", "easier"),
                ("naked-quintet-of-eight", "as-hard-as"),
                ("naked-quintet-of-nine", "easier"),
                ("hidden-pair-before-naked-triple", "easier"),
                ("boxes-before-lines", "easier"),
                ("hidden-triple-never-pays", "never-pays"),
                ("naked-quad-never-pays", "never-pays"),
                ("hidden-quad-never-pays", "never-pays"),
                ("quads-flushed-out", "flushed-out"),
                ("short-list-complete", "complete"),
            ]
        );
        assert_eq!(ClaimFile::built_in().collect::<Vec<_>>(), ["common-claims", "which-side"]);
    }

    const HEAD: &str = "name = \"own\"\ntitle = \"Own\"\nsource = \"me\"\n";

    fn claim(lines: &str) -> String {
        format!("{HEAD}[[claim]]\nid = \"a\"\nstatement = \"A.\"\n{lines}\n")
    }

    #[test]
    fn every_kind_reads() {
        let text = [
            "kind = \"complete\"\nrulebook = \"short-list\"\nbelow = 0.01",
            "kind = \"rare\"\nshapes = [\"naked 4 open 8\"]\nper = \"house\"\nbelow = 0.5",
            "kind = \"flushed-out\"\nrulebook = \"x\"\nshapes = [\"hidden 4\"]\nbelow = 0.5",
            "kind = \"easier\"\nlook = \"naked 2 open 6\"\nthan = \"naked 3 open 6\"\n\
             ratio_below = 1\nreaders = [\"marking\", \"mine\"]\nframes = [\"due\"]\n\
             rulebook = \"x\"",
            "kind = \"as-hard-as\"\nlook = \"naked 2 open 6\"\nthan = \"hidden 4\"\nband = [0.8, 1.25]",
            "kind = \"pays\"\nlook = \"naked 2 open 6..7\"\nframes = [\"due\", \"every\"]",
            "kind = \"never-pays\"\nlook = \"hidden 3\"\nlimit = 500",
            "kind = \"implies\"\nshapes = [\"naked 4\"]\nthen = [\"naked 2\"]\nper = \"position\"\n\
             above = 0.9",
        ]
        .iter()
        .enumerate()
        .fold(HEAD.to_owned(), |text, (number, lines)| {
            text + &format!("[[claim]]\nid = \"c{number}\"\nstatement = \"S.\"\n{lines}\n")
        });
        let file = ClaimFile::parse("own.toml", &text).unwrap();
        let kinds: Vec<&str> = file.claims.iter().map(|claim| claim.kind).collect();
        assert_eq!(kinds, kinds::ALL.map(|(kind, _)| kind));
        let prices = |claim: usize| file.claims[claim].test.prices().unwrap();
        let names = ["marking".to_owned(), "mine".to_owned()];
        assert_eq!(
            (prices(3).readers(), &prices(3).frames[..]),
            (Some(&names[..]), &[Frame::Due][..])
        );
        assert_eq!(file.claims[3].test.rulebook(), Some("x"));
        assert_eq!(
            (prices(5).readers(), &prices(5).frames[..]),
            (None, &[Frame::Every, Frame::Due][..])
        );
        assert_eq!(prices(5).opens(Frame::Due), [6..=6, 7..=7]);
        assert_eq!(prices(5).threshold, Threshold::Below(1000.0));
        assert_eq!(prices(6).threshold, Threshold::Above(500.0));
        assert_eq!(prices(6).opens(Frame::Every).len(), 5);
        // Compared looks are summed; where one is due, both are made wherever they leave a cell.
        assert_eq!(prices(4).opens(Frame::Every), [6..=6]);
        assert_eq!(file.claims[0].test.rulebook(), Some("short-list"));
    }

    /// The answer of the only claim in a file with these lines; none if it takes data.
    fn certainty(lines: &str, book: &str) -> Option<bool> {
        let file = ClaimFile::parse("own.toml", &claim(lines)).unwrap();
        let rulebook = Rulebook::load(book).unwrap();
        let known = Known { rulebook: Some(&rulebook) };
        file.claims[0].test.certainty(&known).map(|certainty| {
            assert!(certainty.reason.len() > 20, "{}", certainty.reason);
            certainty.is_true
        })
    }

    #[test]
    fn what_follows_from_definitions_needs_no_data() {
        let left = |book: &str, shapes: &str| {
            let lines = format!(
                "kind = \"flushed-out\"\nrulebook = \"{book}\"\nshapes = [{shapes}]\nbelow = 0.1"
            );
            certainty(&lines, book)
        };
        let quads = "\"naked 4 open 5..7\", \"hidden 4 open 5..7\"";
        assert_eq!(left("up-to-triples", quads), Some(true));
        assert_eq!(left("up-to-triples", "\"naked 4 open 5..8\""), None);
        assert_eq!(left("short-list", "\"naked 4 open 8\""), Some(true));
        assert_eq!(left("short-list", "\"hidden 3 open 7\""), None);
        let complete = |book: &str| {
            let lines = format!("kind = \"complete\"\nrulebook = \"{book}\"\nbelow = 0.1");
            certainty(&lines, book)
        };
        let books = ["full-ladder", "naked-only", "short-list", "up-to-triples"];
        assert_eq!(books.map(complete), [Some(true), Some(true), None, None]);
        let rare = |shapes: &str| {
            let lines =
                format!("kind = \"rare\"\nshapes = [{shapes}]\nper = \"house\"\nbelow = 0.1");
            certainty(&lines, "full-ladder")
        };
        assert_eq!(rare("\"naked 1\", \"hidden 1 open 5\""), Some(true));
        assert_eq!(rare("\"naked 1\", \"hidden 2 open 5\""), None);
        let implies = |then: &str| {
            let lines = format!(
                "kind = \"implies\"\nshapes = [\"naked 2 open 6\"]\nthen = [{then}]\n\
                 per = \"house\"\nabove = 0.9"
            );
            certainty(&lines, "full-ladder")
        };
        assert_eq!(implies("\"hidden 4 open 5..6\""), Some(true));
        assert_eq!(implies("\"hidden 4 open 7\""), None);
    }

    #[test]
    fn bad_files_are_refused_with_file_and_line() {
        for (text, message) in [
            (
                HEAD.to_owned(),
                "own.toml, line 1: found a claim file without claims, expected [[claim]] tables",
            ),
            (
                claim("kind = \"never\""),
                "own.toml, line 7: found kind 'never', expected one of complete, rare, \
                 flushed-out, easier, as-hard-as, pays, never-pays, implies",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\""),
                "own.toml, line 4: missing field `below`",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\"\nbelow = 1.5"),
                "own.toml, line 9: found 1.5, expected a share above 0 and below 1",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\"\nbelow = \"rarely\""),
                "own.toml, line 9: below: invalid type: string \"rarely\", expected f64",
            ),
            (
                claim("kind = \"complete\"\nband = [1, 2]\nrulebook = \"x\""),
                "own.toml, line 8: unknown field `band`, expected `rulebook` or `below`",
            ),
            (
                claim("kind = \"complete\"\nbelwo = 0.1"),
                "own.toml, line 8: unknown field `belwo`, expected `rulebook` or `below`",
            ),
            (
                claim("kind = \"rare\"\nshapes = []\nper = \"puzzle\"\nbelow = 0.1"),
                "own.toml, line 8: found an empty list, expected shapes as in [\"naked 4 open 8\"]",
            ),
            (
                claim(
                    "kind = \"rare\"\nshapes = [\n\"naked 2\",\n\"naked 6 open 4..5\"]\n\
                       per = \"puzzle\"\nbelow = 0.1",
                ),
                "own.toml, line 10: size 6 does not fit into houses of at most 5 open cells",
            ),
            (
                claim("kind = \"rare\"\nshapes = [\"naked 2\"]\nper = \"board\"\nbelow = 0.1"),
                "own.toml, line 9: per: unknown variant `board`, expected one of `puzzle`, `position`, \
                 `house`",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"naked 2 open 6\"\nthan = \"hidden 4 open 7\"\n\
                       ratio_below = 1.0",
                ),
                "own.toml, line 9: 'hidden 4 open 7' is not made in houses of 6 open cells, \
                 expected two looks that are made in the same houses",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"naked 2\"\nlook_in = [\"box\"]\n\
                     than = \"naked 2\"\nratio_below = 1.0\nframes = [\"due\"]",
                ),
                "own.toml, line 12: found 'due', expected every, where kinds of houses are compared",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"naked 2\"\nlook_in = [\"line\"]\n\
                     than = \"naked 2\"\nratio_below = 1.0",
                ),
                "own.toml, line 9: look_in: found 'line', expected row, column or box",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"naked 2\"\nthan = \"naked 2\"\n\
                     ratio_below = 1.0",
                ),
                "own.toml, line 9: a look is compared with itself, expected another",
            ),
            (
                claim("kind = \"pays\"\nlook = \"naked 4 open 5\""),
                "own.toml, line 8: 'naked 4 open 5' finds no subset: expected a size from 2, in \
                 houses where at least two cells are left on the other side",
            ),
            (
                claim("kind = \"pays\"\nlook = \"naked 2\"\nframes = [\"every\", \"present\"]"),
                "own.toml, line 9: found 'present', expected every or due",
            ),
            (
                claim("kind = \"never-pays\"\nlook = \"naked 2\"\nlimit = 0"),
                "own.toml, line 9: limit: found 0, expected a number of glances above 0",
            ),
            (
                claim("kind = \"never-pays\"\nlook = \"naked 2\"\nreaders = []"),
                "own.toml, line 9: found an empty list of readers",
            ),
            (
                claim(
                    "kind = \"as-hard-as\"\nlook = \"naked 2\"\nthan = \"hidden 2\"\n\
                       band = [1.25, 0.8]",
                ),
                "own.toml, line 10: band: found [1.25, 0.8], expected two ratios above 0, the lower first",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"intersections\"\nthan = \"hidden 2\"\n\
                       ratio_below = 1.0",
                ),
                "own.toml, line 8: look: found 'intersections', expected 'naked K' or 'hidden K'",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\"\nbelow = 0.1")
                    + "[[claim]]\nstatement = \"B.\"\nid = \"a\"\nkind = \"complete\"\n\
                       rulebook = \"x\"\nbelow = 0.1",
                "own.toml, line 12: 'a' is the id of an earlier claim, expected a new one",
            ),
        ] {
            let error = ClaimFile::parse("own.toml", &text).unwrap_err();
            assert_eq!(error.to_string(), message);
        }
    }
}
