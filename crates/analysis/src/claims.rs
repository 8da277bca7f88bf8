use std::collections::BTreeSet;

use serde::Deserialize;
use tallyhouse_engine::Look;
use toml::Spanned;

use crate::text_file::{self, TextFile};
use crate::{FileError, Shapes};

/// A list of claims that are put on trial together.
#[derive(Clone, Debug, PartialEq)]
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
#[derive(Clone, Debug, PartialEq)]
pub struct Claim {
    /// Lower-case letters, digits and hyphens; once in its file.
    pub id: String,
    /// The claim in words.
    pub statement: String,
    /// What is measured, and the threshold that matters to a reader.
    pub test: ClaimTest,
}

/// What a claim measures.
#[derive(Clone, Debug, PartialEq)]
pub enum ClaimTest {
    /// A rulebook's reach falls short of the full ladder's in fewer than this share of puzzles.
    Complete {
        /// The rulebook.
        rulebook: String,
        /// The share of puzzles.
        below: f64,
    },
    /// Shapes occur, at quiet positions of the full ladder's walk, in fewer than this share of units.
    Rare {
        /// The shapes.
        shapes: Shapes,
        /// The units.
        per: Per,
        /// The share of units.
        below: f64,
    },
    /// Shapes remain at a rulebook's end position in fewer than this share of puzzles.
    FlushedOut {
        /// The rulebook.
        rulebook: String,
        /// The shapes.
        shapes: Shapes,
        /// The share of puzzles.
        below: f64,
    },
    /// The first look costs less than this many times the glances of the second.
    Easier {
        /// The looks.
        looks: LookPair,
        /// The ratio of glances.
        ratio_below: f64,
    },
    /// The glances of the first look, divided by those of the second, lie in a band.
    AsHardAs {
        /// The looks.
        looks: LookPair,
        /// The lower and the upper end of the band.
        band: [f64; 2],
    },
    /// Of the units with one shape, more than this share have the other.
    Implies {
        /// What the unit has.
        when: Shapes,
        /// What it should have then.
        then: Shapes,
        /// The units.
        per: Per,
        /// The share of units.
        above: f64,
    },
}

/// Two looks that are made in the same houses.
#[derive(Clone, Debug, PartialEq)]
pub struct LookPair {
    /// The look whose glances are divided.
    pub look: Look,
    /// The look by whose glances they are divided.
    pub than: Look,
    /// The houses: those that hold a proper subset of this shape. If the file does not say it, the
    /// splits with a side of the first look's size.
    pub houses: Shapes,
}

/// The unit in which something occurs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// A puzzle, at any quiet position of the full ladder's walk.
    Puzzle,
    /// A quiet position of that walk.
    Position,
    /// A house at such a position, of an open count that can hold the shape.
    House,
}

impl Per {
    const ALL: [Self; 3] = [Self::Puzzle, Self::Position, Self::House];

    /// Returns the word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Puzzle => "puzzle",
            Self::Position => "position",
            Self::House => "house",
        }
    }
}

impl ClaimTest {
    /// Returns the kind as claim files write it.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Complete { .. } => "complete",
            Self::Rare { .. } => "rare",
            Self::FlushedOut { .. } => "flushed-out",
            Self::Easier { .. } => "easier",
            Self::AsHardAs { .. } => "as-hard-as",
            Self::Implies { .. } => "implies",
        }
    }

    /// Returns the rulebook that the claim speaks of.
    #[must_use]
    pub fn rulebook(&self) -> Option<&str> {
        match self {
            Self::Complete { rulebook, .. } | Self::FlushedOut { rulebook, .. } => Some(rulebook),
            _ => None,
        }
    }

    /// Returns the looks that the claim compares.
    #[must_use]
    pub const fn looks(&self) -> Option<&LookPair> {
        match self {
            Self::Easier { looks, .. } | Self::AsHardAs { looks, .. } => Some(looks),
            _ => None,
        }
    }
}

