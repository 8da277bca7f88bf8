//! Pages printed on paper, read back from the PDF. Needs poppler's `pdftotext`, `pdftohtml` and
//! `pdftoppm`.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use super::{DESK, SCHEMES, open, probe};

/// A4 and the page's margins, in points.
const PAPER: (f64, f64) = (595.0, 842.0);
const MARGINS: (f64, f64) = (20.0 * POINTS_PER_MM, 16.0 * POINTS_PER_MM);
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// The least type of figures is 7 points high.
const LEAST_TYPE: f64 = 6.6;

/// A printed page.
struct Print {
    sheets: Vec<Sheet>,
    /// The fonts used: height in points and colour.
    fonts: Vec<(f64, [u8; 3])>,
    /// Grey pictures of all sheets, as binary PGM of netpbm.
    pictures: Vec<u8>,
}

/// A sheet of paper.
struct Sheet {
    size: (f64, f64),
    /// Each word with its left, top, right and bottom edge.
    words: Vec<(String, [f64; 4])>,
    /// All text without spaces, in the order in which it was drawn.
    text: String,
}

fn run(program: &str, arguments: &[&str]) -> Vec<u8> {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("cannot run {program} of poppler-utils: {error}"));
    assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

/// Prints a page by night, when only the style for paper keeps it white, and reads the sheets.
fn print(page: &Path) -> Print {
    let folder = tempfile::tempdir().unwrap();
    let pdf = folder.path().join("page.pdf");
    let to_pdf = format!("--print-to-pdf={}", pdf.display());
    let (_, console) = open(page, &[SCHEMES[1].0, "--no-pdf-header-footer", &to_pdf]);
    assert_eq!(console, "");
    let pdf = pdf.to_str().unwrap();
    let raw = String::from_utf8(run("pdftotext", &["-raw", pdf, "-"])).unwrap();
    let boxes = String::from_utf8(run("pdftotext", &["-bbox", pdf, "-"])).unwrap();
    let texts = raw.split('\u{c}');
    let sheets = boxes.split("<page ").skip(1).zip(texts).map(|(page, text)| Sheet {
        size: (attribute(page, "width"), attribute(page, "height")),
        words: page.split("<word ").skip(1).map(word).collect(),
        text: bare(text),
    });
    // Heights are whole numbers, so they are read three times as large.
    let xml = run("pdftohtml", &["-xml", "-i", "-q", "-stdout", "-zoom", "3", pdf]);
    let xml = String::from_utf8_lossy(&xml).into_owned();
    let fonts = xml.split("<fontspec ").skip(1).map(|font| {
        let hex = font.split_once("color=\"#").unwrap().1;
        let channel = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
        (attribute(font, "size") / 3.0, [0, 2, 4].map(channel))
    });
    Print {
        sheets: sheets.collect(),
        fonts: fonts.collect(),
        pictures: run("pdftoppm", &["-r", "10", "-gray", pdf]),
    }
}

fn attribute(tag: &str, name: &str) -> f64 {
    let (_, after) = tag.split_once(&format!("{name}=\"")).unwrap();
    after.split_once('"').unwrap().0.parse().unwrap()
}

fn word(tag: &str) -> (String, [f64; 4]) {
    let text = tag.split_once('>').unwrap().1.split_once("</word>").unwrap().0;
    (text.to_string(), ["xMin", "yMin", "xMax", "yMax"].map(|edge| attribute(tag, edge)))
}

/// Returns the text without spaces, marks of lists and ligatures.
fn bare(text: &str) -> String {
    let text = text.replace('ﬁ', "fi").replace('ﬂ', "fl").replace('ﬀ', "ff");
    text.chars().filter(|c| !c.is_whitespace() && *c != '•').collect()
}

