use std::array;
use std::marker::PhantomData;
use std::ops::Range;

use tallyhouse_board::{Digit, Frame};

use super::lines::Line;

/// A digit of the rows placed so far that has no label yet, where a label is expected. It sorts behind
/// all labels.
pub(super) const NEW: u8 = 10;
/// The birthplace of labels that hang on no column.
const NOWHERE: u8 = 15;

/// A set of partial maps from the board to its image: all that the rows placed so far can't tell
/// apart.
///
/// Columns lie in groups, stacks in classes. Columns of a group may change places, and so may the
/// stacks of a class (whose groups are alike), without any effect on the rows placed. A label that
/// was given to a column of a group is born there: it follows the place, not the digit, so that
/// columns that change places exchange the labels born in them.
#[derive(Clone, Copy)]
pub(super) struct Partial<F> {
    /// The column of the board at each place, in one of the arrangements.
    columns: [u8; Digit::COUNT],
    /// The label of each digit in that arrangement, 0 for none yet.
    label: [u8; Digit::COUNT + 1],
    /// The digit of each label in that arrangement.
    digit: [u8; Digit::COUNT + 1],
    /// The place where each label was born.
    birthplace: [u8; Digit::COUNT + 1],
    /// How many labels are given.
    labels: u8,
    /// The places at which a group starts, and the end.
    group_starts: u16,
    /// The stacks at which a class starts, and the end.
    class_starts: u16,
    /// If the rows are columns of the board.
    pub(super) transposed: bool,
    /// The lines of the board placed so far.
    pub(super) used: u16,
    /// How many orders of the lines placed so far lead here.
    pub(super) orders: u32,
    frame: PhantomData<F>,
}

impl<F: Frame> Partial<F> {
    /// No row placed.
    pub(super) fn start(transposed: bool) -> Self {
        let ends_of_stacks = (0..=F::BOX).fold(0, |starts, stack| starts | 1 << (stack * F::BOX));
        Self {
            columns: array::from_fn(|place| place as u8),
            label: [0; Digit::COUNT + 1],
            digit: [0; Digit::COUNT + 1],
            birthplace: [NOWHERE; Digit::COUNT + 1],
            labels: 0,
            group_starts: ends_of_stacks,
            class_starts: 1 | 1 << F::BOX,
            transposed,
            used: 0,
            orders: 1,
            frame: PhantomData,
        }
    }

    /// The number of maps in the set.
    pub(super) fn size(&self) -> u32 {
        let runs = |starts: u16, end: usize| {
            let mut length = 0;
            (1..=end).fold(1, |product, place| {
                length = if starts >> (place - 1) & 1 == 1 { 1 } else { length + 1 };
                product * length
            })
        };
        self.orders * runs(self.group_starts, F::SIDE) * runs(self.class_starts, F::BOX)
    }

    #[inline]
    pub(super) fn column(&self, place: usize) -> usize {
        usize::from(self.columns[place])
    }

    #[inline]
    pub(super) fn label(&self, digit: u8) -> u8 {
        self.label[usize::from(digit)]
    }

    /// 0 for a blank, the label, or [`NEW`].
    #[inline]
    pub(super) fn symbol(&self, digit: u8) -> u8 {
        let label = self.label(digit);
        if label == 0 && digit != 0 { NEW } else { label }
    }

    /// The places of the group that starts here.
    #[inline]
    pub(super) fn group(&self, start: usize) -> Range<usize> {
        start..start + 1 + (self.group_starts >> (start + 1)).trailing_zeros() as usize
    }

    /// The stacks of the class that starts here.
    #[inline]
    pub(super) fn class(&self, start: usize) -> Range<usize> {
        start..start + 1 + (self.class_starts >> (start + 1)).trailing_zeros() as usize
    }

    #[inline]
    pub(super) fn start_group(&mut self, place: usize) {
        self.group_starts |= 1 << place;
    }

    #[inline]
    pub(super) fn start_class(&mut self, stack: usize) {
        self.class_starts |= 1 << stack;
    }

    /// The places whose column isn't settled yet.
    #[inline]
    pub(super) fn open_places(&self) -> u16 {
        let single_columns = self.group_starts & self.group_starts >> 1;
        let single_stacks = self.class_starts & self.class_starts >> 1;
        let stack = (1 << F::BOX) - 1;
        (0..F::BOX).fold(0, |open, index| {
            let settled = if single_stacks >> index & 1 == 1 { single_columns } else { 0 };
            open | (!settled & stack << (index * F::BOX))
        })
    }

    /// Tests if the label of a digit changes when columns change places.
    #[inline]
    pub(super) fn is_bound(&self, digit: u8, open_places: u16) -> bool {
        open_places >> self.birthplace[usize::from(self.label(digit))] & 1 == 1
    }

    /// Lets two columns of a group change places, or the columns of two stacks of a class.
    pub(super) fn swap_places(&mut self, one: usize, other: usize) {
        if one == other {
            return;
        }
        self.columns.swap(one, other);
        // Columns of a group got their labels in the same rows, hence pairwise in the same order.
        let mut partners = 1..=usize::from(self.labels);
        for label in 1..=usize::from(self.labels) {
            if usize::from(self.birthplace[label]) != one {
                continue;
            }
            let born = |&partner: &usize| usize::from(self.birthplace[partner]) == other;
            let Some(partner) = partners.find(born) else { return };
            self.digit.swap(label, partner);
            self.label[usize::from(self.digit[label])] = label as u8;
            self.label[usize::from(self.digit[partner])] = partner as u8;
        }
    }

    /// Lets two stacks of a class change places.
    pub(super) fn swap_stacks(&mut self, one: usize, other: usize) {
        if one != other {
            (0..F::BOX).for_each(|place| {
                self.swap_places(one * F::BOX + place, other * F::BOX + place);
            });
        }
    }

    /// Moves the columns of a group that hold a digit, or none, in a line to its front.
    pub(super) fn gather(&mut self, line: &Line, digit: u8, group: Range<usize>) -> Range<usize> {
        let mut end = group.start;
        for place in group.clone() {
            if line.digits[self.column(place)] == digit {
                self.swap_places(end, place);
                end += 1;
            }
        }
        group.start..end
    }

    /// Gives the next label to a digit, born at a place or nowhere.
    #[inline]
    pub(super) fn give_label(&mut self, digit: u8, place: Option<usize>) {
        self.labels += 1;
        let label = usize::from(self.labels);
        self.label[usize::from(digit)] = self.labels;
        self.digit[label] = digit;
        self.birthplace[label] = place.map_or(NOWHERE, |place| place as u8);
    }

    /// Settles the column in which the label of a digit was born, so that the label is the least
    /// possible.
    pub(super) fn settle(&mut self, digit: u8) {
        let birthplace =
            |partial: &Self| usize::from(partial.birthplace[usize::from(partial.label(digit))]);
        if birthplace(self) >= F::SIDE {
            return;
        }
        let stack = birthplace(self) / F::BOX;
        let first = last_start(self.class_starts, stack);
        self.swap_stacks(first, stack);
        self.start_class(first + 1);
        let place = birthplace(self);
        let first = last_start(self.group_starts, place);
        self.swap_places(first, place);
        self.start_group(first + 1);
    }
}

/// The start of the run that holds this member.
fn last_start(starts: u16, member: usize) -> usize {
    (starts & ((2 << member) - 1)).ilog2() as usize
}
