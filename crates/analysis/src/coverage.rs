use std::fmt;

use serde::Serialize;
use tallyhouse_engine::effort::due_with;
use tallyhouse_engine::{Look, Order, Shape};

/// What an order of looks searches for, shape by shape; needs no data.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Coverage {
    /// The shapes with 2 ≤ open ≤ 9 and 1 ≤ naked < open, in rising order.
    pub shapes: Vec<ShapeCoverage>,
    /// If houses of every open count are searched for singles, be it naked or hidden ones.
    #[serde(skip)]
    places_singles: bool,
}

/// Which looks find the subsets of one shape.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ShapeCoverage {
    /// The open count of the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// The size of the hidden side.
    pub hidden: u8,
    /// The looks that find naked-proper subsets, in order.
    pub naked_looks: Vec<String>,
    /// The looks that find hidden-proper subsets, in order.
    pub hidden_looks: Vec<String>,
    #[serde(skip)]
    shape: Shape,
}

impl ShapeCoverage {
    fn of(looks: &[Look], shape: Shape) -> Self {
        let covering = looks.iter().filter(|look| look.covers(shape));
        let (naked, hidden): (Vec<&Look>, _) =
            covering.partition(|look| matches!(look, Look::Naked(_)));
        let texts = |looks: Vec<&Look>| looks.into_iter().map(Look::to_string).collect();
        Self {
            open: shape.open(),
            naked: shape.naked(),
            hidden: shape.hidden(),
            naked_looks: texts(naked),
            hidden_looks: texts(hidden),
            shape,
        }
    }

    /// Returns the shape in its short form.
    #[must_use]
    pub fn name(&self) -> String {
        self.shape.to_string()
    }

    /// Tests if no look finds the shape on either side.
    #[must_use]
    pub fn is_gap(&self) -> bool {
        self.naked_looks.is_empty() && self.hidden_looks.is_empty()
    }
}

impl Coverage {
    /// Works out what an order covers.
    #[must_use]
    pub fn of(order: &Order) -> Self {
        let of = |shape| ShapeCoverage::of(order.looks(), shape);
        let is_placed = |open: u8| {
            order
                .looks()
                .iter()
                .any(|look| look.size().is_some_and(|size| size.get() == 1 && size.covers(open)))
        };
        Self { shapes: Shape::all().map(of).collect(), places_singles: (1..=9).all(is_placed) }
    }

    /// Tests if the looks before it leave nothing that a look could find where it is due in houses of
    /// this open count: all of them have failed in every house then.
    #[must_use]
    pub fn forestalls(order: &Order, look: Look, open: u8) -> bool {
        let due = due_with(order, &[look], open);
        let before = due.and_then(|due| Order::new(order.looks()[..due].to_vec()).ok());
        let size = look.size().map_or(0, |size| size.get());
        let naked = if matches!(look, Look::Naked(_)) { size } else { open.saturating_sub(size) };
        before.is_some_and(|before| Self::of(&before).clears(open, naked))
    }

    /// Tests if no subset of a shape can be left where a walk by this order ends, be it proper or not.
    ///
    /// A look that finds nothing in a house of its range leaves subsets of its size there only if
    /// they hold a smaller tight set T. Either T has eliminations and is a subset itself, or it has
    /// none and the rest S∖T is a subset with the same eliminations. So a shape is cleared if a look
    /// covers it and every smaller size on that side, in houses of the same open count, is cleared
    /// too. Only houses at the end matter: on the way there they may have had other open counts.
    #[must_use]
    pub fn clears(&self, open: u8, naked: u8) -> bool {
        (2..=9).contains(&open)
            && (1..open).contains(&naked)
            && self.cleared(open)[usize::from(naked)]
    }

