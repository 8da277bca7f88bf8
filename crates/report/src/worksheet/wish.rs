//! What a worksheet lets people practise, and by which looks its puzzles are solved.

use tallyhouse_analysis::Rulebook;
use tallyhouse_engine::{Look, OpenCounts, Order, Shape, Subset};
use tallyhouse_words::{list, number_word, set_name, set_names};

/// What is practised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Practice {
    /// What a look finds.
    Look(Look),
    /// Subsets of a shape.
    Shape(Shape),
    /// Whatever the rulebook looks for.
    Rulebook,
}

/// What is practised, and the looks that solve the puzzles: nothing harder is needed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wish {
    practice: Practice,
    order: Order,
}

/// A wish that no puzzle can fulfil.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoSuchWish {
    /// The look is not one for subsets, or its subsets would be singles from the other side.
    #[error(
        "found the look '{0}', expected one for subsets with at least two cells on either side, as in \
         'hidden 2'"
    )]
    Look(Look),
    /// A side of the shape is a single.
    #[error("found the shape '{0}', expected at least two cells on either side")]
    Shape(Shape),
    /// The rulebook never finds what is wanted.
    #[error("rulebook {rulebook} finds no {wanted}: choose another, or leave --rulebook out")]
    Rulebook {
        /// Its name.
        rulebook: String,
        /// What is wanted, in the plural.
        wanted: String,
    },
}

impl Wish {
    /// Takes what is to be practised, and the rulebook that solves the puzzles; without one, the ladder
    /// up to the look that finds what is wanted.
    ///
    /// # Errors
    /// If no quiet position can show it, or the rulebook does not find it.
    pub fn new(practice: Practice, rulebook: Option<&Rulebook>) -> Result<Self, NoSuchWish> {
        match practice {
            Practice::Look(look) if !Shape::all_quiet().any(|shape| look.covers(shape)) => {
                return Err(NoSuchWish::Look(look));
            }
            Practice::Shape(shape) if !Shape::all_quiet().any(|quiet| quiet == shape) => {
                return Err(NoSuchWish::Shape(shape));
            }
            _ => {}
        }
        let order = rulebook.map_or_else(|| ladder_up_to(practice), |book| book.order().clone());
        let wish = Self { practice, order };
        let is_sought = |shape: Shape| wish.order.looks().iter().any(|look| look.covers(shape));
        if !Shape::all_quiet().any(|shape| practice.shows(shape) && is_sought(shape)) {
            let rulebook = rulebook.map_or_else(String::new, |book| book.name().to_owned());
            return Err(NoSuchWish::Rulebook { rulebook, wanted: wish.plural() });
        }
        Ok(wish)
    }

    /// Returns the looks that solve the puzzles.
    #[must_use]
    pub const fn order(&self) -> &Order {
        &self.order
    }

    /// Returns these looks without what is practised, at every open count and on both sides; `None` if
    /// none is left.
    #[must_use]
    pub fn order_without(&self) -> Option<Order> {
        let mut left_out = Shape::all_quiet().filter(|shape| match self.practice.kind() {
            Some(kind) => kind.covers(*shape),
            None => true,
        });
        left_out.try_fold(self.order.clone(), |order, shape| order.without(shape))
    }

    /// Returns the looks before those for what is practised: they alone must not do. `None` if there is
    /// none.
    #[must_use]
    pub fn order_before(&self) -> Option<Order> {
        let looks = self.order.looks();
        let kind =
            self.practice.kind().filter(|kind| looks.iter().any(|l| l.everywhere() == *kind));
        let is_practised = |look: &Look| match kind {
            Some(kind) => look.everywhere() == kind,
            None => {
                Shape::all_quiet().any(|shape| self.practice.shows(shape) && look.covers(shape))
            }
        };
        Order::new(looks.iter().copied().take_while(|look| !is_practised(look)).collect()).ok()
    }

    /// Returns the look that is asked for where it finds the subset; `None` if it is not wanted.
    #[must_use]
    pub fn look_for(&self, subset: &Subset) -> Option<Look> {
        let finds = |look: &Look| look.finds(subset);
        match self.practice {
            Practice::Look(look) => Some(look).filter(finds),
            Practice::Shape(shape) => {
                Some(smaller_side(shape)).filter(|_| subset.shape() == shape).filter(finds)
            }
            Practice::Rulebook => {
                let found = Shape::all_quiet().any(|shape| shape == subset.shape());
                self.order.looks().iter().copied().find(finds).filter(|_| found)
            }
        }
    }

    /// Names what is practised, many of them: `hidden pairs`.
    #[must_use]
    pub fn plural(&self) -> String {
        match self.practice {
            Practice::Look(look) => plural(look),
            Practice::Shape(shape) => {
                let open = number_word(shape.open());
                format!("{} with {open} open cells", plural(smaller_side(shape)))
            }
            Practice::Rulebook => "subsets".to_owned(),
        }
    }

    /// Names what is left out to show that it is needed, many of them.
    #[must_use]
    pub fn kind_plural(&self) -> String {
        self.practice.kind().map_or_else(|| "subsets".to_owned(), plural)
    }

    /// Lists the looks that solve the puzzles.
    #[must_use]
    pub fn order_words(&self) -> String {
        let looks = self.order.looks().iter().map(|look| plural(*look));
        list(looks)
    }
}

impl Practice {
    /// Tests if a split of this shape is wanted.
    fn shows(self, shape: Shape) -> bool {
        match self {
            Self::Look(look) => look.covers(shape),
            Self::Shape(wanted) => shape == wanted,
            Self::Rulebook => true,
        }
    }

    /// Returns the look that finds all of the kind, whatever the open cells; `None` for all subsets.
    fn kind(self) -> Option<Look> {
        match self {
            Self::Look(look) => Some(look.everywhere()),
            Self::Shape(shape) => Some(smaller_side(shape)),
            Self::Rulebook => None,
        }
    }
}

