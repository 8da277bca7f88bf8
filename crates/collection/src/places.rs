//! Where the parts of plain text begin, so that each can be read by itself.

use std::io::{self, Read};

use serde::{Deserialize, Serialize};

use crate::rows::PartRows;
use crate::table::TableRows;
use crate::text_rows::is_row_anyhow;
use crate::unpack::{is_packed, peek};
use crate::{Format, FormatKind, Part, Place, Progress, ReadError, Rows, Source};

/// Where a part begins, and what it holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacedPart {
    /// The place of its first row.
    #[serde(flatten)]
    pub place: Place,
    /// BLAKE3 over its bytes in the sources, up to the next part, in hexadecimal.
    pub blake3: String,
}

/// What was found by reading all rows of plain text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Survey {
    /// The parts in their order.
    pub parts: Vec<PlacedPart>,
    /// The digest of the rows.
    pub digest: String,
    /// The comment lines at the head.
    pub notes: Vec<String>,
}

/// Why parts can't be read by themselves.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SurveyError {
    /// A source can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// Only plain text and collection folders can be cut anywhere.
    #[error(
        "{source_name}: {reason}; a plan takes puzzles that are made, collection folders, and plain text \
         with one puzzle a line: run collect first"
    )]
    NotPlain {
        /// The path as given.
        source_name: String,
        /// What it is.
        reason: String,
    },
}

/// Reads all rows of plain text or collection folders, and notes where each part of so many rows
/// begins.
///
/// # Errors
/// If a source can't be read, is something else, or has no row at all.
pub fn survey(sources: &[Source], part_size: u64) -> Result<Survey, SurveyError> {
    sources.iter().try_for_each(check_plain)?;
    let mut rows = Rows::open_plain(sources)?.with_families_together();
    let mut places = Vec::new();
    loop {
        let place = rows.place()?;
        if !read_part(&mut rows, sources, part_size)? {
            break;
        }
        places.push(place);
    }
    if places.is_empty() {
        let names: Vec<&str> = sources.iter().map(Source::name).collect();
        return Err(ReadError::Empty(names.join(", ")).into());
    }
    let part = |(index, place): (usize, &Place)| -> Result<PlacedPart, ReadError> {
        let blake3 = bytes_digest(sources, place, places.get(index + 1))?;
        Ok(PlacedPart { place: *place, blake3 })
    };
    let parts = places.iter().enumerate().map(part).collect::<Result<_, _>>()?;
    Ok(Survey { parts, digest: rows.digest(), notes: rows.notes().to_vec() })
}

/// Reads the rows of one part; `false` if there are none.
fn read_part(rows: &mut Rows, sources: &[Source], part_size: u64) -> Result<bool, SurveyError> {
    let mut left = part_size;
    while left > 0 {
        let some = rows.take_whole(left.min(1000) as usize)?;
        let doubtful = |row: &&crate::row::Row| {
            *sources[row.source].format() == Format::Auto && !is_row_anyhow(&row.text)
        };
        if let Some(row) = some.iter().find(doubtful) {
            return Err(SurveyError::NotPlain {
                source_name: format!("{}, line {}", sources[row.source].name(), row.line),
                reason: "the line may belong to a grid (if it doesn't, say --format lines)"
                    .to_owned(),
            });
        }
        if some.is_empty() {
            break;
        }
        left -= some.len() as u64;
    }
    Ok(left < part_size)
}

fn check_plain(source: &Source) -> Result<(), SurveyError> {
    let refuse = |reason: &str| SurveyError::NotPlain {
        source_name: source.name().to_owned(),
        reason: reason.to_owned(),
    };
    if source.is_counted_in_units() {
        return Ok(());
    }
    if source.is_stream() {
        return Err(refuse("it can be read only once"));
    }
    let (head, _) = peek::<4>(source.open()?).map_err(|error| ReadError::Read {
        source_name: source.name().to_owned(),
        line: 0,
        error,
    })?;
    if is_packed(&head) {
        return Err(refuse("it is compressed"));
    }
    if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
        return Err(refuse("it is in UTF-16"));
    }
    match source.format() {
        Format::Lines => Ok(()),
        Format::Auto => {
            let mut lines = crate::lines::Lines::plain(source.open()?, 0, 0);
            match TableRows::detect(&mut lines) {
                Ok(None) => Ok(()),
                _ => Err(refuse("it is a table")),
            }
        }
        other => Err(refuse(&format!("it is read as {}", FormatKind::from(other)))),
    }
}

/// Digests the bytes from a place up to another, or to the end.
fn bytes_digest(sources: &[Source], from: &Place, to: Option<&Place>) -> Result<String, ReadError> {
    let mut hasher = blake3::Hasher::new();
    let last = to.map_or(sources.len(), |to| to.source + 1);
    for (index, source) in sources.iter().enumerate().take(last).skip(from.source) {
        if let Some(stamp) = source.stamp() {
            hasher.update(stamp.as_bytes());
            continue;
        }
        let start = if index == from.source { from.offset } else { 0 };
        let end = to.filter(|to| to.source == index).map_or(u64::MAX, |to| to.offset);
        let bytes = source.open_at(start, u64::MAX)?.take(end - start);
        let copied = io::copy(&mut { bytes }, &mut hasher);
        copied.map_err(|error| ReadError::Read {
            source_name: source.name().to_owned(),
            line: from.line,
            error,
        })?;
    }
    Ok(hasher.finalize().to_hex().to_string())
}