    /// Returns by naked size what is cleared in houses of this open count.
    fn cleared(&self, open: u8) -> [bool; 10] {
        let mut cleared = [false; 10];
        let of_open: Vec<&ShapeCoverage> = self.shapes.iter().filter(|s| s.open == open).collect();
        // What is cleared from one side may clear more from the other.
        loop {
            let more = of_open.iter().find(|shape| {
                let naked = usize::from(shape.naked);
                let (smaller, larger) = (&cleared[1..naked], &cleared[naked + 1..open.into()]);
                let from_naked = !shape.naked_looks.is_empty() && !smaller.contains(&false);
                let from_hidden = !shape.hidden_looks.is_empty() && !larger.contains(&false);
                !cleared[naked] && (from_naked || from_hidden)
            });
            match more {
                Some(shape) => cleared[usize::from(shape.naked)] = true,
                None => return cleared,
            }
        }
    }

    /// Tests if a walk by this order ends where the full ladder's does, or further on.
    ///
    /// Where every shape is cleared, the digit of a cell with one candidate has no other place, so
    /// either look for singles finds it. Then no look of the ladder finds anything. The ladder can't have removed more: its first removal that the other
    /// walk lacks would still be there to find, because tight sets stay tight as candidates go.
    #[must_use]
    pub fn clears_all(&self) -> bool {
        let shapes = self.shapes.iter();
        self.places_singles && shapes.clone().all(|shape| self.clears(shape.open, shape.naked))
    }

    /// Iterates over the shapes that no look finds on either side.
    pub fn gaps(&self) -> impl Iterator<Item = &ShapeCoverage> {
        self.shapes.iter().filter(|shape| shape.is_gap())
    }
}

impl fmt::Display for Coverage {
    /// Draws a grid for a terminal: open counts down, naked sizes across.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "          cells on the naked side")?;
        writeln!(f, "open       1   2   3   4   5   6   7   8")?;
        for open in 2..=9 {
            write!(f, "{open:<8}")?;
            for shape in self.shapes.iter().filter(|shape| shape.open == open) {
                let mark = match (shape.naked_looks.is_empty(), shape.hidden_looks.is_empty()) {
                    (false, false) => "nh",
                    (false, true) => "n",
                    (true, false) => "h",
                    (true, true) => "--",
                };
                write!(f, "{mark:>4}")?;
            }
            writeln!(f)?;
        }
        writeln!(f, "n: found from the naked side, h: from the hidden side, --: by no look")
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use tallyhouse_board::{DigitSet, House, PlaceSet};
    use tallyhouse_engine::{HouseSplits, Subset};

    use super::*;
    use crate::Rulebook;

    fn coverage(name: &str) -> Coverage {
        Coverage::of(Rulebook::load(name).unwrap().order())
    }

    fn of_shape(coverage: &Coverage, open: u8, naked: u8) -> &ShapeCoverage {
        coverage.shapes.iter().find(|shape| (shape.open, shape.naked) == (open, naked)).unwrap()
    }

    /// Tests if some look finds a subset, going by its shape and the sides on which it is proper.
    fn finds(coverage: &Coverage, subset: &Subset) -> bool {
        let shape = of_shape(coverage, subset.open, subset.naked);
        subset.naked_proper && !shape.naked_looks.is_empty()
            || subset.hidden_proper && !shape.hidden_looks.is_empty()
    }

    fn gaps(coverage: &Coverage) -> Vec<(u8, u8)> {
        coverage.gaps().map(|shape| (shape.open, shape.naked)).collect()
    }

    #[test]
    fn the_ladder_and_its_naked_form_have_no_gaps() {
        assert_eq!(gaps(&coverage("full-ladder")), []);
        assert_eq!(gaps(&coverage("naked-only")), []);
        assert!(coverage("naked-only").shapes.iter().all(|shape| !shape.naked_looks.is_empty()));
    }

    #[test]
    fn the_short_list_leaves_what_it_says() {
        // The hidden triples of houses with seven and nine open cells.
        let short = coverage("short-list");
        assert_eq!(gaps(&short), [(7, 4), (9, 6)]);
        assert_eq!(of_shape(&short, 8, 5).naked_looks, ["naked 5 open 8"]);
        assert_eq!(of_shape(&short, 8, 5).hidden_looks, [""; 0]);
        assert_eq!(of_shape(&short, 9, 4).hidden_looks, ["hidden 5 open 9"]);
        assert_eq!(gaps(&coverage("up-to-triples")), [(8, 4), (9, 4), (9, 5)]);
    }

