//! What a drawing is made of, as a short text for snapshots.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::drawing::Drawing;
use crate::{Figure, Theme, Width};

/// Returns the size of a figure one column wide, its marks by class, and its texts in their order.
pub(crate) fn structure(figure: &dyn Figure) -> String {
    let drawing = Drawing::read(&figure.draw(Theme::Light, Width::Column).unwrap().svg).unwrap();
    let mut classes: BTreeMap<&str, usize> = BTreeMap::new();
    for mark in &drawing.marks {
        *classes.entry(&mark.class).or_default() += 1;
    }
    let mut text = format!("{} × {} units\n\n", drawing.frame.right, drawing.frame.bottom);
    for (class, count) in classes {
        let _ = writeln!(text, "{class}: {count}");
    }
    text.push('\n');
    // Pencil marks and other single digits stand in one line.
    let mut digits = String::new();
    for words in drawing.texts.iter().map(|text| text.words.as_str()).chain([""]) {
        if words.len() == 1 {
            digits.push_str(words);
            continue;
        }
        if !digits.is_empty() {
            let _ = writeln!(text, "{digits}");
            digits.clear();
        }
        let _ = writeln!(text, "{words}");
    }
    text
}
