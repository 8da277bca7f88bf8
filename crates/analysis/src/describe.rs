//! What a collection is like: clues, minimality, symmetry, repeats and how hard its puzzles are.

use std::collections::{BTreeMap, HashSet};
use std::fmt::Write;

use serde::{Deserialize, Serialize};
use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{
    Block, Duplicates, GivensSymmetry, Part, Progress, ReadError, Reject, RejectCounts, Rejects,
    Rows, Source, are_minimal, canonical, fingerprint,
};
use tallyhouse_engine::{Order, Outcome, WalkOptions};
use tallyhouse_stats::{Estimate, Families, Level};
use tallyhouse_words::{Measured, count, counted, rounded};

use crate::counted::Counted;
use crate::published::MINIMAL_PUZZLES;

/// How many rows one thread looks at.
const BLOCK: usize = 1000;

/// What a collection is like. Shares that carry an interval have puzzles as their unit; with weights
/// or families they are ratios of weights with families as clusters.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Description {
    /// The sources.
    pub sources: Vec<String>,
    /// The comment lines at their heads.
    pub notes: Vec<String>,
    /// Rows read.
    pub rows: u64,
    /// Rows that are no puzzle with exactly one solution, by reason.
    pub rejected: Vec<(String, u64)>,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Puzzles with a weight.
    pub weighted: u64,
    /// Families of puzzles that depend on each other; 0 if none are named.
    pub families: u64,
    /// As many independent puzzles would tell as much: clusters by their weights (Kish).
    pub effective_size: f64,
    /// The level of all intervals, in percent.
    pub level: Level,
    /// Exact repeats of an earlier puzzle.
    pub repeated: u64,
    /// Puzzles equivalent to an earlier one but not the same.
    pub equivalent: u64,
    /// The mean number of clues.
    pub mean_clues: Option<Estimate>,
    /// The standard deviation of the number of clues.
    pub sd_clues: f64,
    /// Puzzles by number of clues.
    pub clues: Vec<ClueRow>,
    /// The share of puzzles of which no clue can go.
    pub minimal: Option<Estimate>,
    /// How many of the puzzles are minimal.
    pub minimal_puzzles: u64,
    /// Puzzles whose givens have each symmetry.
    pub symmetries: Vec<(String, u64)>,
    /// Puzzles that a board symmetry with relabelling maps to themselves.
    pub self_equivalent: u64,
    /// The share of puzzles that singles solve.
    pub by_singles: Option<Estimate>,
    /// How many of the puzzles singles solve.
    pub by_singles_puzzles: u64,
    /// Puzzles by the last look of the full ladder that they need, solved or not.
    pub hardest: Vec<HardestRow>,
    /// Puzzles that the full ladder does not solve.
    pub stuck: u64,
}

/// How many puzzles have a number of clues.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClueRow {
    /// The number of clues.
    pub clues: u8,
    /// How many puzzles, whatever they weigh.
    pub puzzles: u64,
    /// What they weigh, in millionths.
    pub weight: u128,
    /// Their share with its interval.
    pub share: Option<Estimate>,
    /// The published share among all minimal puzzles, in percent.
    pub published_percent: Option<f64>,
}

/// How many puzzles need a look.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HardestRow {
    /// The look, or `none`.
    pub look: String,
    /// How many puzzles.
    pub puzzles: u64,
    /// Their share with its interval.
    pub share: Option<Estimate>,
}

/// What is known of one puzzle.
struct Facts {
    puzzle: Puzzle,
    /// In millionths.
    weight: i128,
    carries_weight: bool,
    family: Option<u64>,
    class: u128,
    automorphisms: u32,
    minimal: bool,
    hardest: Option<usize>,
    solved: bool,
}