/// Checks that on A4 paper nothing is lost or cut: figures, rows, verdicts and paragraphs stand on one
/// sheet, headings and the heads of tables on the sheet of what follows; heads of tables are repeated;
/// nothing reaches into the margins; type is neither small nor pale; the paper stays white. Returns the
/// number of sheets.
pub(crate) fn check(path: &Path) -> usize {
    let page = std::fs::read_to_string(path).unwrap();
    let found = probe(&page, DESK, &[]);
    let Print { sheets, fonts, pictures } = print(path);
    for (index, sheet) in sheets.iter().enumerate() {
        let number = index + 1;
        assert!((sheet.size.0 - PAPER.0).abs() < 1.0, "sheet {number}: {:?}", sheet.size);
        assert!((sheet.size.1 - PAPER.1).abs() < 1.0, "sheet {number}: {:?}", sheet.size);
        for (text, [left, top, right, bottom]) in &sheet.words {
            let inside = *left >= MARGINS.0 - 1.0
                && *right <= PAPER.0 - MARGINS.0 + 1.0
                && *top >= MARGINS.1 - 3.0
                && *bottom <= PAPER.1 - MARGINS.1 + 3.0;
            assert!(inside, "sheet {number}: '{text}' at {left}, {top}, {right}, {bottom}");
        }
    }
    check_pieces(found["pieces"].as_array().unwrap(), &sheets);
    check_fonts(&fonts);
    check_white(&pictures, sheets.len());
    sheets.len()
}

/// Returns the sizes of the sheets that a page takes, in millimetres.
pub(crate) fn sheets(path: &Path) -> Vec<(f64, f64)> {
    let millimetres = |points: f64| (points / POINTS_PER_MM).round();
    print(path)
        .sheets
        .iter()
        .map(|sheet| (millimetres(sheet.size.0), millimetres(sheet.size.1)))
        .collect()
}

/// A browser shrinks a page that is too wide; one made for the dark has pale type. White type stands on
/// the dark marks of figures.
fn check_fonts(fonts: &[(f64, [u8; 3])]) {
    assert!(!fonts.is_empty());
    for &(size, colour) in fonts {
        assert!(size >= LEAST_TYPE, "type of {size} points");
        // WCAG 2.2, relative luminance and contrast ratio, on white.
        let [r, g, b] = colour.map(|channel| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        });
        let contrast = 1.05 / (0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05);
        assert!(contrast >= 4.5 || colour == [255; 3], "type in {colour:?} on white");
    }
}

fn check_pieces(pieces: &[Value], sheets: &[Sheet]) {
    let (mut sheet, mut at) = (0, 0);
    for piece in pieces {
        let text = bare(piece["text"].as_str().unwrap());
        let later = sheets[sheet + 1..].iter().position(|sheet| sheet.text.contains(&text));
        if let Some(start) = sheets[sheet].text[at..].find(&text) {
            at += start + text.len();
        } else if let Some(ahead) = later {
            sheet += 1 + ahead;
            let start = sheets[sheet].text.find(&text).unwrap();
            // A row that begins a sheet follows its head.
            if let Some(head) = piece["head"].as_str() {
                let before = &sheets[sheet].text[..start];
                assert!(before.ends_with(&bare(head)), "sheet {}: no head for {text}", sheet + 1);
            }
            at = start + text.len();
        } else {
            panic!("no sheet from {} on holds this whole: {text}", sheet + 1);
        }
    }
}

/// Reads grey pictures of all sheets (netpbm's binary PGM) and checks their edges.
fn check_white(mut pixels: &[u8], sheets: usize) {
    let mut seen = 0;
    while !pixels.is_empty() {
        let header: Vec<_> = pixels.splitn(4, |&byte| byte == b'\n').collect();
        let sizes = std::str::from_utf8(header[1]).unwrap();
        let (width, height) = sizes.split_once(' ').unwrap();
        let (width, height): (usize, usize) = (width.parse().unwrap(), height.parse().unwrap());
        assert_eq!((header[0], header[2]), (&b"P5"[..], &b"255"[..]));
        let (picture, rest) = header[3].split_at(width * height);
        let rows: Vec<_> = picture.chunks(width).collect();
        seen += 1;
        assert!(rows[0].iter().chain(rows[height - 1]).all(|&grey| grey == 255), "sheet {seen}");
        assert!(rows.iter().all(|row| row[0] == 255 && row[width - 1] == 255), "sheet {seen}");
        let white = picture.iter().filter(|&&grey| grey > 200).count();
        assert!(white * 2 > picture.len(), "sheet {seen} is dark");
        pixels = rest;
    }
    assert_eq!(seen, sheets);
}
