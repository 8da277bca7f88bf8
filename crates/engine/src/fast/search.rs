//! Counting solutions in sixteen lanes: each lane searches for the answer to one question, with
//! singles between the guesses.

use tallyhouse_board::{Cell, Clues, Digit, Frame9, Puzzle};

use super::instruction_set::{self, InstructionSet, Task};
use super::lanes::{Instructions, LANES, Planes};
use super::singles::{Board, Boards, Round};

/// A question about the solutions that have some clues.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Question {
    /// The clues; if a house repeats a digit, there is no solution.
    pub clues: Clues<Frame9>,
    /// A digit that the cell may not hold in a solution that counts. Where it is given there, the
    /// given is taken away: is there another solution without it?
    pub except: Option<(Cell, Digit)>,
    /// The search stops when so many solutions are found.
    pub limit: u32,
}

/// What the search for one question found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// The number of solutions found, at most the limit.
    pub solutions: u32,
    /// False if the search was given up after [`MOST_GUESSES`]: there may be more solutions.
    pub complete: bool,
}

/// How many guesses a search may take: some seconds. Minimal puzzles take a few; only boards made to
/// be hard come near.
pub const MOST_GUESSES: u32 = 20_000_000;

/// Asks one question after the other, each depending on the answers before.
pub trait Asker {
    /// Returns the first question, or nothing if there is none.
    fn first(&mut self) -> Option<Question>;

    /// Takes the answer and returns the next question.
    fn next(&mut self, answer: Answer) -> Option<Question>;

    /// Is shown each solution as it is found, before the answer.
    fn solution(&mut self, _board: &dyn Fn() -> Puzzle) {}
}

/// Answers all questions of all askers; the order of askers stays.
pub fn ask<A: Asker>(askers: &mut [A]) {
    ask_within(askers, MOST_GUESSES);
}

/// Answers all questions of all askers; a search is given up after so many guesses.
pub fn ask_within<A: Asker>(askers: &mut [A], most_guesses: u32) {
    ask_from(&[], askers, most_guesses);
}

/// Answers all questions of all askers. The search for the first one of each begins at its board, if
/// there is one.
fn ask_from<A: Asker>(boards: &[Option<&Board>], askers: &mut [A], most_guesses: u32) {
    instruction_set::run(InstructionSet::best(), SearchTask { boards, askers, most_guesses });
}

/// Returns how many solutions each puzzle has, at most `limit`.
#[must_use]
pub fn count_solutions(puzzles: &[Puzzle], limit: u32) -> Vec<Answer> {
    count_from(&[], puzzles, limit, MOST_GUESSES)
}

/// Does the same from boards to which the puzzles lead, where there are any.
pub(super) fn count_from(
    boards: &[Option<&Board>],
    puzzles: &[Puzzle],
    limit: u32,
    most_guesses: u32,
) -> Vec<Answer> {
    struct Count {
        question: Question,
        answer: Answer,
    }
    impl Asker for Count {
        fn first(&mut self) -> Option<Question> {
            Some(self.question)
        }

        fn next(&mut self, answer: Answer) -> Option<Question> {
            self.answer = answer;
            None
        }
    }
    let question = |puzzle: &Puzzle| Question { clues: puzzle.into(), except: None, limit };
    let none = Answer { solutions: 0, complete: false };
    let mut askers: Vec<Count> =
        puzzles.iter().map(|p| Count { question: question(p), answer: none }).collect();
    ask_from(boards, &mut askers, most_guesses);
    askers.iter().map(|asker| asker.answer).collect()
}

/// Returns the solution of a puzzle that has exactly one; `None` if it has none or several, or if the
/// search was given up after [`MOST_GUESSES`].
#[must_use]
pub fn unique_solution(puzzle: &Puzzle) -> Option<Puzzle> {
    unique_solutions(std::slice::from_ref(puzzle)).pop().flatten()
}

/// Returns the solution of each puzzle, as [`unique_solution`] does; the faster way for many.
#[must_use]
pub fn unique_solutions(puzzles: &[Puzzle]) -> Vec<Option<Puzzle>> {
    solve_from(&[], puzzles)
}

