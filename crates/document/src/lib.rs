//! A report as plain data, written as one self-contained web page or as Markdown.
//!
//! This crate lays out what others have found: every text and every number arrives as it is to be
//! read. Texts are plain, never markup: `<`, `|` or `*` in a label stay what they are. The page needs
//! no network, no font and no script; the script only sorts tables. Pictures are part of the page, each
//! with its text alternative, and are trusted: they are to be SVG that escapes its texts.
//!
//! Same document, same bytes.
#![forbid(unsafe_code)]

mod check;
mod error;
mod html;
mod layout;
mod link;
mod markdown;
mod model;
mod numbering;
mod picture;
mod text;

pub use error::DocumentError;
pub use html::to_html;
pub use layout::Extent;
pub use markdown::to_markdown;
pub use model::{
    Block, Cell, Column, Document, Illustration, Note, NoteKind, Plate, Section, Span, Specimen,
    Table, Verdict,
};
pub use tallyhouse_words::Outcome;
pub use text::to_text;