    #[test]
    fn a_shape_is_cleared_only_if_nothing_smaller_can_hide_in_it() {
        let cleared = |looks: &[&str]| {
            let looks = looks.iter().map(|text| text.parse::<Look>().unwrap()).collect();
            let coverage = Coverage::of(&Order::new(looks).unwrap());
            let all = (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
            let cleared = all.filter(|&(open, naked)| coverage.clears(open, naked));
            (cleared.collect::<Vec<_>>(), coverage.clears_all())
        };
        // A triple may hold a pair that nobody looks for; without singles nothing is cleared.
        let of_four = ["naked 1 open 4", "naked 3 open 4"];
        assert_eq!(cleared(&of_four), (vec![(4, 1)], false));
        assert_eq!(cleared(&["naked 2", "hidden 2", "naked 3"]).0, []);
        let of_four = ["naked 1 open 4", "naked 2 open 4", "naked 3 open 4"];
        assert_eq!(cleared(&of_four), (vec![(4, 1), (4, 2), (4, 3)], false));
        // A hidden triple of four is a naked single: what one side clears serves the other.
        let both = ["hidden 1 open 4", "hidden 2 open 4", "hidden 3 open 4"];
        assert_eq!(cleared(&both).0, [(4, 1), (4, 2), (4, 3)]);
        let crossed = ["hidden 1 open 4", "naked 1 open 4", "naked 2 open 4"];
        assert_eq!(cleared(&crossed).0, [(4, 1), (4, 2), (4, 3)]);
        // A gap on either side of a size stops both.
        let gap = ["hidden 1 open 5", "naked 1 open 5", "hidden 3 open 5"];
        assert_eq!(cleared(&gap).0, [(5, 1), (5, 4)]);
        assert!(
            cleared(&["naked 1", "hidden 1", "naked 2", "hidden 2", "naked 3", "hidden 3"]).0.len()
                == 33
        );
        assert!(coverage("full-ladder").clears_all() && coverage("naked-only").clears_all());
        assert!(!coverage("short-list").clears_all());
        assert!(!coverage("full-ladder").clears(1, 1) && !coverage("full-ladder").clears(4, 4));
        // Every shape cleared, but no single is placed in houses with one open cell.
        let ladder: Vec<String> = (2..=4)
            .flat_map(|size| [format!("naked {size}"), format!("hidden {size}")])
            .chain(["naked 1 open 2..9".to_owned(), "hidden 1 open 2..9".to_owned()])
            .collect();
        let ladder: Vec<&str> = ladder.iter().map(String::as_str).collect();
        assert_eq!((cleared(&ladder).0.len(), cleared(&ladder).1), (36, false));
    }

    #[test]
    fn the_grid_shows_every_shape() {
        let grid = coverage("short-list").to_string();
        let lines: Vec<&str> = grid.lines().collect();
        assert_eq!(lines[2], "2         nh");
        assert_eq!(lines[7], "7          n   n   n  --   h   h");
        assert_eq!(lines[9], "9          n   n   n  nh  nh  --   h   h");
        assert_eq!(serde_json::to_value(coverage("short-list")).unwrap()["shapes"][0]["open"], 2);
    }

    /// Digits by place, bit 0 first; 0 for a fixed cell.
    type Cells = [u16; 9];

    fn union(cells: &Cells, set: u16) -> u32 {
        let places = (0..9).filter(|place| set >> place & 1 == 1);
        places.fold(0, |union, place| union | cells[place]).count_ones()
    }

    /// What a look finds, straight from the definitions: as many cells as it says, with as many
    /// digits and something to remove, without a smaller such set inside or a larger one around.
    fn found(cells: &Cells, look: Look) -> Vec<u16> {
        let open =
            (0..9).filter(|&place| cells[place] != 0).fold(0, |set, place| set | 1u16 << place);
        let count = open.count_ones() as u8;
        let is_tight = |set: u16| {
            set & !open == 0 && set != 0 && set != open && union(cells, set) == set.count_ones()
        };
        let removes = |set: u16| {
            let digits =
                (0..9).filter(|place| set >> place & 1 == 1).fold(0, |d, place| d | cells[place]);
            (0..9).any(|place| set >> place & 1 == 0 && cells[place] & digits != 0)
        };
        let all = 1..512u16;
        let fits = |&set: &u16| match look {
            Look::Naked(size) => {
                size.covers(count)
                    && set.count_ones() == u32::from(size.get())
                    && !(1..set).any(|inner| inner & !set == 0 && is_tight(inner))
            }
            Look::Hidden(size) => {
                size.covers(count)
                    && (open & !set).count_ones() == u32::from(size.get())
                    && !(set + 1..512).any(|outer| set & !outer == 0 && is_tight(outer))
            }
            _ => false,
        };
        all.filter(|&set| is_tight(set) && removes(set)).filter(fits).collect()
    }

    /// Compares coverage with brute force; returns how many subsets were compared, and how many of
    /// them no look finds.
    fn compare(cells: &Cells, orders: &[(Order, Coverage)]) -> [usize; 2] {
        let candidates = cells.map(DigitSet::from_bits_truncate);
        let open: PlaceSet = (0..9).filter(|&place| cells[place] != 0).collect();
        let Ok(splits) = HouseSplits::of_cells(open, &candidates) else { return [0, 0] };
        let proper: Vec<Subset> = splits.subsets(House::row(0)).filter(Subset::is_proper).collect();
        let mut counts = [0, 0];
        for (order, coverage) in orders.iter().filter(|_| !proper.is_empty()) {
            let mut all_found = Vec::new();
            for &look in order.looks() {
                all_found.extend(found(cells, look));
            }
            for subset in &proper {
                let expected = all_found.contains(&subset.cells.bits());
                assert_eq!(finds(coverage, subset), expected, "{cells:?} {subset:?} {order}");
                counts[0] += 1;
                counts[1] += usize::from(!expected);
            }
        }
        counts
    }

    fn orders() -> Vec<(Order, Coverage)> {
        let one_sided = Order::new(
            ["naked 1", "hidden 2 open 4..5", "naked 3 open 6", "hidden 4"]
                .map(|text| text.parse().unwrap())
                .to_vec(),
        );
        let books = Rulebook::built_in().map(|name| Rulebook::load(name).unwrap().order().clone());
        let all = books.chain([one_sided.unwrap()]);
        all.map(|order| (order.clone(), Coverage::of(&order))).collect()
    }

    #[test]
    fn coverage_agrees_with_brute_force_on_every_house_of_three() {
        let orders = orders();
        let mut compared = 0;
        for code in 0..7 * 7 * 7u16 {
            let mut cells = [0; 9];
            cells[1] = code % 7 + 1;
            cells[4] = code / 7 % 7 + 1;
            cells[5] = code / 49 + 1;
            compared += compare(&cells, &orders)[0];
        }
        assert!(compared > 100, "{compared}");
    }

    #[test]
    fn coverage_agrees_with_brute_force_on_random_houses() {
        let orders = orders();
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let mut counts = [[0; 2]; 10];
        while counts[4..].iter().any(|[compared, _]| *compared < 2000) {
            let open = random.random_range(4..=9usize);
            let mut cells = [0; 9];
            // A hidden solution keeps most houses possible; few candidates make tight sets.
            let density = random.random_range(2..7u32);
            for (place, cell) in cells.iter_mut().enumerate().take(open) {
                *cell = 1 << place;
                for digit in 0..open {
                    *cell |= u16::from(random.random_range(0..10u32) < density) << digit;
                }
            }
            let more = compare(&cells, &orders);
            counts[open][0] += more[0];
            counts[open][1] += more[1];
        }
        // Both answers occur where there are gaps.
        assert!(counts[7][1] > 0 && counts[9][1] > 0, "{counts:?}");
    }
}
