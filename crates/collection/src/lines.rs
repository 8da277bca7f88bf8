//! The lines of one source, whatever its compression, encoding and line ends.

use std::collections::VecDeque;
use std::io::{self, BufRead, BufReader, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use memchr::memchr2;
use tallyhouse_words::shown;

use crate::encoding::{decode, push_text};
use crate::unpack::{Bytes, peek, unpack};

/// The most bytes that are kept of a line.
pub(crate) const LONGEST_LINE: usize = 1 << 16;

/// How many characters are kept of a longer one.
const CUT_TO: usize = 200;

/// What may stand before text in UTF-8.
const BYTE_ORDER_MARK: [u8; 3] = [0xef, 0xbb, 0xbf];

/// How many comment lines are kept.
pub(crate) const MOST_NOTES: usize = 100;

/// A line without its end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Line {
    /// Counted from 1.
    pub(crate) number: u64,
    pub(crate) text: String,
    /// Whether the line was longer than [`LONGEST_LINE`] and only its beginning is here.
    pub(crate) cut: bool,
}

impl Line {
    /// Returns the text without the white space around it.
    pub(crate) fn trimmed(&self) -> &str {
        self.text.trim_ascii()
    }
}

pub(crate) struct Lines {
    reader: BufReader<Bytes>,
    packed: bool,
    taken: Arc<AtomicU64>,
    /// The last line read.
    current: Line,
    number: u64,
    /// Lines to be given again.
    again: VecDeque<Line>,
    /// The beginning of a line that crosses the end of the buffer.
    begun: Vec<u8>,
    after_return: bool,
    /// The comment lines seen first, with their numbers.
    pub(crate) notes: Vec<(u64, String)>,
    /// What broke off the reading; there are no lines after it.
    pub(crate) error: Option<io::Error>,
}

impl Lines {
    pub(crate) fn new(bytes: Bytes) -> Self {
        let taken = Arc::new(AtomicU64::new(0));
        let counted = Box::new(Counted { bytes, taken: Arc::clone(&taken) });
        let opened = unpack(counted).map(|(bytes, packed)| (decode(bytes), packed));
        match opened {
            Ok((bytes, packed)) => Self { packed, ..Self::of(bytes, taken) },
            Err(error) => Self { error: Some(error), ..Self::of(Box::new(io::empty()), taken) },
        }
    }

    /// Reads lines of plain text, from a place that lies so many bytes and lines into the source.
    pub(crate) fn plain(bytes: Bytes, offset: u64, line: u64) -> Self {
        let taken = Arc::new(AtomicU64::new(offset));
        let counted: Bytes = Box::new(Counted { bytes, taken: Arc::clone(&taken) });
        let without_mark = || match peek::<3>(counted) {
            Ok((head, bytes)) if offset == 0 && head == BYTE_ORDER_MARK => {
                let mut bytes = bytes;
                bytes.read_exact(&mut [0; 3])?;
                Ok(bytes)
            }
            peeked => peeked.map(|(_, bytes)| bytes),
        };
        let (bytes, error) = match without_mark() {
            Ok(bytes) => (bytes, None),
            Err(error) => (Box::new(io::empty()) as Bytes, Some(error)),
        };
        Self { error, number: line, ..Self::of(bytes, taken) }
    }

    fn of(bytes: Bytes, taken: Arc<AtomicU64>) -> Self {
        Self {
            reader: BufReader::with_capacity(1 << 16, bytes),
            packed: false,
            taken,
            current: Line::default(),
            number: 0,
            again: VecDeque::new(),
            begun: Vec::new(),
            after_return: false,
            notes: Vec::new(),
            error: None,
        }
    }

    /// Passes over the second half of a line end that has two, so that [`bytes`](Self::bytes) is where
    /// the next line begins.
    pub(crate) fn end_line(&mut self) -> io::Result<()> {
        if std::mem::take(&mut self.after_return) && self.reader.fill_buf()?.first() == Some(&b'\n')
        {
            self.reader.consume(1);
        }
        Ok(())
    }

