//! Grids of 9 lines, with or without frames.

use crate::RowError;
use crate::layout::Layout;
use crate::lines::{LONGEST_LINE, Line};
use crate::row::Row;

/// Stands between the lines of a text that is kept as it was found.
pub(crate) const LINE_JOINT: char = '⏎';

/// More lines than any frame needs.
const MOST_LINES: usize = 40;

/// Longer lines are no rules, but perhaps a puzzle.
const LONGEST_RULE: usize = 80;

/// What a line can be within a grid.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum GridLine {
    /// Nine cells, as digits and `.` or `0`; and whether `-` was read as a blank.
    Cells([u8; 9], bool),
    /// A part of the frame.
    Rule,
    /// Nine dashes: a part of the frame, or nine blanks.
    Dashes,
}

/// What the characters of a line are.
#[derive(Default)]
struct Survey {
    cells: Vec<u8>,
    dashes: usize,
    /// Whether two dashes stand side by side.
    run: bool,
    /// Whether `.`, `0` or `_` is there.
    blanks: bool,
    /// Whether a character of frames is there.
    frame: bool,
    /// The first character that can't be in a rule.
    first_not_in_rule: Option<char>,
    /// The first character that can't be in a row of cells.
    first_not_in_row: Option<char>,
    /// How many of those there are.
    strange: usize,
    letters: bool,
}

impl Survey {
    fn of(text: &str) -> Self {
        let mut survey = Self::default();
        let mut before = ' ';
        for c in text.chars() {
            match c {
                '1'..='9' | '0' | '.' | '_' => {
                    survey.blanks |= !matches!(c, '1'..='9');
                    survey.cells.push(if c == '_' { b'.' } else { c as u8 });
                    survey.first_not_in_rule.get_or_insert(c);
                }
                '-' => {
                    survey.cells.push(b'.');
                    survey.dashes += 1;
                    survey.run |= before == '-';
                }
                '|' | '\u{2500}'..='\u{257f}' => survey.frame = true,
                '+' | '=' => {
                    survey.frame = true;
                    survey.first_not_in_row.get_or_insert(c);
                }
                ',' | ';' => {
                    survey.first_not_in_rule.get_or_insert(c);
                }
                _ if c.is_whitespace() => {}
                _ => {
                    survey.letters |= c.is_alphabetic();
                    survey.strange += 1;
                    survey.first_not_in_rule.get_or_insert(c);
                    survey.first_not_in_row.get_or_insert(c);
                }
            }
            before = c;
        }
        if survey.dashes > 0 && survey.blanks {
            survey.first_not_in_row.get_or_insert('-');
        }
        survey
    }

    fn nine(&self) -> Option<[u8; 9]> {
        self.cells.as_slice().try_into().ok().filter(|_| self.first_not_in_row.is_none())
    }
}

/// Reads a line as part of a grid.
pub(crate) fn grid_line(text: &str) -> Option<GridLine> {
    let survey = Survey::of(text);
    let only_dashes = survey.dashes == survey.cells.len();
    match survey.nine() {
        Some(_) if only_dashes && survey.run => return Some(GridLine::Dashes),
        Some(cells) => return Some(GridLine::Cells(cells, survey.dashes > 0)),
        None => {}
    }
    let is_rule = survey.first_not_in_rule.is_none()
        && (survey.frame || survey.dashes > 0)
        && text.chars().count() <= LONGEST_RULE;
    is_rule.then_some(GridLine::Rule)
}

/// Tests if a line that is no part of a grid may be a spoilt row of one, rather than its title: it has
/// about nine characters and no letters, or nine and few letters.
pub(crate) fn is_spoilt_row(text: &str) -> bool {
    let survey = Survey::of(text);
    let marks = survey.cells.len() + survey.strange;
    if survey.letters {
        marks == 9 && survey.cells.len() > survey.strange
    } else {
        (5..=13).contains(&marks)
    }
}

enum Part {
    Cells([u8; 9]),
    Dashes,
    Spoilt(String),
}

/// A grid of which some lines were read.
#[derive(Default)]
pub(crate) struct Grid {
    title: Option<Line>,
    lines: Vec<Line>,
    parts: Vec<Part>,
    bytes: usize,
    dashes: usize,
    /// Whether `-` was read as a blank.
    dash_blanks: bool,
    /// Bit n is set if a rule follows row n.
    rules: u64,
    /// How many lines stood before a blank line after row 3.
    first_band: Option<usize>,
    second_band: bool,
}

impl Grid {
    pub(crate) fn new(title: Option<Line>) -> Self {
        Self { title, ..Self::default() }
    }

    /// Counts the rows without lines of dashes.
    pub(crate) fn rows(&self) -> usize {
        self.parts.len() - self.dashes
    }