impl Survey {
    /// Finds the first source whose bytes are no longer those that a part was planned with.
    ///
    /// # Errors
    /// If a source can't be read.
    pub fn is_unchanged(
        parts: &[PlacedPart],
        number: usize,
        sources: &[Source],
    ) -> Result<bool, ReadError> {
        let to = parts.get(number + 1).map(|part| &part.place);
        Ok(bytes_digest(sources, &parts[number].place, to)? == parts[number].blake3)
    }
}

impl<'a> Part<'a> {
    /// Reads one part by itself: of `size` units, from a place on.
    ///
    /// # Errors
    /// If a source can't be read.
    pub fn read(
        sources: &[Source],
        place: &Place,
        number: u64,
        size: u64,
        progress: &'a dyn Progress,
    ) -> Result<Self, ReadError> {
        let numbering = sources.first().map(Source::numbering).unwrap_or_default();
        let first = number * size;
        let mut rows = Rows::open_at(sources, place, numbering.first(first), first + size)?;
        let rows = rows.take_part(number, size)?;
        let rows = rows.unwrap_or(PartRows { units: first..first, rows: Vec::new() });
        Ok(Self::new(number, numbering, rows, progress))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BlockDigests, Silent};

    fn grid(number: usize) -> String {
        format!("{number:05}").replace('0', ".") + &".".repeat(76)
    }

    fn pieces(sources: &[Source], size: u64) -> (Vec<PlacedPart>, Vec<String>, String) {
        let found = survey(sources, size).unwrap();
        let (mut blocks, mut rows) = (BlockDigests::default(), Vec::new());
        for (number, part) in found.parts.iter().enumerate() {
            assert!(Survey::is_unchanged(&found.parts, number, sources).unwrap());
            let part = Part::read(sources, &part.place, number as u64, size, &Silent).unwrap();
            blocks.append(&part.blocks());
            rows.extend(part.flatten().map(|row| format!("{row:?}")));
        }
        assert_eq!(blocks.digest(), found.digest);
        (found.parts, rows, found.digest)
    }

    fn whole(sources: &[Source]) -> (Vec<String>, String) {
        let mut rows = Rows::open(sources.to_vec()).unwrap();
        let mut all = Vec::new();
        loop {
            let block = rows.block(700).unwrap();
            if block.is_empty() {
                return (all, rows.digest());
            }
            all.extend(block.into_iter().map(|row| format!("{row:?}")));
        }
    }

    #[test]
    fn parts_are_what_a_whole_reading_finds_whatever_the_line_ends() {
        for end in ["\n", "\r\n", "\r"] {
            for mark in ["", "\u{feff}"] {
                let line = |number: usize| match number % 7 {
                    0 => format!("# note {number}{end}{end}{}{end}", grid(number)),
                    1 => format!("spoilt{end}"),
                    2 => format!("{} weight=2.5 family={}{end}", grid(number), number / 500),
                    _ => format!("{}, a label{end}", grid(number)),
                };
                let text = |from, to| -> Vec<u8> {
                    let text: String = (from..to).map(line).collect();
                    format!("{mark}# head{end}{text}").into_bytes()
                };
                let sources = [(0, 2345), (2345, 2345), (2345, 4000)]
                    .map(|(from, to)| Source::memory(&format!("{from}.txt"), text(from, to)));
                let (parts, rows, digest) = pieces(&sources, 1000);
                assert_eq!(parts.len(), 4);
                assert_eq!((rows, digest), whole(&sources));
            }
        }
    }

    #[test]
    fn changed_bytes_are_noticed_in_their_part_alone() {
        let text: String = (0..3000).map(|number| grid(number) + "\n").collect();
        let source = |text: &str| [Source::memory("in.txt", text.as_bytes())];
        let found = survey(&source(&text), 1000).unwrap();
        let other = source(&text.replacen("..15", "..16", 1));
        let unchanged: Vec<bool> =
            (0..3).map(|part| Survey::is_unchanged(&found.parts, part, &other).unwrap()).collect();
        assert_eq!(unchanged, [false, true, true]);
    }

    #[test]
    fn what_cannot_be_cut_is_refused() {
        let refused = |bytes: &[u8], format: Format| {
            let source = Source::memory("in", bytes).with_format(format);
            survey(&[source], 1000).unwrap_err().to_string()
        };
        let line = grid(1);
        assert!(refused(&[0x1f, 0x8b, 8, 0], Format::Auto).contains("it is compressed"));
        assert!(refused(&[0xff, 0xfe, 8, 0], Format::Auto).contains("it is in UTF-16"));
        let table = format!("puzzle,label\n{line},x\n");
        let table = refused(table.as_bytes(), Format::Auto);
        assert!(table.starts_with("in: it is a table") && table.ends_with("run collect first"));
        let grid = format!("{line}\n{}", "12.......\n".repeat(9));
        assert!(refused(grid.as_bytes(), Format::Auto).starts_with("in, line 2: the line may"));
        assert!(refused(b"# nothing\n", Format::Auto).starts_with("no puzzles in in"));
        let twice = format!("{line} family=1\n{line} family=2\n{line} family=1\n");
        let twice = refused(twice.as_bytes(), Format::Auto);
        assert!(twice.starts_with("cannot read in, line 3: family 1 has puzzles"), "{twice}");
    }
}