    /// Returns how many bytes of the source were used.
    pub(crate) fn bytes(&self) -> u64 {
        let ahead = if self.packed { 0 } else { self.reader.buffer().len() as u64 };
        self.taken.load(Ordering::Relaxed).saturating_sub(ahead)
    }

    /// Returns how many lines were read.
    pub(crate) const fn number(&self) -> u64 {
        self.number
    }

    /// Gives lines again that were read ahead.
    pub(crate) fn give_back(&mut self, lines: impl DoubleEndedIterator<Item = Line>) {
        lines.rev().for_each(|line| self.again.push_front(line));
    }

    /// Reads a line that is no comment; `None` at the end and where reading breaks off.
    pub(crate) fn next(&mut self) -> Option<&Line> {
        self.next_unless(|_| true)
    }

    /// Reads a line that does not begin as a comment, or is none for another reason.
    pub(crate) fn next_unless(&mut self, is_comment: impl Fn(&str) -> bool) -> Option<&Line> {
        loop {
            self.advance()?;
            let comment = self.current.trimmed().strip_prefix('#');
            let Some(comment) = comment.filter(|_| is_comment(&self.current.text)) else {
                return Some(&self.current);
            };
            if self.notes.len() < MOST_NOTES {
                self.notes.push((self.current.number, shown(comment.trim()).into_owned()));
            }
        }
    }

    /// Reads any line.
    pub(crate) fn next_or_comment(&mut self) -> Option<&Line> {
        self.advance().map(|()| &self.current)
    }

    fn advance(&mut self) -> Option<()> {
        if let Some(line) = self.again.pop_front() {
            self.current = line;
            return Some(());
        }
        if self.error.is_some() {
            return None;
        }
        match self.read() {
            Ok(true) => Some(()),
            Ok(false) => None,
            Err(error) => {
                self.error = Some(error);
                None
            }
        }
    }

    fn read(&mut self) -> io::Result<bool> {
        self.begun.clear();
        let mut whole = true;
        loop {
            let mut bytes = match self.reader.fill_buf() {
                Ok(bytes) => bytes,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if bytes.is_empty() {
                if self.begun.is_empty() {
                    return Ok(false);
                }
                self.current.set(&self.begun, whole);
                break;
            }
            if self.after_return {
                self.after_return = false;
                if bytes[0] == b'\n' {
                    self.reader.consume(1);
                    continue;
                }
            }
            let end = memchr2(b'\n', b'\r', bytes);
            let used = end.map_or(bytes.len(), |end| end + 1);
            self.after_return = end.is_some_and(|end| bytes[end] == b'\r');
            bytes = &bytes[..end.unwrap_or(used)];
            if end.is_some() && self.begun.is_empty() && bytes.len() <= LONGEST_LINE {
                self.current.set(bytes, true);
            } else {
                let room = LONGEST_LINE - self.begun.len();
                whole &= bytes.len() <= room;
                self.begun.extend_from_slice(&bytes[..bytes.len().min(room)]);
                if end.is_some() {
                    self.current.set(&self.begun, whole);
                }
            }
            self.reader.consume(used);
            if end.is_some() {
                break;
            }
        }
        self.number += 1;
        self.current.number = self.number;
        Ok(true)
    }
}

impl Line {
    fn set(&mut self, mut bytes: &[u8], whole: bool) {
        self.cut = !whole;
        self.text.clear();
        if self.cut
            && let Err(error) = std::str::from_utf8(bytes)
            && error.error_len().is_none()
        {
            // The cut went through a character.
            bytes = &bytes[..error.valid_up_to()];
        }
        push_text(&mut self.text, bytes);
        if self.cut
            && let Some((end, _)) = self.text.char_indices().nth(CUT_TO)
        {
            self.text.truncate(end);
        }
    }
}

struct Counted {
    bytes: Bytes,
    taken: Arc<AtomicU64>,
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.bytes.read(buffer)?;
        self.taken.fetch_add(read as u64, Ordering::Relaxed);
        Ok(read)
    }
}
