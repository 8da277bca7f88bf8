//! The search for the least image: row by row, breadth first. Of all ways to choose the next row only
//! those that tie for the least stay.

use std::ops::Range;

use tallyhouse_board::{Clues, Digit, Frame};

use super::Canonical;
use super::lines::{Line, Lines};
use super::partial::{NEW, Partial};

/// More than any symbol.
const NO_SYMBOL: u8 = u8::MAX;

/// Finds the least image; `watch` hears after each row how many partial maps stay.
pub(super) fn least_image<F: Frame>(
    clues: &Clues<F>,
    mut watch: impl FnMut(usize),
) -> Canonical<F> {
    let directions = [Lines::new(clues, false), Lines::new(clues, true)];
    let mut partials = vec![Partial::<F>::start(false), Partial::start(true)];
    let mut level = Level { least: [NO_SYMBOL; Digit::COUNT], kept: Vec::new() };
    let mut form = Clues::BLANK;
    let first_row = directions[0].first_row().zip(directions[1].first_row());
    let first_row = first_row.map(|(one, other)| one.min(other));
    for row in 0..F::SIDE {
        level.least = [NO_SYMBOL; Digit::COUNT];
        level.kept.clear();
        for partial in &partials {
            let lines = &directions[usize::from(partial.transposed)];
            lines.next(partial.used, |index, line, orders| {
                let is_higher = |first_row: u32| line.digits_of_stacks::<F>() > first_row;
                if row == 0 && first_row.is_some_and(is_higher) || level.lacks_blanks(partial, line)
                {
                    return;
                }
                let mut partial = *partial;
                partial.used |= 1 << index;
                partial.orders *= orders;
                match partial.open_places() {
                    0 => level.extend_settled(partial, line),
                    _ => level.extend(partial, line, 0),
                }
            });
        }
        for (column, &symbol) in level.least[..F::SIDE].iter().enumerate() {
            form = form.with(row * F::SIDE + column, symbol);
        }
        std::mem::swap(&mut partials, &mut level.kept);
        watch(partials.len());
    }
    Canonical { form, automorphisms: partials.iter().map(Partial::size).sum() }
}

/// The partial maps that tie for the least row.
struct Level<F> {
    /// The least row so far; [`NO_SYMBOL`] where nothing is known yet.
    least: [u8; Digit::COUNT],
    kept: Vec<Partial<F>>,
}

impl<F: Frame> Level<F> {
    /// Compares the next symbol of a row that so far equals the least; false if it is above.
    fn offer(&mut self, place: usize, symbol: u8) -> bool {
        if symbol < self.least[place] {
            self.least[place] = symbol;
            self.least[place + 1..].fill(NO_SYMBOL);
            self.kept.clear();
        }
        symbol == self.least[place]
    }

    /// Tests at once if a line has too few blanks in each stack that may come first to be as low as
    /// the least row.
    fn lacks_blanks(&self, partial: &Partial<F>, line: &Line) -> bool {
        let first = partial.group(0);
        let wanted = self.least[first.clone()].iter().take_while(|&&symbol| symbol == 0).count();
        let is_blank = |place: &usize| line.digits[partial.column(*place)] == 0;
        let blanks = |stack: usize| {
            let places = first.clone().map(|place| stack * F::BOX + place);
            places.filter(is_blank).count()
        };
        partial.class(0).all(|stack| blanks(stack) < wanted)
    }

    /// Keeps a partial map whose columns are settled if this line is the least row.
    fn extend_settled(&mut self, mut partial: Partial<F>, line: &Line) {
        for place in 0..F::SIDE {
            let digit = line.digits[partial.column(place)];
            if partial.symbol(digit) == NEW {
                partial.give_label(digit, Some(place));
            }
            if !self.offer(place, partial.label(digit)) {
                return;
            }
        }
        self.kept.push(partial);
    }

    /// Keeps what of a partial map makes this line the least row, from a place on.
    fn extend(&mut self, mut partial: Partial<F>, line: &Line, mut place: usize) {
        while place < F::SIDE {
            let stack = place / F::BOX;
            let class = partial.class(stack);
            if place.is_multiple_of(F::BOX) && class.len() > 1 {
                let (first, all_alike) = least_stacks(&mut partial, line, class);
                if first.len() > 1 && !all_alike {
                    return self.extend_by_each_stack(&partial, line, first);
                }
                partial.start_class(first.end);
                if first.len() > 1 {
                    while place < first.end * F::BOX {
                        let group = partial.group(place);
                        place = group.end;
                        if !self.place_group(&mut partial, line, group) {
                            return;
                        }
                    }
                    continue;
                }
            }
            let group = partial.group(place);
            let blanks = partial.gather(line, 0, group.clone());
            if !blanks.is_empty() {
                partial.start_group(blanks.end);
                place = blanks.end;
                if !blanks.clone().all(|place| self.offer(place, 0)) {
                    return;
                }
            } else if group.len() > 1 && !is_sure(&partial, line, group.clone()) {
                return self.extend_by_each_digit(&partial, line, group);
            } else {
                if group.len() == 1 {
                    partial.settle(line.digits[partial.column(place)]);
                }
                place = group.end;
                if !self.place_group(&mut partial, line, group) {
                    return;
                }
            }
        }
        self.kept.push(partial);
    }

    fn extend_by_each_stack(&mut self, partial: &Partial<F>, line: &Line, stacks: Range<usize>) {
        for stack in stacks.clone() {
            let mut partial = *partial;
            partial.swap_stacks(stacks.start, stack);
            partial.start_class(stacks.start + 1);
            self.extend(partial, line, stacks.start * F::BOX);
        }
    }

