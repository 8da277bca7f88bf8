//! Shapes by their numbers, as reports write them.

use tallyhouse_engine::Shape;

/// Writes a shape as tables, charts and lists do: `8 open: naked 5 | hidden 3`.
pub(crate) fn short(open: u8, naked: u8) -> String {
    named(open, naked, |shape| shape.to_string())
}

/// Writes a shape as sentences do, in the words of the trade.
pub(crate) fn in_prose(open: u8, naked: u8) -> String {
    named(open, naked, Shape::trade_words)
}

fn named(open: u8, naked: u8, write: impl Fn(Shape) -> String) -> String {
    // What was counted or compared is the shape of a split; anything else names itself.
    Shape::new(open, naked).map_or_else(|error| error.to_string(), write)
}
