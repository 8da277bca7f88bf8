//! Compression, told by the first bytes of a source and never by its name.

use std::io::{self, BufReader, Read};

use flate2::bufread::MultiGzDecoder;

use crate::whole_file::CutWhileRead;

pub(crate) type Bytes = Box<dyn Read + Send>;

/// How much a decoder gives at once: when it meets damage it drops what it was about to give.
const STEP: usize = 1 << 12;

/// Returns the bytes, and whether they were packed.
pub(crate) fn unpack(bytes: Bytes) -> io::Result<(Bytes, bool)> {
    let (head, bytes) = peek::<4>(bytes)?;
    Ok(match head.as_slice() {
        [0x1f, 0x8b, ..] => {
            let packed = BufReader::with_capacity(1 << 16, bytes);
            (Box::new(Steps { decoder: MultiGzDecoder::new(packed), packing: "gzip" }), true)
        }
        // A frame, or one to be skipped over, which may come first.
        [0x28, 0xb5, 0x2f, 0xfd] | [0x50..=0x5f, 0x2a, 0x4d, 0x18] => {
            let packed = BufReader::with_capacity(1 << 16, bytes);
            (
                Box::new(Steps { decoder: zstd::Decoder::with_buffer(packed)?, packing: "zstd" }),
                true,
            )
        }
        _ => (bytes, false),
    })
}

/// Tests if bytes begin as packed ones do.
pub(crate) fn is_packed(head: &[u8]) -> bool {
    matches!(head, [0x1f, 0x8b, ..] | [0x28, 0xb5, 0x2f, 0xfd] | [0x50..=0x5f, 0x2a, 0x4d, 0x18])
}

/// Reads up to `N` bytes ahead and gives them back in front of the rest.
pub(crate) fn peek<const N: usize>(mut bytes: Bytes) -> io::Result<(Vec<u8>, Bytes)> {
    let mut head = Vec::with_capacity(N);
    (&mut bytes).take(N as u64).read_to_end(&mut head)?;
    let whole = io::Cursor::new(head.clone()).chain(bytes);
    Ok((head, Box::new(whole)))
}

struct Steps<R> {
    decoder: R,
    packing: &'static str,
}

impl<R: Read> Read for Steps<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let step = buffer.len().min(STEP);
        self.decoder.read(&mut buffer[..step]).map_err(|error| self.told(error))
    }
}

impl<R> Steps<R> {
    /// Says what is wrong with packed data; other errors stay.
    fn told(&self, error: io::Error) -> io::Error {
        let packing = self.packing;
        match error.kind() {
            _ if error.get_ref().is_some_and(|cause| cause.is::<CutWhileRead>()) => error,
            io::ErrorKind::UnexpectedEof => io::Error::new(
                error.kind(),
                format!(
                    "the {packing} data break off: the file was cut; get it anew, or unpack what is there \
                     and read that"
                ),
            ),
            io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput | io::ErrorKind::Other => {
                io::Error::new(
                    error.kind(),
                    format!("the {packing} data are damaged ({error}): get the file anew"),
                )
            }
            _ => error,
        }
    }
}