const BUILT_IN: [(&str, &str); 1] =
    [("common-claims", include_str!("claim_files/common-claims.toml"))];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    name: Spanned<String>,
    title: String,
    source: String,
    note: Option<String>,
    #[serde(default)]
    claim: Vec<Spanned<RawClaim>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawClaim {
    id: Spanned<String>,
    kind: Spanned<String>,
    statement: String,
    rulebook: Option<Spanned<String>>,
    shapes: Option<Spanned<Vec<Spanned<String>>>>,
    then: Option<Spanned<Vec<Spanned<String>>>>,
    per: Option<Spanned<String>>,
    look: Option<Spanned<String>>,
    than: Option<Spanned<String>>,
    houses: Option<Spanned<Vec<Spanned<String>>>>,
    below: Option<Spanned<f64>>,
    above: Option<Spanned<f64>>,
    ratio_below: Option<Spanned<f64>>,
    band: Option<Spanned<[f64; 2]>>,
}

/// The keys of each kind beside `id`, `kind` and `statement`; those that may be missing in brackets.
const KINDS: [(&str, &[&str]); 6] = [
    ("complete", &["rulebook", "below"]),
    ("rare", &["shapes", "per", "below"]),
    ("flushed-out", &["rulebook", "shapes", "below"]),
    ("easier", &["look", "than", "(houses)", "ratio_below"]),
    ("as-hard-as", &["look", "than", "(houses)", "band"]),
    ("implies", &["shapes", "then", "per", "above"]),
];

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
        let file = TextFile { name: file, text };
        let raw: RawFile = file.parse()?;
        file.check_name(&raw.name)?;
        if raw.claim.is_empty() {
            let what = "found a claim file without claims, expected [[claim]] tables";
            return Err(file.error(&raw.name.span(), what));
        }
        let mut ids = BTreeSet::new();
        let mut claims = Vec::new();
        for claim in raw.claim {
            let reader = ClaimReader { file, table: claim.span(), raw: claim.get_ref() };
            let claim = reader.claim()?;
            if !ids.insert(claim.id.clone()) {
                let what =
                    format!("'{}' is the id of an earlier claim, expected a new one", claim.id);
                return Err(file.error(&reader.raw.id.span(), what));
            }
            claims.push(claim);
        }
        let RawFile { name, title, source, note, .. } = raw;
        Ok(Self { name: name.into_inner(), title, source, note, claims })
    }
}

struct ClaimReader<'a> {
    file: TextFile<'a>,
    table: std::ops::Range<usize>,
    raw: &'a RawClaim,
}

impl<'a> ClaimReader<'a> {
    fn claim(&self) -> Result<Claim, FileError> {
        let raw = self.raw;
        self.file.check_name(&raw.id)?;
        let kind = raw.kind.get_ref().as_str();
        self.check_keys(kind)?;
        let test = match kind {
            "complete" => {
                ClaimTest::Complete { rulebook: self.rulebook()?, below: self.share("below")? }
            }
            "rare" => ClaimTest::Rare {
                shapes: self.shapes("shapes")?,
                per: self.per()?,
                below: self.share("below")?,
            },
            "flushed-out" => ClaimTest::FlushedOut {
                rulebook: self.rulebook()?,
                shapes: self.shapes("shapes")?,
                below: self.share("below")?,
            },
            "easier" => {
                ClaimTest::Easier { looks: self.look_pair()?, ratio_below: self.ratio_below()? }
            }
            "as-hard-as" => ClaimTest::AsHardAs { looks: self.look_pair()?, band: self.band()? },
            _ => ClaimTest::Implies {
                when: self.shapes("shapes")?,
                then: self.shapes("then")?,
                per: self.per()?,
                above: self.share("above")?,
            },
        };
        let id = raw.id.get_ref().clone();
        Ok(Claim { id, statement: raw.statement.clone(), test })
    }

    fn check_keys(&self, kind: &str) -> Result<(), FileError> {
        let Some((_, keys)) = KINDS.iter().find(|(name, _)| *name == kind) else {
            let known: Vec<&str> = KINDS.iter().map(|(name, _)| *name).collect();
            let what = format!(
                "found kind '{}', expected one of {}",
                kind.escape_debug(),
                known.join(", ")
            );
            return Err(self.file.error(&self.raw.kind.span(), what));
        };
        for (key, span) in self.given() {
            let is_expected = keys.iter().any(|name| name.trim_matches(['(', ')']) == key);
            if let (Some(span), false) = (span, is_expected) {
                let expected = keys.join(", ");
                let what =
                    format!("found '{key}' in a claim of kind '{kind}', expected {expected}");
                return Err(self.file.error(&span, what));
            }
        }
        Ok(())
    }