/// Reads all sources and describes their valid puzzles; all intervals have this level.
///
/// Memory grows with the number of puzzles by the hashes that repeats are known by.
///
/// # Errors
/// If a source can't be read, or no row is a valid puzzle.
pub fn describe(
    sources: Vec<Source>,
    level: Level,
    progress: &dyn Progress,
) -> Result<Description, ReadError> {
    let mut rows = Rows::open(sources)?;
    rows.read_ahead(BLOCK)?;
    let (mut sums, mut rejects) = (Sums::default(), Rejects::counted(rows.sources()));
    let look = |part: Part<'_>| part.map(facts).collect::<Vec<_>>();
    rows.pass(BLOCK, progress, look, |facts| {
        for facts in facts.into_iter().flatten() {
            match facts {
                Ok(facts) => sums.add(facts),
                Err(reject) => rejects.count(&reject),
            }
        }
        Ok::<(), ReadError>(())
    })?;
    let names: Vec<String> = rows.sources().iter().map(|source| source.name().to_owned()).collect();
    if let (0, Some(first)) = (sums.all.puzzles, rejects.first()) {
        let (source_name, first) = (names.join(", "), first.to_owned());
        return Err(ReadError::NoneValid { source_name, rows: rows.rows(), first });
    }
    Ok(sums.finish(names, &rows, rejects.counts(), level))
}

fn facts(block: Block) -> Vec<Result<Facts, Reject>> {
    let options = WalkOptions::default();
    let mut scanner = Scanner::new(&options, false);
    let scanned = scanner.scan(block);
    let puzzles: Vec<Puzzle> = scanned.iter().flatten().map(|scan| scan.entry.puzzle).collect();
    let mut minimal = are_minimal(&puzzles).into_iter();
    let mut facts = |scan: &PuzzleScan| {
        let canonical = canonical(&Clues::from(&scan.entry.puzzle));
        Facts {
            puzzle: scan.entry.puzzle,
            weight: scan.entry.millionths(),
            carries_weight: scan.entry.weight.is_some(),
            family: scan.entry.family,
            class: fingerprint(canonical.form.values()),
            automorphisms: canonical.automorphisms,
            minimal: minimal.next().unwrap_or_else(|| unreachable!("each puzzle was asked about")),
            hardest: scan.hardest,
            solved: scan.outcome == Outcome::Solved,
        }
    };
    scanned.into_iter().map(|scanned| scanned.map(&mut facts)).collect()
}

#[derive(Default)]
struct Sums {
    all: Counted,
    weighted: u64,
    seen: Duplicates,
    classes: HashSet<u128>,
    repeated: u64,
    equivalent: u64,
    /// The clues of a puzzle, as many times as it weighs, beside its weight.
    clues: Families<2>,
    by_clues: BTreeMap<u8, Counted>,
    minimal: Counted,
    symmetries: [u64; GivensSymmetry::ALL.len()],
    self_equivalent: u64,
    by_singles: Counted,
    hardest: BTreeMap<usize, Counted>,
    stuck: u64,
}

/// The entry of puzzles that need no look.
const NO_LOOK: usize = usize::MAX;

impl Sums {
    fn add(&mut self, facts: Facts) {
        let (family, weight) = (facts.family, facts.weight);
        let clues = facts.puzzle.clues() as u8;
        self.all.add(family, weight);
        self.weighted += u64::from(facts.carries_weight);
        let repeated = !self.seen.first_seen(&facts.puzzle);
        self.repeated += u64::from(repeated);
        self.equivalent += u64::from(!self.classes.insert(facts.class) && !repeated);
        self.clues.add(family, [i128::from(clues) * weight, weight]);
        self.by_clues.entry(clues).or_default().add(family, weight);
        if facts.minimal {
            self.minimal.add(family, weight);
        }
        let board = Clues::<Frame9>::from(&facts.puzzle);
        for (sum, symmetry) in self.symmetries.iter_mut().zip(GivensSymmetry::ALL) {
            *sum += u64::from(symmetry.holds(&board));
        }
        self.self_equivalent += u64::from(facts.automorphisms > 1);
        if facts.solved && facts.hardest.is_none_or(|look| look < 2) {
            self.by_singles.add(family, weight);
        }
        self.hardest.entry(facts.hardest.unwrap_or(NO_LOOK)).or_default().add(family, weight);
        self.stuck += u64::from(!facts.solved);
    }