/// Does the same from boards to which the puzzles lead, where there are any.
pub(super) fn solve_from(boards: &[Option<&Board>], puzzles: &[Puzzle]) -> Vec<Option<Puzzle>> {
    struct Sought {
        clues: Clues<Frame9>,
        last: Option<Puzzle>,
        is_unique: bool,
    }
    impl Asker for Sought {
        fn first(&mut self) -> Option<Question> {
            Some(Question { clues: self.clues, except: None, limit: 2 })
        }

        fn next(&mut self, answer: Answer) -> Option<Question> {
            self.is_unique = answer == Answer { solutions: 1, complete: true };
            None
        }

        fn solution(&mut self, board: &dyn Fn() -> Puzzle) {
            self.last = Some(board());
        }
    }
    let sought = |puzzle: &Puzzle| Sought { clues: puzzle.into(), last: None, is_unique: false };
    let mut sought: Vec<Sought> = puzzles.iter().map(sought).collect();
    ask_from(boards, &mut sought, MOST_GUESSES);
    sought.iter().map(|sought| sought.last.filter(|_| sought.is_unique)).collect()
}

struct SearchTask<'a, A> {
    boards: &'a [Option<&'a Board>],
    askers: &'a mut [A],
    most_guesses: u32,
}

#[derive(Default)]
struct LaneSearch {
    /// The asker; `None` if the lane is idle.
    asker: Option<usize>,
    limit: u32,
    solutions: u32,
    guesses: u32,
    branches: Vec<Board>,
}

impl<A: Asker> Task for SearchTask<'_, A> {
    #[inline(always)]
    fn run<I: Instructions>(mut self) {
        let mut boards = Box::new(Boards::empty());
        let mut lanes: [LaneSearch; LANES] = Default::default();
        let mut next = 0;
        let mut busy = 0;
        for (lane, search) in lanes.iter_mut().enumerate() {
            busy += u32::from(self.start_next(search, lane, &mut boards, &mut next));
        }
        while busy > 0 {
            let Round { resting, dead } = boards.round::<I::Words>();
            let mut left = resting | dead;
            while left != 0 {
                let lane = left.trailing_zeros() as usize;
                left &= left - 1;
                let search = &mut lanes[lane];
                let Some(asker) = search.asker else { continue };
                let is_dead = dead >> lane & 1 == 1;
                let open = boards.open(lane);
                let may_guess = search.guesses < self.most_guesses;
                if !is_dead && open != [0; 3] && may_guess {
                    search.guesses += 1;
                    branch(search, lane, &mut boards, open);
                    continue;
                }
                let given_up = !is_dead && open != [0; 3];
                if !given_up && !is_dead {
                    search.solutions += 1;
                    self.askers[asker].solution(&|| boards.filled(lane));
                }
                let more = search.solutions < search.limit && !given_up;
                if let Some(back) = search.branches.pop().filter(|_| more) {
                    boards.put_back(lane, &back);
                    continue;
                }
                let answer = Answer { solutions: search.solutions, complete: !given_up };
                match self.askers[asker].next(answer) {
                    Some(question) => start(search, lane, &mut boards, &question),
                    None => {
                        let started = self.start_next(search, lane, &mut boards, &mut next);
                        busy -= u32::from(!started);
                    }
                }
            }
        }
    }
}

impl<A: Asker> SearchTask<'_, A> {
    fn start_next(
        &mut self,
        search: &mut LaneSearch,
        lane: usize,
        boards: &mut Boards,
        next: &mut usize,
    ) -> bool {
        while *next < self.askers.len() {
            let index = *next;
            *next += 1;
            if let Some(question) = self.askers[index].first() {
                search.asker = Some(index);
                match self.boards.get(index) {
                    Some(Some(board)) => {
                        boards.put_back(lane, board);
                        begin(search, lane, boards, question.limit);
                    }
                    _ => start(search, lane, boards, &question),
                }
                return true;
            }
        }
        search.asker = None;
        boards.put_back(lane, &Board::BLANK);
        false
    }
}