    /// Returns all keys that depend on the kind, with where they stand if they do.
    fn given(&self) -> [(&'static str, Option<std::ops::Range<usize>>); 11] {
        fn span<T>(value: &Option<Spanned<T>>) -> Option<std::ops::Range<usize>> {
            value.as_ref().map(Spanned::span)
        }
        let raw = self.raw;
        [
            ("rulebook", span(&raw.rulebook)),
            ("shapes", span(&raw.shapes)),
            ("then", span(&raw.then)),
            ("per", span(&raw.per)),
            ("look", span(&raw.look)),
            ("than", span(&raw.than)),
            ("houses", span(&raw.houses)),
            ("below", span(&raw.below)),
            ("above", span(&raw.above)),
            ("ratio_below", span(&raw.ratio_below)),
            ("band", span(&raw.band)),
        ]
    }

    fn need<T>(
        &self,
        key: &str,
        value: &'a Option<Spanned<T>>,
    ) -> Result<&'a Spanned<T>, FileError> {
        value.as_ref().ok_or_else(|| {
            let kind = self.raw.kind.get_ref();
            self.file.error(
                &self.table,
                format!("found no '{key}', expected one in a claim of kind '{kind}'"),
            )
        })
    }

    fn rulebook(&self) -> Result<String, FileError> {
        let name = self.need("rulebook", &self.raw.rulebook)?;
        self.file.check_name(name)?;
        Ok(name.get_ref().clone())
    }

    fn per(&self) -> Result<Per, FileError> {
        let text = self.need("per", &self.raw.per)?;
        let per = Per::ALL.into_iter().find(|per| per.name() == text.get_ref());
        per.ok_or_else(|| {
            let found = text.get_ref().escape_debug();
            let what = format!("found per = '{found}', expected puzzle, position or house");
            self.file.error(&text.span(), what)
        })
    }

    fn share(&self, key: &'static str) -> Result<f64, FileError> {
        let value = if key == "below" { &self.raw.below } else { &self.raw.above };
        self.number(key, value, "a share above 0 and below 1", |share| 0.0 < share && share < 1.0)
    }

    fn ratio_below(&self) -> Result<f64, FileError> {
        let expected = "a ratio above 0";
        self.number("ratio_below", &self.raw.ratio_below, expected, |r| r > 0.0 && r.is_finite())
    }

    fn number(
        &self,
        key: &str,
        value: &'a Option<Spanned<f64>>,
        expected: &str,
        fits: impl Fn(f64) -> bool,
    ) -> Result<f64, FileError> {
        let number = self.need(key, value)?;
        if fits(*number.get_ref()) {
            return Ok(*number.get_ref());
        }
        let what = format!("found {key} = {}, expected {expected}", number.get_ref());
        Err(self.file.error(&number.span(), what))
    }

    fn band(&self) -> Result<[f64; 2], FileError> {
        let band = self.need("band", &self.raw.band)?;
        let [low, high] = *band.get_ref();
        if 0.0 < low && low < high && high.is_finite() {
            return Ok([low, high]);
        }
        let what =
            format!("found band = [{low}, {high}], expected two ratios above 0, the lower first");
        Err(self.file.error(&band.span(), what))
    }

    fn shapes(&self, key: &'static str) -> Result<Shapes, FileError> {
        let list = if key == "then" { &self.raw.then } else { &self.raw.shapes };
        self.read_shapes(self.need(key, list)?)
    }

    fn read_shapes(&self, list: &Spanned<Vec<Spanned<String>>>) -> Result<Shapes, FileError> {
        let looks =
            list.get_ref().iter().map(|text| self.look(text)).collect::<Result<Vec<_>, _>>()?;
        Shapes::new(&looks).ok_or_else(|| {
            let what = "found an empty list, expected shapes as in [\"naked 4 open 8\"]";
            self.file.error(&list.span(), what)
        })
    }

    fn look(&self, text: &Spanned<String>) -> Result<Look, FileError> {
        let look: Result<Look, _> = text.get_ref().parse();
        let look = look.map_err(|error| self.file.error(&text.span(), error.to_string()))?;
        if look == Look::Intersections {
            let what = "found 'intersections', expected 'naked K' or 'hidden K'";
            return Err(self.file.error(&text.span(), what));
        }
        Ok(look)
    }