    /// Adds a line; `None` is a spoilt row.
    pub(crate) fn push(&mut self, line: Line, kind: Option<GridLine>) {
        self.bytes += line.text.len();
        match kind {
            Some(GridLine::Cells(cells, dash_blanks)) => {
                self.dash_blanks |= dash_blanks;
                self.parts.push(Part::Cells(cells));
            }
            Some(GridLine::Dashes) => {
                self.dashes += 1;
                self.parts.push(Part::Dashes);
            }
            Some(GridLine::Rule) => self.rules |= 1 << self.rows(),
            None => self.parts.push(Part::Spoilt(line.trimmed().to_owned())),
        }
        self.lines.push(line);
    }

    /// Tests if a rule may stand here: between bands, or between all rows so far.
    pub(crate) fn takes_rule(&self) -> bool {
        let rows = self.rows();
        rows.is_multiple_of(3) || (1..rows).all(|row| self.rules >> row & 1 == 1)
    }

    /// Tells of a blank line. Returns whether the grid may go on: between bands it may.
    pub(crate) fn takes_blank(&mut self) -> bool {
        match self.rows() {
            _ if self.dashes > 0 => false,
            3 => {
                self.first_band.get_or_insert(self.lines.len());
                true
            }
            6 => {
                self.second_band = self.first_band.is_some();
                self.second_band
            }
            _ => false,
        }
    }

    /// Takes off the lines after the first three rows if a seventh row shows that the blank line
    /// there did not part bands.
    pub(crate) fn split(&mut self) -> Option<Vec<Line>> {
        let at = self.first_band.filter(|_| self.rows() == 6 && !self.second_band)?;
        self.parts.truncate(3);
        self.dashes = 0;
        Some(self.lines.split_off(at))
    }

    /// Tests if the grid has all its rows, whatever follows.
    pub(crate) fn is_complete(&self) -> bool {
        let is_open = self.dash_blanks && self.dashes > 0;
        self.rows() >= 9 && !is_open || self.lines.len() >= MOST_LINES || self.bytes > LONGEST_LINE
    }

    /// Gives the title back, for a grid that turned out to be nothing but rules.
    pub(crate) fn into_title(self) -> Option<Line> {
        self.title
    }

    /// Returns 81 characters.
    pub(crate) fn text(&self) -> Result<String, RowError> {
        let spoilt = self.parts.iter().enumerate().find_map(|(index, part)| match part {
            Part::Spoilt(text) => Some((index + 1, text)),
            _ => None,
        });
        if let Some((row, text)) = spoilt {
            let survey = Survey::of(text);
            return Err(match survey.first_not_in_row {
                Some(found) => RowError::GridCharacter { row, found },
                None => RowError::GridCells { row, found: survey.cells.len() },
            });
        }
        let dashes_are_rows = self.dash_blanks && self.parts.len() == 9;
        if self.rows() != 9 && !dashes_are_rows {
            return Err(if self.dash_blanks && self.dashes > 0 {
                RowError::GridDashes
            } else {
                RowError::GridRows { found: self.rows() }
            });
        }
        let cells = self.parts.iter().flat_map(|part| match part {
            Part::Cells(cells) => cells.as_slice(),
            Part::Dashes if dashes_are_rows => b".........",
            Part::Dashes | Part::Spoilt(_) => &[],
        });
        Ok(cells.map(|&cell| char::from(cell)).collect())
    }

    /// Makes the row.
    pub(crate) fn into_row(self) -> Row {
        // Dashes above the first row are its frame, unless dashes are blanks.
        let is_frame = |part: &&Part| matches!(part, Part::Dashes) && !self.dash_blanks;
        let above = self.parts.iter().take_while(is_frame).count();
        let line = self.lines.get(above).map_or(0, |line| line.number);
        let mut row = match self.text() {
            Ok(text) => Row::bare(line, text, Layout::Grid),
            Err(error) => {
                let text = join_lines(self.lines.iter().map(Line::trimmed));
                let mut row = Row::bare(line, text, Layout::Grid);
                row.set_defect(error);
                row
            }
        };
        if let Some(title) = &self.title {
            row.set_label(title.trimmed());
        }
        row
    }
}

/// Reads a text of several lines as one grid.
pub(crate) fn read_grid(text: &str) -> Result<String, RowError> {
    let mut grid = Grid::default();
    for text in text.lines().map(str::trim_ascii).filter(|text| !text.is_empty()) {
        let line = Line { text: text.to_owned(), ..Line::default() };
        grid.push(line, grid_line(text));
    }
    grid.text()
}

/// Joins lines for keeping.
pub(crate) fn join_lines<'a>(lines: impl Iterator<Item = &'a str>) -> String {
    let mut joined = String::new();
    for (index, line) in lines.enumerate() {
        if index > 0 {
            joined.push(LINE_JOINT);
        }
        joined.push_str(line);
    }
    joined
}
