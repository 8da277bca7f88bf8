//! Bytes changed at random, in ways that readers are known to stumble over.

use rand::{Rng, RngExt};

/// Pieces that mean something to one reader or another, or to a terminal.
const PIECES: [&[u8]; 44] = [
    b"\0",
    b"\n",
    b"\r",
    b"\r\n",
    b"\n\n\n",
    b"\t",
    b" ",
    b"\"",
    b"\"\"",
    b"'",
    b"'''",
    b"\"\"\"",
    b",",
    b";",
    b"|",
    b"#",
    b"=",
    b"[",
    b"]",
    b"[[",
    b"{",
    b"}",
    b"\\",
    b"\\u0000",
    b"../",
    b"-",
    b"+",
    b".",
    b"\x1b[31m",
    b"\x1f\x8b\x08\x00",
    b"\x28\xb5\x2f\xfd",
    b"\xff",
    b"\xff\xfe",
    b"\xfe\xff",
    b"\xef\xbb\xbf",
    b"\xed\xa0\x80",
    b"\xc3",
    "é".as_bytes(),
    "\u{2028}".as_bytes(),
    "\u{202e}".as_bytes(),
    b" weight=0.5",
    b" family=1",
    b"puzzle",
    b"open 9..1",
];

/// Numbers at the ends of ranges.
const NUMBERS: [&str; 18] = [
    "0",
    "1",
    "-1",
    "9",
    "10",
    "81",
    "82",
    "255",
    "256",
    "65536",
    "4294967296",
    "9223372036854775807",
    "18446744073709551616",
    "0.0",
    "1e308",
    "1e999",
    "nan",
    "1_0",
];

/// Changes bytes one to three times.
pub(crate) fn mutate(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    for _ in 0..rng.random_range(1..4) {
        once(bytes, rng);
    }
}

/// Draws a stretch of at most so many bytes.
fn stretch(bytes: &[u8], most: usize, rng: &mut impl Rng) -> std::ops::Range<usize> {
    let start = rng.random_range(0..=bytes.len());
    let end = (start + rng.random_range(0..=most)).min(bytes.len());
    start..end
}

fn once(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let at = rng.random_range(0..=bytes.len());
    let piece = PIECES[rng.random_range(0..PIECES.len())];
    match rng.random_range(0..13) {
        0 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << rng.random_range(0..8);
            }
        }
        1 | 2 => drop(bytes.splice(at..at, piece.iter().copied())),
        3 => drop(bytes.splice(at..(at + 1).min(bytes.len()), piece.iter().copied())),
        4 => drop(bytes.drain(stretch(bytes, 100, rng))),
        5 => {
            let again = bytes[stretch(bytes, 300, rng)].to_vec();
            bytes.splice(at..at, again);
        }
        6 => bytes.truncate(at),
        7 | 8 => number(bytes, rng),
        9 => lines(bytes, rng),
        10 => word(bytes, rng),
        11 => {
            // A line that is longer than lines are kept.
            let byte = b"1. a\"\xff"[rng.random_range(0..6)];
            let long = vec![byte; rng.random_range(100..100_000)];
            bytes.splice(at..at, long);
        }
        _ => {
            let byte = rng.random();
            if let Some(place) = bytes.get_mut(at) {
                *place = byte;
            }
        }
    }
}

/// Exchanges a run of digits for another number.
fn number(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let is_start =
        |&at: &usize| bytes[at].is_ascii_digit() && (at == 0 || !bytes[at - 1].is_ascii_digit());
    let starts: Vec<usize> = (0..bytes.len()).filter(is_start).collect();
    if starts.is_empty() {
        return;
    }
    let start = starts[rng.random_range(0..starts.len())];
    let digits = bytes[start..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let number = NUMBERS[rng.random_range(0..NUMBERS.len())];
    bytes.splice(start..start + digits, number.bytes());
}

/// Swaps, removes or repeats lines.
fn lines(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let mut lines: Vec<Vec<u8>> =
        bytes.split_inclusive(|&b| b == b'\n').map(<[u8]>::to_vec).collect();
    if lines.is_empty() {
        return;
    }
    let (one, other) = (rng.random_range(0..lines.len()), rng.random_range(0..lines.len()));
    match rng.random_range(0..3) {
        0 => lines.swap(one, other),
        1 => drop(lines.remove(one)),
        _ => lines.insert(one, lines[other].clone()),
    }
    *bytes = lines.concat();
}

/// Puts a word of the text in the place of another.
fn word(bytes: &mut Vec<u8>, rng: &mut impl Rng) {
    let is_word = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_');
    let starts: Vec<usize> = (0..bytes.len())
        .filter(|&at| is_word(bytes[at]) && (at == 0 || !is_word(bytes[at - 1])))
        .collect();
    if starts.is_empty() {
        return;
    }
    let draw = |rng: &mut dyn FnMut(usize) -> usize| {
        let start = starts[rng(starts.len())];
        start..start + bytes[start..].iter().take_while(|&&byte| is_word(byte)).count()
    };
    let mut drawn = |below: usize| rng.random_range(0..below);
    let (one, other) = (draw(&mut drawn), draw(&mut drawn));
    let other = bytes[other].to_vec();
    bytes.splice(one, other);
}
