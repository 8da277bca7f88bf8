use serde::{Deserialize, Serialize};
use tallyhouse_engine::{Look, OpenCounts, Order, OrderError, Size};
use toml::Spanned;

use crate::FileError;
use crate::text_file::{self, TextFile};

/// An ordered list of looks that somebody advises, at least one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rulebook {
    name: String,
    title: String,
    source: String,
    note: Option<String>,
    order: Order,
    /// One entry per look of the order.
    whys: Vec<Option<String>>,
}

/// A look of a rulebook.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AdvisedLook<'a> {
    /// The look.
    pub look: Look,
    /// The reason given for it.
    pub why: Option<&'a str>,
}

const BUILT_IN: [(&str, &str); 4] = [
    ("full-ladder", include_str!("rulebooks/full-ladder.toml")),
    ("naked-only", include_str!("rulebooks/naked-only.toml")),
    ("short-list", include_str!("rulebooks/short-list.toml")),
    ("up-to-triples", include_str!("rulebooks/up-to-triples.toml")),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBook {
    name: Spanned<String>,
    title: String,
    source: String,
    note: Option<String>,
    #[serde(default)]
    look: Vec<RawLook>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLook {
    find: Spanned<String>,
    open: Option<Spanned<String>>,
    why: Option<String>,
}

#[derive(Serialize)]
struct WrittenBook<'a> {
    name: &'a str,
    title: &'a str,
    source: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<&'a str>,
    look: Vec<WrittenLook<'a>>,
}

#[derive(Serialize)]
struct WrittenLook<'a> {
    find: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    open: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'a str>,
}

impl<'a> From<AdvisedLook<'a>> for WrittenLook<'a> {
    fn from(advised: AdvisedLook<'a>) -> Self {
        let open = advised.look.size().map(Size::open).filter(|open| *open != OpenCounts::ALL);
        Self {
            find: advised.look.everywhere().to_string(),
            open: open.map(|open| open.to_string()),
            why: advised.why,
        }
    }
}

impl Rulebook {
    /// Returns the names of the built-in rulebooks.
    pub fn built_in() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(name, _)| *name)
    }

    /// Takes the name of a built-in rulebook or the path of a file.
    ///
    /// # Errors
    /// [`FileError`] if it is neither, or the file is not a rulebook.
    pub fn load(name_or_file: &str) -> Result<Self, FileError> {
        text_file::load("rulebook", &BUILT_IN, name_or_file, Self::parse)
    }

    /// Returns the text of a built-in rulebook, or of a file.
    ///
    /// # Errors
    /// If there is none.
    pub fn text(name_or_file: &str) -> Result<String, FileError> {
        text_file::text("rulebook", &BUILT_IN, name_or_file)
    }

    /// Reads the text of a rulebook file; `file` names it in messages.
    ///
    /// # Errors
    /// [`FileError::Content`] with the line.
    pub fn parse(file: &str, text: &str) -> Result<Self, FileError> {
        let file = TextFile::new(file, text);
        let raw: RawBook = file.parse()?;
        file.check_name(&raw.name)?;
        let (mut looks, mut whys, mut places) = (Vec::new(), Vec::new(), Vec::new());
        for RawLook { find, open, why } in raw.look {
            looks.push(read_look(file, &find, open.as_ref())?);
            whys.push(why);
            places.push(find.span());
        }
        let order = Order::new(looks).map_err(|error| match error {
            OrderError::Empty => file.error(
                &raw.name.span(),
                "found a rulebook without looks, expected [[look]] tables",
            ),
            OrderError::Repeated { again, .. } => file.error(&places[again - 1], error.to_string()),
            _ => file.error(&raw.name.span(), error.to_string()),
        })?;
        let RawBook { name, title, source, note, .. } = raw;
        Ok(Self { name: name.into_inner(), title, source, note, order, whys })
    }

    /// Makes a rulebook of an order.
    ///
    /// # Errors
    /// [`FileError::Content`] if the name has other characters than a rulebook's name may have.
    pub fn of_order(
        name: &str,
        title: &str,
        source: &str,
        note: &str,
        order: &Order,
    ) -> Result<Self, FileError> {
        let look = order.looks().iter().map(|&look| AdvisedLook { look, why: None }.into());
        let written = WrittenBook { name, title, source, note: Some(note), look: look.collect() };
        Self::parse(name, &toml::to_string(&written).unwrap_or_default())
    }

    /// Writes the rulebook as the text of a file, which [`Rulebook::parse`] reads back.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let written = WrittenBook {
            name: &self.name,
            title: &self.title,
            source: &self.source,
            note: self.note.as_deref(),
            look: self.looks().map(WrittenLook::from).collect(),
        };
        // Strings and lists of strings always have a text.
        toml::to_string(&written).unwrap_or_default()
    }

    /// Returns the name: lower-case letters, digits and hyphens.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Returns the title for readers.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Returns who advises it.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }

    /// Returns the note, if there is one.
    #[must_use]
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }

    /// Returns the looks without their reasons.
    #[must_use]
    pub const fn order(&self) -> &Order {
        &self.order
    }

    /// Iterates over the looks, first look first.
    pub fn looks(&self) -> impl Iterator<Item = AdvisedLook<'_>> {
        let whys = self.whys.iter().map(Option::as_deref);
        self.order.looks().iter().zip(whys).map(|(&look, why)| AdvisedLook { look, why })
    }
}