    fn sd_clues(&self) -> f64 {
        let weights = || self.by_clues.iter().map(|(&k, row)| (f64::from(k), row.weight() as f64));
        let total: f64 = weights().map(|(_, weight)| weight).sum();
        let sum = |f: &dyn Fn(f64) -> f64| -> f64 {
            weights().map(|(clues, weight)| f(clues) * weight).sum::<f64>() / total
        };
        let mean = sum(&|k| k);
        sum(&|k| (k - mean).powi(2)).sqrt()
    }

    fn finish(
        self,
        sources: Vec<String>,
        rows: &Rows,
        rejected: &RejectCounts,
        level: Level,
    ) -> Description {
        let share = |with: &Counted| with.share(&self.all, level).ok();
        let clues = self.clues.clusters();
        let published =
            |clues: u8| MINIMAL_PUZZLES.percent.iter().find(|row| row.0 == clues).map(|row| row.1);
        let clue_row = |(&clues, counted): (&u8, &Counted)| ClueRow {
            clues,
            puzzles: counted.puzzles,
            weight: counted.weight().unsigned_abs(),
            share: share(counted),
            published_percent: published(clues),
        };
        let looks: Vec<String> = Order::ladder().looks().iter().map(ToString::to_string).collect();
        let hardest_row = |(look, name): (usize, String)| {
            let none = Counted::default();
            let counted = self.hardest.get(&look).unwrap_or(&none);
            HardestRow { look: name, puzzles: counted.puzzles, share: share(counted) }
        };
        let named = looks.into_iter().enumerate().chain([(NO_LOOK, "none".to_owned())]);
        Description {
            sources,
            notes: rows.notes().to_vec(),
            rows: rows.rows(),
            rejected: rejected.named(),
            puzzles: self.all.puzzles,
            weighted: self.weighted,
            families: self.all.families(),
            effective_size: clues.effective_size().unwrap_or(0.0),
            level,
            repeated: self.repeated,
            equivalent: self.equivalent,
            mean_clues: clues.mean_by_weight(level).ok(),
            sd_clues: self.sd_clues(),
            clues: self.by_clues.iter().map(clue_row).collect(),
            minimal: share(&self.minimal),
            minimal_puzzles: self.minimal.puzzles,
            symmetries: GivensSymmetry::ALL
                .iter()
                .map(|symmetry| symmetry.name().to_owned())
                .zip(self.symmetries)
                .collect(),
            self_equivalent: self.self_equivalent,
            by_singles: share(&self.by_singles),
            by_singles_puzzles: self.by_singles.puzzles,
            hardest: named
                .map(hardest_row)
                .filter(|row| row.look != "none" || row.puzzles > 0)
                .collect(),
            stuck: self.stuck,
        }
    }
}