    fn look_pair(&self) -> Result<LookPair, FileError> {
        let (first, second) =
            (self.need("look", &self.raw.look)?, self.need("than", &self.raw.than)?);
        let (look, than) = (self.look(first)?, self.look(second)?);
        let houses = match &self.raw.houses {
            Some(list) => self.read_shapes(list)?,
            None => Shapes::new(&[look]).ok_or_else(|| {
                self.file.error(&first.span(), "expected 'naked K' or 'hidden K'")
            })?,
        };
        for (text, look) in [(first, look), (second, than)] {
            let made = |open: usize| {
                look.size().is_some_and(|s| s.covers(open as u8) && open > usize::from(s.get()))
            };
            if let Some(open) = (2..=9).find(|&open| houses.fits(open) && !made(open)) {
                let what = format!(
                    "'{}' is not made in houses of {open} open cells, expected two looks that are \
                     made in the same houses",
                    text.get_ref()
                );
                return Err(self.file.error(&text.span(), what));
            }
        }
        Ok(LookPair { look, than, houses })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_claims_read() {
        let file = ClaimFile::load("common-claims").unwrap();
        let kinds: Vec<(&str, &str)> =
            file.claims.iter().map(|claim| (claim.id.as_str(), claim.test.kind())).collect();
        assert_eq!(
            kinds,
            [
                ("pair-before-hidden-quad", "easier"),
                ("naked-quintet-of-eight", "as-hard-as"),
                ("naked-quintet-of-nine", "easier"),
                ("quads-flushed-out", "flushed-out"),
                ("short-list-complete", "complete"),
            ]
        );
        assert_eq!(ClaimFile::built_in().collect::<Vec<_>>(), ["common-claims"]);
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
             houses = [\"hidden 4 open 6\"]\nratio_below = 1",
            "kind = \"as-hard-as\"\nlook = \"naked 2 open 6\"\nthan = \"hidden 4\"\nband = [0.8, 1.25]",
            "kind = \"implies\"\nshapes = [\"naked 4\"]\nthen = [\"naked 2\"]\nper = \"position\"\n\
             above = 0.9",
        ]
        .iter()
        .enumerate()
        .fold(HEAD.to_owned(), |text, (number, lines)| {
            text + &format!("[[claim]]\nid = \"c{number}\"\nstatement = \"S.\"\n{lines}\n")
        });
        let file = ClaimFile::parse("own.toml", &text).unwrap();
        let kinds: Vec<&str> = file.claims.iter().map(|claim| claim.test.kind()).collect();
        assert_eq!(kinds, KINDS.map(|(kind, _)| kind));
        let looks = file.claims[3].test.looks().unwrap();
        assert!(looks.houses.contains(6, 2) && !looks.houses.contains(6, 4));
        assert_eq!(file.claims[0].test.rulebook(), Some("short-list"));
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
                 flushed-out, easier, as-hard-as, implies",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\""),
                "own.toml, line 4: found no 'below', expected one in a claim of kind 'complete'",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\"\nbelow = 1.5"),
                "own.toml, line 9: found below = 1.5, expected a share above 0 and below 1",
            ),
            (
                claim("kind = \"complete\"\nrulebook = \"x\"\nbelow = \"rarely\""),
                "own.toml, line 9: invalid type: string \"rarely\", expected f64",
            ),
            (
                claim("kind = \"complete\"\nband = [1, 2]\nrulebook = \"x\""),
                "own.toml, line 8: found 'band' in a claim of kind 'complete', expected rulebook, \
                 below",
            ),
            (
                claim("kind = \"complete\"\nbelwo = 0.1"),
                "own.toml, line 8: unknown field `belwo`, expected one of `id`, `kind`, \
                 `statement`, `rulebook`, `shapes`, `then`, `per`, `look`, `than`, `houses`, \
                 `below`, `above`, `ratio_below`, `band`",
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
                "own.toml, line 9: found per = 'board', expected puzzle, position or house",
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
                    "kind = \"as-hard-as\"\nlook = \"naked 2\"\nthan = \"hidden 2\"\n\
                       band = [1.25, 0.8]",
                ),
                "own.toml, line 10: found band = [1.25, 0.8], expected two ratios above 0, the \
                 lower first",
            ),
            (
                claim(
                    "kind = \"easier\"\nlook = \"intersections\"\nthan = \"hidden 2\"\n\
                       ratio_below = 1.0",
                ),
                "own.toml, line 8: found 'intersections', expected 'naked K' or 'hidden K'",
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
