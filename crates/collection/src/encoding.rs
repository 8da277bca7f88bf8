//! From bytes to UTF-8, in memory that doesn't grow with the source.

use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};

use crate::unpack::{Bytes, peek};

/// Takes the byte order mark off and turns UTF-16, which has to have one, into UTF-8. All other bytes
/// stay: see [`push_text`].
pub(crate) fn decode(bytes: Bytes) -> io::Result<Bytes> {
    let (head, mut bytes) = peek::<3>(bytes)?;
    let (mark, encoding) = match head.as_slice() {
        [0xff, 0xfe, ..] => (2, Some(UTF_16LE)),
        [0xfe, 0xff, ..] => (2, Some(UTF_16BE)),
        [0xef, 0xbb, 0xbf] => (3, None),
        _ => return Ok(bytes),
    };
    bytes.read_exact(&mut [0; 3][..mark])?;
    Ok(match encoding {
        Some(encoding) => Box::new(Utf16 {
            bytes,
            decoder: encoding.new_decoder_without_bom_handling(),
            raw: vec![0; 1 << 14].into(),
            waiting: 0..0,
            state: State::Reading,
        }),
        None => bytes,
    })
}

/// Appends a line of text. Bytes that aren't UTF-8 are taken as Windows-1252, line by line: so no
/// line decides over another, and a source may be cut anywhere between two lines. A line of
/// Windows-1252 that happens to be UTF-8 is taken for that: it needs signs such as `€` right after
/// certain letters with accents.
pub(crate) fn push_text(text: &mut String, bytes: &[u8]) {
    match std::str::from_utf8(bytes) {
        Ok(utf8) => text.push_str(utf8),
        Err(_) => text.push_str(&WINDOWS_1252.decode_without_bom_handling(bytes).0),
    }
}

/// Gives UTF-16 as UTF-8; half a character becomes U+FFFD.
struct Utf16 {
    bytes: Bytes,
    decoder: Decoder,
    raw: Box<[u8]>,
    waiting: std::ops::Range<usize>,
    state: State,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Reading,
    /// No bytes are left, but perhaps text.
    Ending,
    Done,
}

impl Read for Utf16 {
    fn read(&mut self, text: &mut [u8]) -> io::Result<usize> {
        while self.state != State::Done {
            let raw = &self.raw[self.waiting.clone()];
            let last = self.state == State::Ending;
            let (result, read, written, _) = self.decoder.decode_to_utf8(raw, text, last);
            self.waiting.start += read;
            if result == CoderResult::OutputFull && written == 0 {
                return Err(io::Error::other("no room for a character"));
            }
            if result == CoderResult::InputEmpty {
                if last {
                    self.state = State::Done;
                } else if written == 0 {
                    self.waiting = 0..self.bytes.read(&mut self.raw)?;
                    if self.waiting.is_empty() {
                        self.state = State::Ending;
                    }
                }
            }
            if written > 0 {
                return Ok(written);
            }
        }
        Ok(0)
    }
}
