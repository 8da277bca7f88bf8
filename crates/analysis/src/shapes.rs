use std::fmt;

use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer};
use tallyhouse_engine::{Look, Size, Subset};

/// Splits told by their sizes: an open count and the size of one side.
///
/// `naked 4 open 6..7` stands for the proper subsets with a naked side of four cells in houses of
/// six or seven open cells, `hidden 4 open 6..7` for those with a hidden side of four; proper means
/// proper on either side. A shape says what there is, a look what is found.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(try_from = "Vec<SideText>")]
pub struct Shapes {
    sizes: Vec<Look>,
    /// By open count and naked size.
    table: [[bool; 10]; 10],
}

impl Shapes {
    /// Takes naked and hidden sizes; `None` for intersections, or if there is none.
    #[must_use]
    pub fn new(sizes: &[Look]) -> Option<Self> {
        let sides = sizes.iter().map(|&look| Some((look, look.size()?)));
        sides.collect::<Option<Vec<_>>>().filter(|sides| !sides.is_empty()).map(Self::of_sides)
    }

    fn of_sides(sides: Vec<(Look, Size)>) -> Self {
        let mut table = [[false; 10]; 10];
        for &(look, size) in &sides {
            for open in size.open().counts().filter(|&open| open > size.get()) {
                let is_naked = matches!(look, Look::Naked(_));
                let naked = if is_naked { size.get() } else { open - size.get() };
                table[usize::from(open)][usize::from(naked)] = true;
            }
        }
        Self { sizes: sides.into_iter().map(|(look, _)| look).collect(), table }
    }

    /// Iterates over what is meant, as open counts and naked sizes.
    pub fn iter(&self) -> impl Iterator<Item = (u8, u8)> + '_ {
        let all = (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
        all.filter(|&(open, naked)| self.contains(open, naked))
    }

    /// Tests if a split of this open count and naked size is meant.
    #[must_use]
    pub fn contains(&self, open: u8, naked: u8) -> bool {
        let row = self.table.get(usize::from(open));
        row.and_then(|row| row.get(usize::from(naked))).copied().unwrap_or(false)
    }

    /// Tests if a subset has such a shape and is proper.
    #[must_use]
    pub fn includes(&self, subset: &Subset) -> bool {
        subset.is_proper() && self.contains(subset.open, subset.naked)
    }

    /// Tests if a house of this open count can hold such a split.
    #[must_use]
    pub fn fits(&self, open: usize) -> bool {
        self.table.get(open).is_some_and(|row| row.contains(&true))
    }
}

/// One side of a split, as in `naked 4 open 8`.
struct SideText(Look, Size);

impl<'de> Deserialize<'de> for SideText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_str(SideVisitor)
    }
}

/// Reads while the text is at hand, so that an error is that of its line in a list of several.
struct SideVisitor;

impl Visitor<'_> for SideVisitor {
    type Value = SideText;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a string as in \"naked 4 open 8\"")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<SideText, E> {
        read_side(text).map(|(look, size)| SideText(look, size)).map_err(E::custom)
    }
}

impl TryFrom<Vec<SideText>> for Shapes {
    type Error = &'static str;

    fn try_from(sides: Vec<SideText>) -> Result<Self, Self::Error> {
        if sides.is_empty() {
            return Err("found an empty list, expected shapes as in [\"naked 4 open 8\"]");
        }
        Ok(Self::of_sides(sides.into_iter().map(|SideText(look, size)| (look, size)).collect()))
    }
}

/// Reads a look that has a size.
pub(crate) fn read_side(text: &str) -> Result<(Look, Size), String> {
    let look = text.parse::<Look>().map_err(|error| error.to_string())?;
    let side = look.size().map(|size| (look, size));
    side.ok_or_else(|| format!("found '{look}', expected 'naked K' or 'hidden K'"))
}

impl fmt::Display for Shapes {
    /// Writes the sizes, joined by "or".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sizes: Vec<String> = self.sizes.iter().map(Look::to_string).collect();
        f.pad(&sizes.join(" or "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shapes(texts: &[&str]) -> Option<Shapes> {
        let looks: Vec<Look> = texts.iter().map(|text| text.parse::<Look>().unwrap()).collect();
        Shapes::new(&looks)
    }

    #[test]
    fn a_shape_may_be_named_from_either_side() {
        assert_eq!(
            shapes(&["naked 2 open 6"]).unwrap().table,
            shapes(&["hidden 4 open 6"]).unwrap().table
        );
        let quads = shapes(&["naked 4 open 5..7", "hidden 4 open 5..7"]).unwrap();
        let meant: Vec<_> = (2..=9u8)
            .flat_map(|open| (1..open).map(move |naked| (open, naked)))
            .filter(|&(open, naked)| quads.contains(open, naked))
            .collect();
        assert_eq!(meant, [(5, 1), (5, 4), (6, 2), (6, 4), (7, 3), (7, 4)]);
        assert!(quads.fits(7) && !quads.fits(8));
        assert_eq!(quads.to_string(), "naked 4 open 5..7 or hidden 4 open 5..7");
    }

    #[test]
    fn a_side_leaves_a_cell_for_the_other() {
        let pairs = shapes(&["hidden 2"]).unwrap();
        assert!(pairs.contains(3, 1) && pairs.contains(9, 7) && !pairs.contains(2, 0));
        assert_eq!(shapes(&[]), None);
        assert_eq!(shapes(&["intersections"]), None);
    }
}