fn start(search: &mut LaneSearch, lane: usize, boards: &mut Boards, question: &Question) {
    boards.load(lane, question.clues.values());
    begin(search, lane, boards, question.limit);
    if let Some((cell, digit)) = question.except {
        boards.forbid(lane, digit.index(), cell.index());
    }
}

/// Begins with the board of the lane.
fn begin(search: &mut LaneSearch, lane: usize, boards: &mut Boards, limit: u32) {
    search.limit = limit;
    search.solutions = 0;
    search.guesses = 0;
    search.branches.clear();
    // The search does not ask which kind of single was needed.
    boards.naked_only.0[lane] = 0;
}

/// Guesses a digit in an open cell with few candidates and keeps the board without it.
fn branch(search: &mut LaneSearch, lane: usize, boards: &mut Boards, open: [u32; 3]) {
    let planes = boards.planes(lane);
    let (mut two, mut some) = ([0; 3], [0; 3]);
    for band in 0..3 {
        let (mut once, mut twice, mut more) = (0, 0, 0);
        for plane in &planes {
            more |= twice & plane[band];
            twice |= once & plane[band];
            once |= plane[band];
        }
        two[band] = twice & !more & open[band];
        some[band] = twice & open[band];
    }
    let from = if two == [0; 3] { fewest_candidates(&planes, some) } else { two };
    let Some(band) = from.iter().position(|&band| band != 0) else { return };
    let bit = from[band] & from[band].wrapping_neg();
    let Some(digit) = planes.iter().position(|plane| plane[band] & bit != 0) else { return };
    let mut without = Board { planes, open };
    without.planes[digit][band] &= !bit;
    search.branches.push(without);
    boards.place_next(lane, digit, band * 27 + bit.trailing_zeros() as usize);
}

/// Keeps the first of the cells with the fewest candidates.
fn fewest_candidates(planes: &Planes, cells: [u32; 3]) -> [u32; 3] {
    let candidates = |band: usize, bit: u32| planes.iter().filter(|p| p[band] & bit != 0).count();
    let all = (0..81).map(|cell| (cell / 27, 1u32 << (cell % 27)));
    let fewest = all
        .filter(|&(band, bit)| cells[band] & bit != 0)
        .min_by_key(|&(band, bit)| candidates(band, bit));
    let mut kept = [0; 3];
    if let Some((band, bit)) = fewest {
        kept[band] = bit;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_only_solution_is_returned_and_no_other() {
        // The solved board of shifted rows. Without its first row and column it is still the only
        // one; without the cells of two digits there are two, with the digits exchanged.
        let row = |start: usize| (0..9).map(move |place| Digit::from_index((start + place) % 9));
        let cells: Vec<_> = [0, 3, 6, 1, 4, 7, 2, 5, 8].into_iter().flat_map(row).collect();
        let board = Puzzle::new(cells.try_into().unwrap()).unwrap();
        let without = |gone: &dyn Fn(Cell) -> bool| {
            Cell::all().filter(|&cell| gone(cell)).fold(board, Puzzle::without)
        };
        let known = without(&|cell| cell.row() == 0 || cell.column() == 0);
        assert_eq!(unique_solution(&known), Some(board));
        assert_eq!(unique_solution(&board), Some(board));
        let two = without(&|cell| board.get(cell).is_some_and(|digit| digit.value() < 3));
        assert_eq!(unique_solution(&two), None);
        let none = "12345678.........9".to_owned() + &".".repeat(63);
        assert_eq!(unique_solution(&none.parse().unwrap()), None);
    }

    #[test]
    fn a_search_is_given_up_after_its_guesses() {
        let blank = Puzzle::new([None; Cell::COUNT]).unwrap();
        let few = count_from(&[], &[blank, blank], 1000, 100);
        for answer in &few {
            assert!(!answer.complete && answer.solutions < 1000, "{answer:?}");
        }
        let enough = count_from(&[], &[blank], 1000, MOST_GUESSES);
        assert_eq!(enough, [Answer { solutions: 1000, complete: true }]);
    }
}