impl Description {
    /// Writes the description as text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing into a string cannot fail.
        let _ = self.write(&mut text);
        text
    }

    fn write(&self, text: &mut String) -> std::fmt::Result {
        let n = count(self.puzzles);
        let sources = self.sources.join(", ");
        writeln!(
            text,
            "{} in {} of {sources}",
            counted(self.puzzles, "valid puzzle", "valid puzzles"),
            counted(self.rows, "row", "rows")
        )?;
        for note in &self.notes {
            writeln!(text, "  {note}")?;
        }
        for (reason, rows) in self.rejected.iter().filter(|(_, rows)| *rows > 0) {
            writeln!(text, "  rejected, {reason}: {}", count(*rows))?;
        }
        if self.weighted > 0 || self.families > 0 {
            writeln!(
                text,
                "Weighted: {} puzzles carry a weight, in {} families; worth {} independent draws. \
                 Shares below are shares of weight.",
                count(self.weighted),
                count(self.families),
                rounded(self.effective_size, 3)
            )?;
        }
        writeln!(
            text,
            "Repeats: {} exact, {} equivalent under symmetry and relabelling.",
            count(self.repeated),
            count(self.equivalent)
        )?;
        let in_another_way = count(self.self_equivalent);
        writeln!(text, "Equivalent to themselves in another way: {in_another_way}.")?;
        writeln!(
            text,
            "Minimal (no clue can go): {} of {n}, {}",
            count(self.minimal_puzzles),
            percent(self.minimal.as_ref())
        )?;
        let symmetric: Vec<String> = self
            .symmetries
            .iter()
            .filter(|(_, puzzles)| *puzzles > 0)
            .map(|(name, puzzles)| format!("{name} {}", count(*puzzles)))
            .collect();
        let symmetric = if symmetric.is_empty() { "none".to_owned() } else { symmetric.join(", ") };
        writeln!(text, "Symmetry of givens: {symmetric}")?;
        let singles = percent(self.by_singles.as_ref());
        writeln!(text, "Solved by singles: {} of {n}, {singles}", count(self.by_singles_puzzles))?;
        writeln!(text, "Not solved by the full ladder: {} of {n}", count(self.stuck))?;

        let mean =
            self.mean_clues.map_or_else(|| NONE.to_owned(), |mean| Measured::from(mean).number());
        let deviation = rounded(self.sd_clues, 3);
        writeln!(text, "\nClues: mean {mean}, standard deviation {deviation}")?;
        writeln!(
            text,
            "  all minimal puzzles, published: mean {}, standard deviation {}",
            MINIMAL_PUZZLES.mean, MINIMAL_PUZZLES.standard_deviation
        )?;
        writeln!(
            text,
            "  {:>5} {:>12} {:>34} {:>12}",
            "clues",
            "puzzles",
            format!("share, {} interval", self.level),
            "published"
        )?;
        for row in &self.clues {
            let published = row
                .published_percent
                .map_or_else(|| NONE.to_owned(), |percent| format!("{percent} %"));
            writeln!(
                text,
                "  {:>5} {:>12} {:>34} {published:>12}",
                row.clues,
                count(row.puzzles),
                percent(row.share.as_ref())
            )?;
        }
        writeln!(text, "\nLast look of the full ladder that a puzzle needs, solved or not")?;
        for row in &self.hardest {
            writeln!(
                text,
                "  {:<12} {:>12} {:>34}",
                row.look,
                count(row.puzzles),
                percent(row.share.as_ref())
            )?;
        }
        writeln!(text, "\nIntervals: {}.", self.interval_words())?;
        writeln!(text, "Published: {}.", MINIMAL_PUZZLES.source)
    }

    fn interval_words(&self) -> &'static str {
        if self.weighted > 0 || self.families > 0 {
            "ratio of weights, families as clusters, linearised, Student's t; shares on the scale of log odds"
        } else {
            "Wilson, Clopper–Pearson where rare; the puzzle is the unit"
        }
    }
}

fn percent(estimate: Option<&Estimate>) -> String {
    estimate.map_or_else(|| NONE.to_owned(), |&estimate| Measured::from(estimate).percent())
}

/// What stands where there is no number.
const NONE: &str = "–";

#[cfg(test)]
mod tests {
    use tallyhouse_collection::Silent;
    use tallyhouse_stats::Share;

    use super::*;

    fn describe_text(text: &str) -> Description {
        let sources = vec![Source::memory("here", text.as_bytes())];
        describe(sources, Level::default(), &Silent).unwrap()
    }

    fn puzzles(count: u64) -> Vec<Puzzle> {
        tallyhouse_collection::MinimalByDeletion { seed: 3 }.puzzles(0..count)
    }

