//! Rows of plain text: one puzzle per line, grids, or both.

use std::collections::VecDeque;

use crate::grid::{Grid, GridLine, grid_line, is_spoilt_row};
use crate::layout::first_token;
use crate::lines::{Line, Lines};
use crate::row::Row;

/// A first word of this many characters is a puzzle, perhaps a spoilt one, and no part of a title or grid.
const SHORTEST_PUZZLE_WORD: usize = 60;

/// A line of words, or a spoilt row: what it is depends on the next line.
struct Waiting {
    line: Line,
    /// Whether a blank line or a rule came after it.
    apart: bool,
}

pub(crate) struct TextRows {
    grids: bool,
    waiting: Option<Waiting>,
    grid: Option<Grid>,
    ready: VecDeque<Row>,
}

impl TextRows {
    /// Reads grids besides lines, or lines only.
    pub(crate) const fn new(grids: bool) -> Self {
        Self { grids, waiting: None, grid: None, ready: VecDeque::new() }
    }

    pub(crate) fn next(&mut self, lines: &mut Lines) -> Option<Row> {
        loop {
            if let Some(row) = self.ready.pop_front() {
                return Some(row);
            }
            let Some(line) = lines.next() else {
                self.end_grid();
                self.end_waiting();
                return self.ready.pop_front();
            };
            let text = line.trimmed();
            if self.grid.is_none() && self.waiting.is_none() {
                if text.is_empty() {
                    continue;
                }
                if line.cut {
                    return Some(Row::too_long(line.number, text.to_owned()));
                }
                if !self.grids || is_puzzle_line(text) {
                    return Some(Row::from_line(line.number, text.to_owned()));
                }
            }
            let line = line.clone();
            self.take(line);
        }
    }

    fn take(&mut self, line: Line) {
        let text = line.trimmed();
        if text.is_empty() {
            self.take_blank();
        } else if line.cut || is_puzzle_line(text) {
            self.end_grid();
            self.end_waiting();
            self.ready.push_back(plain_row(&line));
        } else {
            match grid_line(text) {
                Some(GridLine::Rule) => self.take_rule(line),
                None if self.grid.is_none() || !is_spoilt_row(text) => self.take_words(line),
                kind => self.take_row(line, kind),
            }
        }
    }

    fn take_blank(&mut self) {
        if let Some(waiting) = &mut self.waiting {
            waiting.apart = true;
        }
        if self.grid.as_mut().is_some_and(|grid| !grid.takes_blank()) {
            self.end_grid();
        }
    }

    fn take_rule(&mut self, line: Line) {
        if let Some(waiting) = &mut self.waiting {
            waiting.apart = true;
        }
        if self.grid.as_ref().is_some_and(|grid| !grid.takes_rule()) {
            self.end_grid();
        }
        if let Some(grid) = &mut self.grid {
            grid.push(line, Some(GridLine::Rule));
            self.end_complete_grid();
        }
    }

    fn take_words(&mut self, line: Line) {
        self.end_grid();
        self.end_waiting();
        self.waiting = Some(Waiting { line, apart: false });
    }

    fn take_row(&mut self, line: Line, kind: Option<GridLine>) {
        if let Some(rest) = self.grid.as_mut().and_then(Grid::split) {
            self.end_grid();
            rest.into_iter().for_each(|line| self.take(line));
        }
        if self.grid.is_none() {
            self.grid = Some(self.begin_grid());
        }
        if let Some(grid) = &mut self.grid {
            grid.push(line, kind);
        }
        self.end_complete_grid();
    }

    /// Begins a grid with what waits: its title, or its first row.
    fn begin_grid(&mut self) -> Grid {
        match self.waiting.take() {
            Some(Waiting { line, apart: false }) if is_spoilt_row(line.trimmed()) => {
                let mut grid = Grid::new(None);
                grid.push(line, None);
                grid
            }
            Some(Waiting { line, .. }) if !is_spoilt_row(line.trimmed()) => Grid::new(Some(line)),
            waiting => {
                self.waiting = waiting;
                self.end_waiting();
                Grid::new(None)
            }
        }
    }

    fn end_complete_grid(&mut self) {
        if self.grid.as_ref().is_some_and(Grid::is_complete) {
            self.end_grid();
        }
    }

    fn end_grid(&mut self) {
        let Some(grid) = self.grid.take() else { return };
        if grid.rows() > 0 {
            self.ready.push_back(grid.into_row());
        } else if let Some(line) = grid.into_title() {
            self.waiting = Some(Waiting { line, apart: true });
        }
    }

    fn end_waiting(&mut self) {
        if let Some(Waiting { line, .. }) = self.waiting.take() {
            self.ready.push_back(plain_row(&line));
        }
    }
}

fn plain_row(line: &Line) -> Row {
    let text = line.trimmed().to_owned();
    if line.cut { Row::too_long(line.number, text) } else { Row::from_line(line.number, text) }
}

fn is_puzzle_line(text: &str) -> bool {
    let word = first_token(text);
    word.len() >= SHORTEST_PUZZLE_WORD && word.chars().count() >= SHORTEST_PUZZLE_WORD
}

/// Tests if a line is a row whether grids are read besides lines or not.
pub(crate) fn is_row_anyhow(text: &str) -> bool {
    is_puzzle_line(text) || (grid_line(text).is_none() && !is_spoilt_row(text))
}
