//! From bytes to UTF-8, in memory that doesn't grow with the source.

use encoding_rs::WINDOWS_1252;
use encoding_rs_io::DecodeReaderBytesBuilder;

use crate::unpack::Bytes;

/// Takes the byte order mark off and turns UTF-16, which has to have one, into UTF-8; half a character
/// becomes U+FFFD. All other bytes stay: see [`push_text`].
pub(crate) fn decode(bytes: Bytes) -> Bytes {
    Box::new(DecodeReaderBytesBuilder::new().utf8_passthru(true).strip_bom(true).build(bytes))
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
