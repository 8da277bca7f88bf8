//! How the cells of a position are marked: sides of a split, pencil marks, removed candidates.

use tallyhouse_board::DigitSet;

use crate::canvas::{Anchor, Area, Canvas, Paint, Type};
use crate::font::{CAP_HEIGHT, Weight, text_width};
use crate::theme::{Look, SMALL_SIZE, Side};

tallyhouse_words::choice! {
    /// The sides of a split that are marked.
    #[derive(Default)]
    pub enum Sides {
        /// The naked side alone.
        Naked,
        /// The hidden side alone.
        Hidden,
        /// Both sides.
        #[default]
        Both,
    }
}

impl Sides {
    /// Tests if a side is marked.
    #[must_use]
    pub const fn show(self, side: Side) -> bool {
        matches!(
            (self, side),
            (Self::Both, _) | (Self::Naked, Side::Naked) | (Self::Hidden, Side::Hidden)
        )
    }
}

/// The pencil marks of a cell.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct PencilMarks {
    pub(crate) digits: DigitSet,
    /// The digits that the split speaks of.
    pub(crate) strong: DigitSet,
    pub(crate) removed: DigitSet,
    /// The digits with a ring around them.
    pub(crate) ringed: DigitSet,
}

/// How far the outline of a side lies within its cell.
const INSET: f64 = 1.7;

/// Marks an area as a cell of a side: the naked one filled with a solid outline, the hidden one
/// with a dashed outline and no fill.
pub(crate) fn draw_side(canvas: &mut Canvas, look: &Look, side: Side, cell: Area) {
    let area = cell.grown(-INSET);
    match side {
        Side::Naked => {
            let fill = Paint { opacity: Some(look.naked_opacity), ..Paint::fill(look.naked_fill) };
            canvas.rectangle("naked", area, fill);
            canvas.rectangle("naked-outline", area, Paint::line(look.naked_line, 1.6));
        }
        Side::Hidden => {
            const DASH: Option<&str> = Some("4.5 2.5");
            if !look.reads(look.hidden_line) {
                canvas.rectangle("edge", area, Paint::line(look.ink, 2.6).dashed(DASH));
            }
            canvas.rectangle("hidden", area, Paint::line(look.hidden_line, 1.7).dashed(DASH));
        }
    }
}

/// Writes the pencil marks of a cell, each digit in its own place of three by three.
pub(crate) fn draw_pencil_marks(canvas: &mut Canvas, look: &Look, cell: Area, marks: PencilMarks) {
    let inner = cell.grown(-INSET - 1.2);
    let (width, height) = (inner.width() / 3.0, inner.height() / 3.0);
    let usual = Type::new((height * 0.92).max(SMALL_SIZE), look.ink).anchored(Anchor::Centre);
    for digit in marks.digits.iter() {
        let (row, column) = ((digit.index() / 3) as f64, (digit.index() % 3) as f64);
        let (left, top) = (inner.left + column * width, inner.top + row * height);
        let place = Area::new(left, top, left + width, top + height);
        let removed = marks.removed.contains(digit);
        let mut how = if marks.strong.contains(digit) { usual.bold() } else { usual };
        if removed {
            how.colour = look.removed_ink;
        }
        let at = place.centre();
        canvas.text(&digit.to_string(), at.0, how.base_line(at.1), how);
        if removed {
            strike(canvas, look, at);
        }
        if marks.ringed.contains(digit) {
            ring(canvas, look, at, how.size);
        }
    }
}

/// Draws a ring around a digit of this size, clear of it and of those beside it.
pub(crate) fn ring(canvas: &mut Canvas, look: &Look, at: (f64, f64), size: f64) {
    const WIDTH: f64 = 0.9;
    let corner = text_width("0", size, Weight::Regular).hypot(CAP_HEIGHT * size) / 2.0;
    canvas.circle("ring", at, corner + WIDTH * 0.6, Paint::line(look.ink, WIDTH));
}

/// Draws a short line through a removed digit, which stays clear of the digits beside it.
pub(crate) fn strike(canvas: &mut Canvas, look: &Look, (x, y): (f64, f64)) {
    const REACH: f64 = 3.6;
    let ends = [(x - REACH, y + REACH), (x + REACH, y - REACH)];
    canvas.line("removed", &ends, Paint::line(look.removed_ink, 1.0));
}
