//! How the cells of a position are marked: sides of a split, pencil marks, removed candidates.

use tallyhouse_board::DigitSet;

use crate::canvas::{Anchor, Area, Canvas, Paint, Type};
use crate::theme::{Look, SMALL_SIZE};

/// A side of a split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Naked,
    Hidden,
}

impl Side {
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Naked => "naked",
            Self::Hidden => "hidden",
        }
    }
}

/// The pencil marks of a cell.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct PencilMarks {
    pub(crate) digits: DigitSet,
    /// The digits that the split speaks of.
    pub(crate) strong: DigitSet,
    pub(crate) removed: DigitSet,
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
            draw_removed_box(canvas, look, place);
        }
        let (x, middle) = place.centre();
        canvas.text(&digit.to_string(), x, how.base_line(middle), how);
        if removed {
            strike(canvas, look, place);
        }
    }
}

pub(crate) fn draw_removed_box(canvas: &mut Canvas, look: &Look, place: Area) {
    canvas.rectangle("removed-box", place.grown(-0.2), Paint::fill(look.removed));
}

pub(crate) fn strike(canvas: &mut Canvas, look: &Look, place: Area) {
    let ends = [(place.left + 0.4, place.bottom - 0.4), (place.right - 0.4, place.top + 0.4)];
    canvas.line("removed", &ends, Paint::line(look.removed_ink, 0.8));
}