fn read_look(
    file: TextFile<'_>,
    find: &Spanned<String>,
    open: Option<&Spanned<String>>,
) -> Result<Look, FileError> {
    let text = find.get_ref();
    if text.contains("open") {
        let what =
            format!("found '{text}', expected a look without a range: that stands in 'open'");
        return Err(file.error(&find.span(), what));
    }
    let look: Result<Look, _> = text.parse();
    let look = look.map_err(|error| file.error(&find.span(), error.to_string()))?;
    let Some(open) = open else { return Ok(look) };
    let range: Result<OpenCounts, _> = open.get_ref().parse();
    range.and_then(|range| look.within(range)).map_err(|error| {
        let range = open.get_ref().escape_debug();
        file.error(&open.span(), format!("found '{text}' with open = '{range}': {error}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(text: &str) -> Look {
        text.parse().unwrap()
    }

    fn looks(name: &str) -> Vec<Look> {
        Rulebook::load(name).unwrap().order().looks().to_vec()
    }

    #[test]
    fn the_built_in_rulebooks_are_what_their_names_say() {
        assert_eq!(looks("full-ladder"), Order::ladder().looks());
        assert_eq!(looks("up-to-triples"), Order::ladder().looks()[..6]);
        let short = [
            "naked 1",
            "hidden 1",
            "naked 2",
            "hidden 2",
            "naked 3",
            "naked 4 open 8",
            "naked 5 open 8",
            "naked 4 open 9",
            "hidden 5 open 9",
            "naked 5 open 9",
            "hidden 4 open 9",
        ];
        assert_eq!(looks("short-list"), short.map(look));
        for name in Rulebook::built_in() {
            assert_eq!(Rulebook::load(name).unwrap().name(), name);
        }
    }

    #[test]
    fn naked_only_states_each_rung_and_its_complement_from_the_naked_side() {
        let looks = looks("naked-only");
        assert!(looks.iter().all(|look| matches!(look, Look::Naked(_))));
        let covers = |naked: u8, open: u8| {
            looks.iter().any(|look| {
                matches!(look, Look::Naked(size) if size.get() == naked && size.covers(open))
            })
        };
        for open in 2..=9 {
            for size in (1..=4).filter(|size| *size < open) {
                assert!(covers(size, open), "naked {size} of {open}");
                assert!(covers(open - size, open), "hidden {size} of {open}");
            }
        }
    }

    #[test]
    fn what_is_written_reads_back() {
        for name in Rulebook::built_in() {
            let book = Rulebook::load(name).unwrap();
            assert_eq!(Rulebook::parse("again", &book.to_toml()).unwrap(), book);
        }
        let text = "name = \"own\"\ntitle = \"\\\"Quoted\\\", 'twice'\\nand two lines\"\n\
                    source = \"ü\"\n[[look]]\nfind = \"hidden 2\"\nopen = \"4..9\"\n\
                    why = \"few # cells\"\n[[look]]\nfind = \"intersections\"\n";
        let book = Rulebook::parse("own.toml", text).unwrap();
        assert_eq!(book.looks().next().unwrap().why, Some("few # cells"));
        assert_eq!(Rulebook::parse("again", &book.to_toml()).unwrap(), book);
    }

    #[test]
    fn bad_files_are_refused_with_file_and_line() {
        let head = "name = \"own\"\ntitle = \"Own\"\nsource = \"me\"\n";
        let look = |lines: &str| format!("{head}[[look]]\n{lines}\n");
        for (text, message) in [
            (
                head.to_owned(),
                "own.toml, line 1: found a rulebook without looks, expected [[look]] tables",
            ),
            (
                look("find = \"naked 6\"\nopen = \"5\""),
                "own.toml, line 6: found 'naked 6' with open = '5': size 6 does not fit into \
                 houses of at most 5 open cells",
            ),
            (
                look("find = \"naked 2\"\nopen = \"9..4\""),
                "own.toml, line 6: found 'naked 2' with open = '9..4': open counts run from 1 to 9 \
                 and may not be empty, found 9 to 4",
            ),
            (
                look("find = \"naked 2\"\nopen = \"four\""),
                "own.toml, line 6: found 'naked 2' with open = 'four': 'four' is no open count: \
                 expected one from 1 to 9, a range as in '7..9', or '4..7 and 9'",
            ),
            (
                look("find = \"naked 2\"\nopen = 8"),
                "own.toml, line 6: open: invalid type: integer `8`, expected a string",
            ),
            (
                look("find = \"naked 2 open 8\""),
                "own.toml, line 5: found 'naked 2 open 8', expected a look without a range: that \
                 stands in 'open'",
            ),
            (
                look("find = \"bare 2\""),
                "own.toml, line 5: 'bare 2' is not a look: expected 'naked K' or 'hidden K', with \
                 'open N' or 'open N..M' after it if houses of some open counts are meant, or \
                 'intersections'",
            ),
            (
                look("find = \"naked 9\""),
                "own.toml, line 5: a look needs a size from 1 to 8, found 9",
            ),
            (
                look("find = \"intersections\"\nopen = \"4\""),
                "own.toml, line 6: found 'intersections' with open = '4': intersections are looked for \
                 in every house: expected no open count",
            ),
            (
                look("find = \"naked 2\"\nwhen = \"late\""),
                "own.toml, line 6: unknown field `when`, expected one of `find`, `open`, `why`",
            ),
            (look("why = \"no look\""), "own.toml, line 4: missing field `find`"),
            (
                look("find = \"naked 2\"\n[[look]]\nfind = \"naked  2\"\nopen = \"1..9\""),
                "own.toml, line 7: look 2 is 'naked 2', as look 1 is already: expected each look once",
            ),
            (
                look("find = \"naked 2\"").replace("\"own\"", "\"My list\""),
                "own.toml, line 1: found 'My list', expected 1 to 60 lower-case letters, digits \
                 and hyphens",
            ),
        ] {
            let error = Rulebook::parse("own.toml", &text).unwrap_err();
            assert_eq!(error.to_string(), message);
        }
    }

    #[test]
    fn an_unknown_name_lists_the_known_ones() {
        assert_eq!(
            Rulebook::load("long-list").unwrap_err().to_string(),
            "no rulebook 'long-list': expected a file, or one of full-ladder, naked-only, \
             short-list, up-to-triples"
        );
        let folder = Rulebook::load(".").unwrap_err().to_string();
        assert!(folder.starts_with("cannot read .: "), "{folder}");
    }
}