    /// Lets each digit of a group without blanks come first.
    fn extend_by_each_digit(&mut self, partial: &Partial<F>, line: &Line, group: Range<usize>) {
        let digit_at = |place: usize| line.digits[partial.column(place)];
        let all_new = group.clone().all(|place| partial.label(digit_at(place)) == 0);
        for place in group.clone() {
            let digit = digit_at(place);
            let is_new = partial.label(digit) == 0;
            let seen = (group.start..place).any(|earlier| digit_at(earlier) == digit);
            if seen || (is_new && !all_new) {
                continue;
            }
            let mut partial = *partial;
            let mut places = partial.gather(line, digit, group.clone());
            partial.start_group(places.end);
            if is_new {
                partial.give_label(digit, None);
            } else {
                partial.settle(digit);
            }
            let next = places.end;
            if places.all(|place| self.offer(place, partial.label(digit))) {
                self.extend(partial, line, next);
            }
        }
    }

    /// Places a group of which all symbols are sure; false if the row is above the least.
    fn place_group(&mut self, partial: &mut Partial<F>, line: &Line, group: Range<usize>) -> bool {
        let mut symbols = symbols(partial, line, group.clone());
        for end in group.clone().skip(1) {
            for place in (group.start + 1..=end).rev() {
                if symbols[place - 1] <= symbols[place] {
                    break;
                }
                symbols.swap(place - 1, place);
                partial.swap_places(place - 1, place);
            }
        }
        for place in group.clone() {
            if place > group.start && symbols[place - 1] != symbols[place] {
                partial.start_group(place);
            }
            let digit = line.digits[partial.column(place)];
            if symbols[place] == NEW {
                partial.give_label(digit, Some(place));
            }
            if !self.offer(place, partial.label(digit)) {
                return false;
            }
        }
        true
    }
}

/// The symbols at the places of a group, in the arrangement at hand.
fn symbols<F: Frame>(partial: &Partial<F>, line: &Line, group: Range<usize>) -> [u8; Digit::COUNT] {
    let mut symbols = [0; Digit::COUNT];
    for place in group {
        symbols[place] = partial.symbol(line.digits[partial.column(place)]);
    }
    symbols
}

/// Tests if the symbols of a group are the same in all arrangements.
fn is_sure<F: Frame>(partial: &Partial<F>, line: &Line, mut group: Range<usize>) -> bool {
    let open_places = partial.open_places();
    group.all(|place| {
        let digit = line.digits[partial.column(place)];
        // Where a new digit occurs twice in a row, its columns are not interchangeable with others.
        let decides_order = line.repeats && partial.symbol(digit) == NEW;
        !decides_order && !partial.is_bound(digit, open_places)
    })
}

/// Moves those stacks of a class to its front that may be the least there, and tests if they are all
/// alike.
fn least_stacks<F: Frame>(
    partial: &mut Partial<F>,
    line: &Line,
    class: Range<usize>,
) -> (Range<usize>, bool) {
    let start = class.start;
    let blanks = |partial: &Partial<F>, stack: usize| {
        let group = partial.group(stack * F::BOX);
        group.filter(|&place| line.digits[partial.column(place)] == 0).count()
    };
    // Blanks come first of all.
    let most = class.clone().map(|stack| blanks(partial, stack)).max();
    let mut end = start;
    for stack in class {
        if Some(blanks(partial, stack)) == most {
            partial.swap_stacks(end, stack);
            end += 1;
        }
    }
    let class = start..end;
    if class.len() == 1 {
        return (class, true);
    }
    let mut bounds = [Bounds::default(); Digit::COUNT];
    for stack in class.clone() {
        bounds[stack] = Bounds::new(partial, line, stack);
    }
    let limit = bounds[class.clone()].iter().map(|bounds| bounds.upper).min().unwrap_or(u32::MAX);
    let mut end = start;
    for stack in class {
        if bounds[stack].lower <= limit {
            bounds.swap(end, stack);
            partial.swap_stacks(end, stack);
            end += 1;
        }
    }
    let first = start..end;
    (first.clone(), bounds[first].iter().all(|bounds| bounds.sure))
}

/// Between which limits the symbols of a line in a stack lie, read as numbers.
#[derive(Clone, Copy, Default)]
struct Bounds {
    lower: u32,
    upper: u32,
    sure: bool,
}

impl Bounds {
    fn new<F: Frame>(partial: &Partial<F>, line: &Line, stack: usize) -> Self {
        let open_places = partial.open_places();
        let mut bounds = Self { sure: true, ..Self::default() };
        let mut place = stack * F::BOX;
        while place < (stack + 1) * F::BOX {
            let group = partial.group(place);
            place = group.end;
            let mut least = symbols(partial, line, group.clone());
            let mut most = least;
            for place in group.clone() {
                let digit = line.digits[partial.column(place)];
                if partial.is_bound(digit, open_places) {
                    (least[place], most[place]) = (1, NEW);
                    bounds.sure = false;
                }
                bounds.sure &= !(line.repeats && least[place] == NEW);
            }
            bounds.lower = append(bounds.lower, &mut least[group.clone()]);
            bounds.upper = append(bounds.upper, &mut most[group]);
        }
        bounds
    }
}

/// Appends symbols in ascending order to a number that has one of them per four bits.
fn append(number: u32, symbols: &mut [u8]) -> u32 {
    match symbols {
        [a, b] => (*a, *b) = (*a.min(b), *a.max(b)),
        [a, b, c] => {
            let (low, high) = (*a.min(b), *a.max(b));
            (*a, *b, *c) = (low.min(*c), high.min(*c).max(low), high.max(*c));
        }
        _ => symbols.sort_unstable(),
    }
    symbols.iter().fold(number, |number, &symbol| number << 4 | u32::from(symbol))
}