/// Returns the rungs of the ladder up to the last that is needed to find all that is wanted.
fn ladder_up_to(practice: Practice) -> Order {
    let ladder = Order::ladder();
    let rungs = ladder.looks();
    let first = |shape: Shape| rungs.iter().position(|look| look.covers(shape));
    let by_shape = Shape::all_quiet().filter(|shape| practice.shows(*shape)).filter_map(first);
    let own = practice.kind().and_then(|kind| rungs.iter().position(|look| *look == kind));
    let last = by_shape.chain(own).max().unwrap_or_default();
    // A part of an order that begins as it does is one.
    Order::new(rungs[..=last].to_vec()).unwrap_or(ladder)
}

/// Returns the look for the smaller side of a shape, of equal ones the naked.
fn smaller_side(shape: Shape) -> Look {
    let (naked, hidden) = (Look::naked(shape.naked()), Look::hidden(shape.hidden()));
    let look = if shape.naked() <= shape.hidden() { naked } else { hidden };
    look.unwrap_or(Look::Intersections)
}

/// Names what a look finds: `naked pairs`, `hidden triples (7..9 open cells)`.
fn plural(look: Look) -> String {
    named(look, set_names)
}

/// Names one that a look finds: `naked pair`.
pub(super) fn singular(look: Look) -> String {
    named(look.everywhere(), set_name)
}

fn named(look: Look, name: fn(u8) -> String) -> String {
    let (side, size) = match look {
        Look::Naked(size) => ("naked", size),
        Look::Hidden(size) => ("hidden", size),
        _ => return "box-line intersections".to_owned(),
    };
    match size.open() {
        OpenCounts::ALL => format!("{side} {}", name(size.get())),
        open => format!("{side} {} ({open} open cells)", name(size.get())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(text: &str) -> Practice {
        Practice::Look(text.parse().unwrap())
    }

    fn shape(open: u8, naked: u8) -> Practice {
        Practice::Shape(Shape::new(open, naked).unwrap())
    }

    #[test]
    fn nothing_harder_is_asked_than_what_is_practised() {
        for (practice, order) in [
            (look("naked 2"), "naked 1, hidden 1, naked 2"),
            (look("hidden 2"), "naked 1, hidden 1, naked 2, hidden 2"),
            (look("hidden 2 open 7..9"), "naked 1, hidden 1, naked 2, hidden 2"),
            (look("naked 3"), "naked 1, hidden 1, naked 2, hidden 2, naked 3"),
            // From the other side a hidden triple.
            (look("naked 5 open 8"), "naked 1, hidden 1, naked 2, hidden 2, naked 3, hidden 3"),
            (shape(6, 4), "naked 1, hidden 1, naked 2, hidden 2"),
            (shape(6, 2), "naked 1, hidden 1, naked 2"),
            (shape(9, 4), "naked 1, hidden 1, naked 2, hidden 2, naked 3, hidden 3, naked 4"),
        ] {
            let wish = Wish::new(practice, None).unwrap();
            assert_eq!(wish.order().to_string(), order, "{practice:?}");
        }
    }

    #[test]
    fn what_is_practised_is_left_out_at_every_open_count_and_on_both_sides() {
        let without = |practice| {
            let book = Rulebook::load("full-ladder").unwrap();
            let wish = Wish::new(practice, Some(&book)).unwrap();
            wish.order_without().unwrap().to_string()
        };
        // Four open cells: a naked pair; five: a naked triple; six: a naked quad.
        let no_hidden_pairs = "naked 1, hidden 1, naked 2 open 1..3 and 5..9, \
            hidden 2 open 1..3, naked 3 open 1..4 and 6..9, hidden 3, naked 4 open 1..5 and 7..9, \
            hidden 4";
        for practice in [look("hidden 2"), look("hidden 2 open 7"), shape(8, 6)] {
            assert_eq!(without(practice), no_hidden_pairs, "{practice:?}");
        }
        for shape in Shape::all_quiet() {
            let rest: Order = without(Practice::Rulebook).parse().unwrap();
            assert!(!rest.looks().iter().any(|look| look.covers(shape)), "{shape}: {rest}");
        }
    }

    #[test]
    fn looks_before_what_is_practised_are_easier() {
        for (practice, before) in [
            (look("hidden 2"), "naked 1, hidden 1, naked 2"),
            (look("hidden 2 open 7..9"), "naked 1, hidden 1, naked 2"),
            (shape(6, 4), "naked 1, hidden 1, naked 2"),
            (shape(4, 2), "naked 1, hidden 1"),
            // From the other side a hidden triple.
            (look("naked 5 open 8"), "naked 1, hidden 1, naked 2, hidden 2, naked 3"),
        ] {
            let wish = Wish::new(practice, None).unwrap();
            assert_eq!(wish.order_before().unwrap().to_string(), before, "{practice:?}");
        }
    }

    #[test]
    fn wishes_that_no_puzzle_fulfils_are_refused() {
        let refused = |practice, book: Option<&str>| {
            let book = book.map(|name| Rulebook::load(name).unwrap());
            Wish::new(practice, book.as_ref()).unwrap_err().to_string()
        };
        assert!(refused(look("naked 1"), None).contains("at least two cells on either side"));
        assert!(refused(look("intersections"), None).contains("'intersections'"));
        assert!(refused(look("naked 2 open 3"), None).contains("'naked 2 open 3'"));
        assert!(refused(shape(4, 3), None).contains("at least two cells"));
        let message = refused(look("hidden 4 open 9"), Some("up-to-triples"));
        assert!(message.contains("rulebook up-to-triples finds no hidden quads"), "{message}");
    }
}