    #[test]
    fn weights_decide_the_shares_and_plain_puzzles_count_one() {
        let lines: Vec<String> = puzzles(4).iter().map(ToString::to_string).collect();
        let text = format!(
            "{}\n{} weight=2 family=1\n{} weight=3 family=1\nnonsense\n{} weight=4\n",
            lines[0], lines[1], lines[2], lines[3]
        );
        let described = describe_text(&text);
        assert_eq!((described.rows, described.puzzles, described.weighted), (5, 4, 3));
        assert_eq!(described.families, 1);
        let clues: Vec<f64> = puzzles(4).iter().map(|puzzle| puzzle.clues() as f64).collect();
        let mean = (clues[0] + 2.0 * clues[1] + 3.0 * clues[2] + 4.0 * clues[3]) / 10.0;
        assert!((described.mean_clues.unwrap().value - mean).abs() < 1e-12);
        let total: u128 = described.clues.iter().map(|row| row.weight).sum();
        assert_eq!(total, 10_000_000);
        // Clusters of weight 1, 5 and 4: (1 + 5 + 4)² / (1 + 25 + 16).
        assert!((described.effective_size - 100.0 / 42.0).abs() < 1e-12);
        assert_eq!(described.rejected.iter().map(|row| row.1).sum::<u64>(), 1);
        assert_eq!(described.minimal.unwrap().value, 1.0);
    }

    /// The mean number of clues is no share: neither limit is cut off at 1.
    #[test]
    fn the_mean_of_weighted_clues_lies_inside_its_interval() {
        let lines = puzzles(12).into_iter().enumerate();
        let lines = lines.map(|(i, puzzle)| format!("{puzzle} weight={}\n", 1 + i % 3));
        let mean = describe_text(&lines.collect::<String>()).mean_clues.unwrap();
        assert!(mean.interval.low > 20.0 && mean.interval.high < 30.0, "{mean:?}");
        assert!(mean.interval.contains(mean.value));
    }

    /// All of eight families are minimal, one of which weighs as much as a hundred others: that is worth
    /// one family and a bit.
    #[test]
    fn a_share_of_all_is_no_surer_than_its_weights_allow() {
        let weight = |i: usize| if i == 0 { 100 } else { 1 };
        let lines = puzzles(8).into_iter().enumerate();
        let lines = lines.map(|(i, puzzle)| format!("{puzzle} weight={} family={i}\n", weight(i)));
        let minimal = describe_text(&lines.collect::<String>()).minimal.unwrap();
        let one = Share::new(1, 1).unwrap().estimate(Level::default());
        assert_eq!((minimal.value, minimal.interval), (1.0, one.interval));
    }

    /// The clues of a family of 800 of the greatest weights sum to more than 64 bits hold.
    #[test]
    fn great_weights_do_not_wrap() {
        let made = puzzles(9);
        let clues = |puzzle: &Puzzle| puzzle.clues() as f64;
        let other = made.iter().find(|puzzle| clues(puzzle) != clues(&made[0])).unwrap();
        let text = format!("{} weight=1000000000 family=1\n", made[0]).repeat(800);
        let described = describe_text(&format!("{text}{other} weight=1000000000\n"));
        let mean = (800.0 * clues(&made[0]) + clues(other)) / 801.0;
        assert!((described.mean_clues.unwrap().value - mean).abs() < 1e-9);
    }

    #[test]
    fn repeats_and_symmetry_are_seen() {
        let made = puzzles(1)[0];
        let turned: String = made.to_string().chars().rev().collect();
        let described = describe_text(&format!("{made}\n{turned}\n{made}\n"));
        assert_eq!((described.puzzles, described.repeated, described.equivalent), (3, 1, 1));
        let text = described.text();
        assert!(text.contains("Repeats: 1 exact, 1 equivalent"), "{text}");
        assert!(text.contains("Minimal (no clue can go): 3 of 3"), "{text}");
    }

    #[test]
    fn percentages_do_not_claim_certainty() {
        let share = Share::new(100_000, 100_000).unwrap().estimate(Level::default());
        let words = percent(Some(&share));
        assert!(words.starts_with("100 % (99.99"), "{words}");
        assert!(!words.contains("(100"), "{words}");
    }
}
