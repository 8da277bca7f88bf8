//! How a collection is generated: sampling, wishes and seed.

use std::ops::{Range, RangeInclusive};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use tallyhouse_board::{Clues, Frame, Frame9, Puzzle};
use tallyhouse_words::count;

use super::addition::Addition;
use super::asking::{Inquiry, MakingFrame};
use super::controlled::ControlledBias;
use super::deletion::Deletion;
use super::splitting::{Met, families, subsets};
use super::wishes::{Wishes, unanswerable};
use crate::{Entry, Weight};

/// How puzzles are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::EnumDiscriminants)]
#[strum_discriminants(
    name(SamplingMethod),
    doc = "The kinds of [`Sampling`], by name.",
    derive(
        Default,
        Hash,
        strum::Display,
        strum::EnumMessage,
        strum::EnumString,
        strum::IntoStaticStr,
        strum::VariantArray
    ),
    strum(serialize_all = "kebab-case")
)]
pub enum Sampling {
    /// Minimal puzzles by random deletion from a solved board.
    ///
    /// Clues of a random solved board are tried in random order and left out where one solution
    /// remains (top-down).
    #[strum_discriminants(default)]
    Deletion,
    /// Minimal puzzles by random addition to a blank board.
    ///
    /// Random clues are added to a blank board until one solution is left; then clues are left out
    /// as in deletion (bottom-up).
    Addition,
    /// Minimal puzzles with a known bias and weights that undo it; takes seconds for each.
    ///
    /// Clues of a random solved board are left out in random order; a try that meets a second
    /// solution before the clues are minimal is given up.
    ControlledBias,
    /// Weighted families of minimal puzzles with the same law, by multilevel splitting.
    ///
    /// There is one family for each solved board.
    Splitting {
        /// How many clue sets are carried from level to level, at most.
        population: u32,
    },
}

impl Sampling {
    /// How many clue sets splitting carries from level to level at most, unless another number is asked
    /// for.
    pub const POPULATION: u32 = 100;
    /// How many it may be: the population of a family lies in memory.
    pub const POPULATIONS: RangeInclusive<u32> = 1..=1_000_000;

    /// Takes a method by its kind; only splitting has a population.
    #[must_use]
    pub const fn of(method: SamplingMethod, population: u32) -> Self {
        match method {
            SamplingMethod::Deletion => Self::Deletion,
            SamplingMethod::Addition => Self::Addition,
            SamplingMethod::ControlledBias => Self::ControlledBias,
            SamplingMethod::Splitting => Self::Splitting { population },
        }
    }

    /// Returns a short name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Deletion => "random deletion",
            Self::Addition => "random addition",
            Self::ControlledBias => "controlled bias",
            Self::Splitting { .. } => "multilevel splitting",
        }
    }

    /// Returns what is known of the bias.
    #[must_use]
    pub const fn bias(self) -> &'static str {
        match self {
            Self::Deletion => {
                "solved boards uniform; favours puzzles with few clues: mean 24.400 ± 0.002 clues \
                 (95 %, measured here on a million puzzles; 24.38 published) against 26.58 for all \
                 minimal puzzles (Berthier 2009)"
            }
            Self::Addition => {
                "favours puzzles with few clues: mean 23.869 ± 0.003 clues (95 %, measured here on \
                 400,000 puzzles; 23.87 published) against 26.58 for all minimal puzzles (Berthier \
                 2009)"
            }
            Self::ControlledBias => {
                "solved boards uniform; a puzzle of n clues is drawn with a probability \
                 proportional to 1/C(81,n), undone by its weight (Berthier 2009)"
            }
            Self::Splitting { .. } => {
                "solved boards uniform; weighted sums are unbiased for all minimal puzzles of at most \
                 34 clues (fewer than one in a thousand million has more, by the published shares), \
                 shares and means as quotients of sums only as the families grow many; puzzles of one \
                 family depend on each other"
            }
        }
    }
}

/// How a collection is generated. Unit i (a puzzle; with splitting a family) depends on the recipe
/// and i alone.
///
/// ```
/// use tallyhouse_collection::{Recipe, Sampling, Wishes};
///
/// let wishes = Wishes { clues: Some(22..=23), ..Wishes::default() };
/// let recipe = Recipe::new(Sampling::Deletion, wishes, 7)?;
/// let unit = recipe.make(0..1).remove(0)?;
/// assert!((22..=23).contains(&unit.made[0].puzzle.clues()));
/// println!("{}{}", recipe.head(&(0..1)), unit.made[0].entry(0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "RecipeForm", into = "RecipeForm")]
pub struct Recipe {
    sampling: Sampling,
    wishes: Wishes,
    seed: u64,
    most_tries: u64,
}

/// A recipe as files hold it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RecipeForm {
    method: String,
    population: Option<u32>,
    clues: Option<(u8, u8)>,
    redundant: bool,
    symmetry: Option<String>,
    needs_subset: bool,
    finds: Vec<String>,
    seed: u64,
}

impl From<Recipe> for RecipeForm {
    fn from(recipe: Recipe) -> Self {
        let Recipe { sampling, wishes, seed, most_tries: _ } = recipe;
        Self {
            method: SamplingMethod::from(sampling).to_string(),
            population: match sampling {
                Sampling::Splitting { population } => Some(population),
                _ => None,
            },
            clues: wishes.clues.map(RangeInclusive::into_inner),
            redundant: wishes.redundant,
            symmetry: wishes.symmetry.map(|symmetry| symmetry.to_string()),
            needs_subset: wishes.needs_subset,
            finds: wishes.finds.iter().map(ToString::to_string).collect(),
            seed,
        }
    }
}

impl TryFrom<RecipeForm> for Recipe {
    type Error = String;

    fn try_from(form: RecipeForm) -> Result<Self, String> {
        let unknown = |what: &str| format!("unknown {what}");
        let method: SamplingMethod = form.method.parse().map_err(|_| unknown(&form.method))?;
        let population = form.population.unwrap_or(Sampling::POPULATION);
        if !Sampling::POPULATIONS.contains(&population) {
            return Err(unknown("population"));
        }
        let look = |look: &String| look.parse().map_err(|_| unknown(look));
        let wishes = Wishes {
            clues: form.clues.map(|(first, last)| first..=last),
            redundant: form.redundant,
            symmetry: match &form.symmetry {
                Some(name) => Some(name.parse().map_err(|_| unknown(name))?),
                None => None,
            },
            needs_subset: form.needs_subset,
            finds: form.finds.iter().map(look).collect::<Result<_, _>>()?,
        };
        Self::new(Sampling::of(method, population), wishes, form.seed)
            .map_err(|error| error.to_string())
    }
}

/// Wishes that the sampling can't grant.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RecipeError {
    /// Only deletion can keep a symmetry or stop early.
    #[error("{wish} goes with random deletion only, not with {}", sampling.name())]
    DeletionOnly {
        /// What was wished.
        wish: &'static str,
        /// With which sampling.
        sampling: Sampling,
    },
    /// Stopping early needs a number to stop at.
    #[error("clues that could go are left only with a wanted number of clues; give a range")]
    NowhereToStop,
    /// No puzzle that is drawn so has as few or as many clues.
    #[error(
        "no such puzzle has {} to {} clues: expected some number from {FEWEST_CLUES} to {most}",
        wanted.start(), wanted.end()
    )]
    NoSuchClues {
        /// The wanted numbers.
        wanted: RangeInclusive<u8>,
        /// The most clues that are possible.
        most: u8,
    },
    /// The look finds nothing in any quiet position.
    #[error(
        "expected a look for subsets with at least two cells on either side, found {0}: when no \
         single is left, it finds nothing"
    )]
    NoSuchContent(tallyhouse_engine::Look),
    /// A mask of 64 bits holds the wished looks.
    #[error("at most 64 looks can be wished for, found {0}")]
    TooManyLooks(usize),
    /// Splitting needs a population.
    #[error("the population must be at least 1")]
    NoPopulation,
}

/// Nothing that fits was drawn.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("puzzle {unit}: nothing that fits the wishes in {} tries", count(*tries))]
pub struct MakeError {
    /// The number of the unit.
    pub unit: u64,
    /// How many tries were made.
    pub tries: u64,
}

/// A generated puzzle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Made<P> {
    /// The givens.
    pub puzzle: P,
    /// How much it counts, where puzzles carry weights. With controlled bias 1000 stands for a
    /// puzzle that gives a third of the cells; with splitting the unit is 10¹² minimal puzzles of the
    /// board on 9×9 and one on 4×4.
    pub weight: Option<f64>,
    /// The board it comes from, where several puzzles share one.
    pub family: Option<u64>,
    /// How many tries it took.
    pub tries: u64,
}

/// No puzzle with exactly one solution has fewer clues (McGuire, Tugemann and Civario 2014).
const FEWEST_CLUES: u8 = 17;
/// A minimal puzzle has no full row, because the ninth clue of a row follows from the other eight.
const MOST_MINIMAL_CLUES: u8 = 72;

impl Made<Puzzle> {
    /// Returns the entry of the puzzle; weights are rounded to millionths and never vanish.
    #[must_use]
    pub fn entry(&self, number: u64) -> Entry {
        let weight = |weight: f64| {
            let text = format!("{:.6}", weight.max(1e-6));
            text.parse().unwrap_or(Weight::MOST)
        };
        let (weight, family) = (self.weight.map(weight), self.family);
        Entry { weight, family, ..Entry::new(number, self.puzzle) }
    }
}

/// What was generated for one number: a puzzle, or with splitting a family of puzzles.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit<P> {
    /// The puzzles.
    pub made: Vec<Made<P>>,
    /// How many questions about clues were left undecided. What they were asked about is not among
    /// the puzzles.
    pub undecided: u64,
}

impl<P> IntoIterator for Unit<P> {
    type Item = Made<P>;
    type IntoIter = std::vec::IntoIter<Made<P>>;

    fn into_iter(self) -> Self::IntoIter {
        self.made.into_iter()
    }
}

/// Returns the random stream of a unit.
pub(super) fn stream(seed: u64, unit: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(unit);
    rng
}

impl Recipe {
    /// How many units may be made. A number of 63 bits holds each of them with all its puzzles.
    pub const UNITS: RangeInclusive<u64> = 1..=1_000_000_000_000;
    /// How many tries in vain are made by default, where wishes are many tries away.
    pub const TRIES: u64 = 1_000_000;
    /// The same with controlled bias: a puzzle takes about 257,000 tries on average.
    pub const BLIND_TRIES: u64 = 1_000_000_000;

    /// Makes a recipe without wishes.
    #[must_use]
    pub fn plain(sampling: Sampling, seed: u64) -> Self {
        let most_tries = match sampling {
            Sampling::ControlledBias => Self::BLIND_TRIES,
            _ => Self::TRIES,
        };
        Self { sampling, wishes: Wishes::default(), seed, most_tries }
    }

    /// Makes a recipe.
    ///
    /// # Errors
    /// If the sampling can't grant the wishes.
    pub fn new(sampling: Sampling, wishes: Wishes, seed: u64) -> Result<Self, RecipeError> {
        let deletion_only = |wish| RecipeError::DeletionOnly { wish, sampling };
        if sampling != Sampling::Deletion && wishes.symmetry.is_some() {
            return Err(deletion_only("a symmetry of the givens"));
        }
        if sampling != Sampling::Deletion && wishes.redundant {
            return Err(deletion_only("leaving clues that could go"));
        }
        if wishes.redundant && wishes.clues.is_none() {
            return Err(RecipeError::NowhereToStop);
        }
        if let Some(wanted) = wishes.clues.clone() {
            let minimal = !wishes.redundant && wishes.symmetry.is_none();
            let most = match sampling {
                Sampling::Splitting { .. } => Frame9::DESCENT.most_clues as u8,
                _ if minimal => MOST_MINIMAL_CLUES,
                _ => 81,
            };
            if *wanted.end() < FEWEST_CLUES || *wanted.start() > most {
                return Err(RecipeError::NoSuchClues { wanted, most });
            }
        }
        if let Some(look) = unanswerable(&wishes.finds) {
            return Err(RecipeError::NoSuchContent(look));
        }
        if wishes.finds.len() > 64 {
            return Err(RecipeError::TooManyLooks(wishes.finds.len()));
        }
        if sampling == (Sampling::Splitting { population: 0 }) {
            return Err(RecipeError::NoPopulation);
        }
        Ok(Self { wishes, ..Self::plain(sampling, seed) })
    }

    /// Gives a wish up after so many tries in vain: those for one puzzle, or those for all puzzles of a
    /// batch of which none was found yet. What is made does not depend on it.
    #[must_use]
    pub fn with_most_tries(self, most_tries: u64) -> Self {
        Self { most_tries, ..self }
    }

    /// Returns the command that makes so many units.
    #[must_use]
    pub fn command(&self, count: u64) -> String {
        let method = SamplingMethod::from(self.sampling);
        let other = method != SamplingMethod::default();
        let method = if other { format!(" --method {method}") } else { String::new() };
        format!("make{method}{}", self.options(count))
    }

    /// Returns the options of a scan that makes so many units.
    #[must_use]
    pub fn census_options(&self, count: u64) -> String {
        format!("--make {}{}", SamplingMethod::from(self.sampling), self.options(count))
    }

    fn options(&self, count: u64) -> String {
        let mut command = format!(" --count {count} --seed {}", self.seed);
        if let Sampling::Splitting { population } = self.sampling
            && population != Sampling::POPULATION
        {
            command += &format!(" --population {population}");
        }
        let Wishes { clues, redundant, symmetry, needs_subset, finds } = &self.wishes;
        if let Some(clues) = clues {
            command += &format!(" --clues {}..{}", clues.start(), clues.end());
        }
        for (option, wanted) in [(" --redundant", *redundant), (" --needs-subset", *needs_subset)] {
            command += if wanted { option } else { "" };
        }
        if let Some(symmetry) = symmetry {
            command += &format!(" --symmetry {symmetry}");
        }
        finds.iter().for_each(|look| command += &format!(" --finds \"{look}\""));
        command
    }

    /// Tests if nothing is wished.
    pub(super) fn is_plain(&self) -> bool {
        self.wishes == Wishes::default()
    }

    /// Returns the seed.
    #[must_use]
    pub const fn seed(&self) -> u64 {
        self.seed
    }

    /// Returns how puzzles are drawn.
    #[must_use]
    pub const fn sampling(&self) -> Sampling {
        self.sampling
    }

    /// Returns what is known of the bias: of puzzles that meet wishes, less than of all.
    fn bias(&self) -> &'static str {
        match self.sampling {
            Sampling::Deletion if self.wishes != Wishes::default() => {
                "solved boards uniform; which of the puzzles that meet the wishes are favoured is not \
                 known"
            }
            Sampling::Addition if self.wishes != Wishes::default() => {
                "which of the puzzles that meet the wishes are favoured is not known"
            }
            _ => self.sampling.bias(),
        }
    }

    /// Returns the comment lines at the head of a collection: how it was made and what is known of
    /// its bias.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let mut notes = vec![
            format!("method: minimal puzzles by {}", self.sampling.name()),
            format!("bias: {}", self.bias()),
        ];
        if self.wishes.redundant || self.wishes.symmetry.is_some() {
            notes[0] = format!("method: puzzles by {}", self.sampling.name());
        }
        if let Sampling::Splitting { population } = self.sampling {
            notes.push(format!("population: {population}"));
        }
        if let Some(clues) = &self.wishes.clues {
            let stop = if self.wishes.redundant { ", clues that could go may be left" } else { "" };
            notes.push(format!("clues: {}..{}{stop}", clues.start(), clues.end()));
        }
        if let Some(symmetry) = self.wishes.symmetry {
            notes.push(format!("symmetry of givens: {symmetry}; deleted in groups"));
        }
        if self.wishes.needs_subset {
            notes.push("wanted: singles alone don't solve it".to_owned());
        }
        for look in &self.wishes.finds {
            notes.push(format!("wanted: {look} finds something on the full ladder"));
        }
        notes.push(format!("seed: {}", self.seed));
        notes
    }

    /// Generates the puzzles of each unit.
    #[must_use]
    pub fn make(&self, units: Range<u64>) -> Vec<Result<Unit<Puzzle>, MakeError>> {
        let to_puzzle = |clues: &Clues<Frame9>| {
            Puzzle::try_from(clues).unwrap_or_else(|repeat| unreachable!("{repeat:?}"))
        };
        let allow = |clues: &[Clues<Frame9>]| {
            self.wishes.allow_walks(&clues.iter().map(to_puzzle).collect::<Vec<_>>())
        };
        let made = self.make_on::<Frame9>(units, &allow, 1e12);
        let convert = |made: &Made<Clues<Frame9>>| Made {
            puzzle: to_puzzle(&made.puzzle),
            weight: made.weight,
            family: made.family,
            tries: made.tries,
        };
        let convert = |unit: Unit<Clues<Frame9>>| Unit {
            made: unit.made.iter().map(convert).collect(),
            undecided: unit.undecided,
        };
        made.into_iter().map(|unit| unit.map(convert)).collect()
    }

    fn make_on<F: MakingFrame>(
        &self,
        units: Range<u64>,
        allow: &dyn Fn(&[Clues<F>]) -> Vec<bool>,
        weight_unit: f64,
    ) -> Vec<Result<Unit<Clues<F>>, MakeError>> {
        match self.sampling {
            Sampling::Deletion => self.rounds(units, allow, |recipe, one| {
                let groups = match recipe.wishes.symmetry {
                    Some(symmetry) => symmetry.groups::<F>(),
                    None => (0..F::CELLS).map(|cell| 1 << cell).collect(),
                };
                let least = match &recipe.wishes.clues {
                    Some(range) if recipe.wishes.redundant => {
                        usize::from(one.rng.random_range(range.clone()))
                    }
                    _ => 0,
                };
                (Deletion::<F>::new(&mut one.rng, &groups, least), |deletion, one| {
                    one.undecided += u64::from(deletion.is_undecided());
                    deletion.result()
                })
            }),
            Sampling::Addition => self.rounds(units, allow, |_, one| {
                (Addition::<F>::new(&one.rng), |addition, one| {
                    let clues = addition.result();
                    one.undecided += u64::from(addition.is_undecided());
                    one.rng = addition.into_rng();
                    clues
                })
            }),
            Sampling::ControlledBias => self.rounds(units, allow, |recipe, one| {
                let inquiry = ControlledBias::<F>::new(&one.rng, recipe.most_tries - one.tries);
                // The rounds count one try themselves.
                (inquiry, |inquiry, one| {
                    let clues = inquiry.result();
                    one.tries += inquiry.tries().saturating_sub(1);
                    one.undecided += inquiry.undecided();
                    one.rng = inquiry.into_rng();
                    clues
                })
            }),
            Sampling::Splitting { population } => {
                let rngs = units.clone().map(|unit| stream(self.seed, unit)).collect();
                let families = families::<F>(rngs, population as usize);
                let one = |(unit, family)| Ok(self.family(unit, family, allow, weight_unit));
                units.zip(families).map(one).collect()
            }
        }
    }

    fn family<F: MakingFrame>(
        &self,
        unit: u64,
        (mut found, undecided): Met<F>,
        allow: &dyn Fn(&[Clues<F>]) -> Vec<bool>,
        weight_unit: f64,
    ) -> Unit<Clues<F>> {
        found.retain(|(clues, _)| self.wishes.allow_clues(clues.count()));
        let allowed = allow(&found.iter().map(|found| found.0).collect::<Vec<_>>());
        let made = |(puzzle, weight): (Clues<F>, f64)| Made {
            puzzle,
            weight: Some(weight / weight_unit),
            family: Some(unit),
            tries: 1,
        };
        let found = found.into_iter().zip(allowed).filter(|found| found.1);
        Unit { made: found.map(|found| made(found.0)).collect(), undecided }
    }

    /// Runs one try of every unit that has no puzzle yet, until all have one or gave up.
    fn rounds<F, C, S, E>(
        &self,
        units: Range<u64>,
        allow: &dyn Fn(&[Clues<F>]) -> Vec<bool>,
        start: S,
    ) -> Vec<Result<Unit<Clues<F>>, MakeError>>
    where
        F: MakingFrame,
        C: Inquiry<F>,
        S: Fn(&Self, &mut Try) -> (C, E),
        E: Fn(C, &mut Try) -> Option<Clues<F>>,
    {
        let first = units.start;
        let mut made: Vec<_> = units.clone().map(|_| None).collect();
        let mut open: Vec<Try> = units.map(|unit| Try::new(self.seed, unit)).collect();
        let mut found_any = false;
        while !open.is_empty() {
            let (mut inquiries, ends): (Vec<C>, Vec<E>) =
                open.iter_mut().map(|one| start(self, one)).unzip();
            F::run(&mut inquiries);
            let mut drawn = Vec::with_capacity(open.len());
            for ((inquiry, end), one) in inquiries.into_iter().zip(ends).zip(&mut open) {
                one.tries += 1;
                drawn
                    .push(end(inquiry, one).filter(|clues| self.wishes.allow_clues(clues.count())));
            }
            let found: Vec<Clues<F>> = drawn.iter().flatten().copied().collect();
            let mut allowed = allow(&found).into_iter();
            let mut left = Vec::new();
            found_any |= !found.is_empty() && allowed.as_slice().contains(&true);
            // Wishes that nothing grants are not asked for again for each puzzle.
            let in_vain = open.iter().map(|one| one.tries).sum();
            let is_hopeless = !found_any && in_vain >= self.most_tries;
            for (one, clues) in open.into_iter().zip(drawn) {
                let slot = &mut made[(one.unit - first) as usize];
                match clues.filter(|_| allowed.next().unwrap_or(false)) {
                    Some(puzzle) => {
                        let made = vec![self.made(puzzle, one.tries)];
                        *slot = Some(Ok(Unit { made, undecided: one.undecided }));
                    }
                    None if is_hopeless => {
                        *slot = Some(Err(MakeError { unit: one.unit, tries: in_vain }));
                    }
                    None if one.tries >= self.most_tries => {
                        *slot = Some(Err(MakeError { unit: one.unit, tries: one.tries }));
                    }
                    None => left.push(one),
                }
            }
            open = left;
        }
        made.into_iter().flatten().collect()
    }

    fn made<F: Frame>(&self, puzzle: Clues<F>, tries: u64) -> Made<Clues<F>> {
        let weighted = self.sampling == Sampling::ControlledBias;
        let weight = weighted
            .then(|| 1000.0 * subsets(F::CELLS, puzzle.count()) / subsets(F::CELLS, F::CELLS / 3));
        Made { puzzle, weight, family: None, tries }
    }
}

/// A unit that has no puzzle yet.
struct Try {
    unit: u64,
    rng: ChaCha8Rng,
    tries: u64,
    undecided: u64,
}

impl Try {
    fn new(seed: u64, unit: u64) -> Self {
        Self { unit, rng: stream(seed, unit), tries: 0, undecided: 0 }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::{are_minimal, validity};

    fn shares(counts: impl IntoIterator<Item = (usize, f64)>) -> [f64; 3] {
        let mut sums = [0.0; 3];
        counts.into_iter().for_each(|(clues, weight)| sums[clues - 4] += weight);
        let total: f64 = sums.iter().sum();
        sums.map(|sum| sum / total)
    }

    fn small(sampling: Sampling, units: u64) -> Vec<Made<Clues<Frame4>>> {
        let allow = |clues: &[Clues<Frame4>]| vec![true; clues.len()];
        let made = Recipe::plain(sampling, 2009).make_on(0..units, &allow, 1.0);
        made.into_iter().flat_map(Result::unwrap).collect()
    }

    /// Chi-squared of counts by clues against an exact law; with two degrees of freedom it exceeds
    /// 18.4 with probability 0.0001.
    fn chi_squared(made: &[Made<Clues<Frame4>>], law: [f64; 3]) -> f64 {
        let shares = shares(made.iter().map(|made| (made.puzzle.count(), 1.0)));
        let n = made.len() as f64;
        shares.iter().zip(law).map(|(share, p)| n * (share - p).powi(2) / p).sum()
    }

    #[test]
    fn a_recipe_is_read_back_from_what_files_hold() {
        let wishes = Wishes {
            clues: Some(22..=30),
            redundant: true,
            symmetry: Some(super::super::GivensSymmetry::Diagonal),
            needs_subset: true,
            finds: vec!["naked 3 open 7".parse().unwrap()],
        };
        let wished = Recipe::new(Sampling::Deletion, wishes, 5).unwrap();
        assert_eq!(
            wished.command(7),
            "make --count 7 --seed 5 --clues 22..30 --redundant --needs-subset --symmetry diagonal \
             --finds \"naked 3 open 7..7\""
                .replace("7..7", "7")
        );
        let splitting = Recipe::plain(Sampling::Splitting { population: 9 }, 1);
        let command = "make --method splitting --count 2 --seed 1 --population 9";
        assert_eq!(splitting.command(2), command);
        for recipe in [wished, splitting, Recipe::plain(Sampling::ControlledBias, u64::MAX)] {
            let form = serde_json::to_string(&recipe).unwrap();
            assert_eq!(serde_json::from_str::<Recipe>(&form).unwrap(), recipe);
            let form = form.replacen("\"redundant\":false", "\"redundant\":true", 1);
            let form = form.replacen("\"clues\":[22,30]", "\"clues\":null", 1);
            assert!(serde_json::from_str::<Recipe>(&form).is_err());
        }
    }

    #[test]
    fn deletion_follows_its_exact_law_on_small_boards() {
        // Exact law of top-down generation on 4×4, by dynamic programme over all clue sets
        // (recomputed, no publication).
        let law = [13_908_043.0 / 21_621_600.0, 53_247_251.0 / 151_351_200.0, 236.0 / 47_775.0];
        assert!(chi_squared(&small(Sampling::Deletion, 200_000), law) < 18.4);
    }

    #[test]
    fn controlled_bias_follows_its_exact_law_on_small_boards() {
        // D. Berthier, Unbiased Statistics of a Constraint Satisfaction Problem – a Controlled-Bias
        // Generator, CISSE 2009: P(n) ∝ 1/C(cells, n) for each puzzle (theorem from memory, proved
        // and recomputed on 4×4).
        let made = small(Sampling::ControlledBias, 100_000);
        let law = [2211.0 / 4331.0, 2090.0 / 4331.0, 30.0 / 4331.0];
        assert!(chi_squared(&made, law) < 18.4);
        // 4331/45045 of the tries succeed.
        let tries: u64 = made.iter().map(|made| made.tries).sum();
        let (p, n) = (4331.0 / 45_045.0, tries as f64);
        let deviation = (made.len() as f64 - n * p) / (n * p * (1.0 - p)).sqrt();
        assert!(deviation.abs() < 4.0, "{deviation}");
        // Its weights give the shares of all minimal puzzles: 25,728, 58,368 and 1,536.
        let weighted = shares(made.iter().map(|made| (made.puzzle.count(), made.weight.unwrap())));
        for (share, exact) in weighted.iter().zip([25_728.0, 58_368.0, 1_536.0]) {
            let exact = exact / 85_632.0;
            // The rarest clue count, about 690 of 100,000, is known to 4 %.
            assert!((share - exact).abs() < 0.15 * exact.min(0.06), "{share} {exact}");
        }
    }

    #[test]
    fn splitting_counts_all_minimal_puzzles_of_small_boards() {
        // 85,632 minimal 4×4 puzzles on 288 boards, 297⅓ a board (exhaustive count, no publication);
        // by clues 25,728, 58,368, 1,536. The estimate is unbiased for any population.
        for population in [1, 7, 200] {
            let units = 3_000_000 / (100 + u64::from(population) * 20);
            let made = small(Sampling::Splitting { population }, units);
            let mut sums = vec![[0.0; 3]; units as usize];
            for made in &made {
                let family = made.family.unwrap() as usize;
                sums[family][made.puzzle.count() - 4] += made.weight.unwrap();
            }
            // Chi-squared of the deviations of all three, each without what those before it tell; with
            // three degrees of freedom it exceeds 21.1 with probability 0.0001.
            let n = units as f64;
            let mean = |column: &[f64]| column.iter().sum::<f64>() / n;
            let covariance = |a: &[f64], b: &[f64]| {
                let (of_a, of_b) = (mean(a), mean(b));
                a.iter().zip(b).map(|(a, b)| (a - of_a) * (b - of_b)).sum::<f64>() / n
            };
            let (mut chi, mut before) = (0.0, Vec::<Vec<f64>>::new());
            for (clues, exact) in [25_728.0, 58_368.0, 1_536.0].into_iter().enumerate() {
                let deviation = |sums: &[f64; 3]| sums[clues] - exact / 288.0;
                let mut column: Vec<f64> = sums.iter().map(deviation).collect();
                for other in &before {
                    let slope = covariance(&column, other) / covariance(other, other);
                    column.iter_mut().zip(other).for_each(|(here, other)| *here -= slope * other);
                }
                let variance = covariance(&column, &column) / n;
                // The check can fail: each number is known to 15 %, most to 1 %.
                let error = variance.sqrt() * 288.0 / exact;
                assert!(error < 0.15, "{population} {clues}: {error}");
                chi += mean(&column).powi(2) / variance;
                before.push(column);
            }
            assert!(chi < 21.1, "{population}: {chi}");
        }
    }

    #[test]
    fn each_sampling_gives_minimal_puzzles_that_depend_on_their_number_alone() {
        for sampling in
            [Sampling::Deletion, Sampling::Addition, Sampling::Splitting { population: 100 }]
        {
            let recipe = Recipe::plain(sampling, 1);
            let together = recipe.make(0..6);
            let apart: Vec<_> = (0..6).flat_map(|unit| recipe.make(unit..unit + 1)).collect();
            assert_eq!(together, apart);
            assert_ne!(together, Recipe::plain(sampling, 2).make(0..6));
            let puzzles: Vec<Puzzle> =
                together.into_iter().flat_map(Result::unwrap).map(|made| made.puzzle).collect();
            for puzzle in &puzzles {
                assert_eq!(validity(puzzle), Ok(()), "{sampling:?}");
            }
            assert!(are_minimal(&puzzles).iter().all(|minimal| *minimal));
        }
        let spare: Puzzle = Recipe::new(
            Sampling::Deletion,
            Wishes { clues: Some(40..=40), redundant: true, ..Wishes::default() },
            1,
        )
        .unwrap()
        .make(0..1)
        .remove(0)
        .unwrap()
        .made[0]
            .puzzle;
        assert_eq!((spare.clues(), are_minimal(&[spare])), (40, vec![false]));
    }

    #[test]
    fn wishes_are_granted_or_given_up() {
        let wish = |wishes: Wishes| Recipe::new(Sampling::Deletion, wishes, 5).unwrap();
        let made = |recipe: &Recipe| {
            let made = recipe.make(0..20).into_iter().flat_map(Result::unwrap);
            made.map(|made| made.puzzle).collect::<Vec<_>>()
        };
        let few = wish(Wishes { clues: Some(22..=23), ..Wishes::default() });
        assert!(made(&few).iter().all(|puzzle| (22..=23).contains(&puzzle.clues())));
        let symmetry = Some(crate::GivensSymmetry::HalfTurn);
        for puzzle in made(&wish(Wishes { symmetry, ..Wishes::default() })) {
            assert!(crate::GivensSymmetry::HalfTurn.holds(&Clues::<Frame9>::from(&puzzle)));
            assert_eq!(validity(&puzzle), Ok(()));
        }
        let looks = ["naked 3 open 7..9", "hidden 2"].map(|look| look.parse().unwrap());
        let finds = wish(Wishes { finds: looks.to_vec(), ..Wishes::default() });
        for puzzle in made(&finds) {
            let walk = Wishes { finds: looks.to_vec(), ..Wishes::default() };
            assert_eq!(walk.allow_walks(&[puzzle]), [true]);
        }
        let never = wish(Wishes { clues: Some(60..=72), ..Wishes::default() }).with_most_tries(3);
        assert_eq!(never.make(7..8), [Err(MakeError { unit: 7, tries: 3 })]);
    }

    #[test]
    fn wishes_that_do_not_go_together_are_refused() {
        let symmetry = Some(crate::GivensSymmetry::Diagonal);
        let error = |sampling, wishes| Recipe::new(sampling, wishes, 1).unwrap_err().to_string();
        assert_eq!(
            error(Sampling::Addition, Wishes { symmetry, ..Wishes::default() }),
            "a symmetry of the givens goes with random deletion only, not with random addition"
        );
        let redundant = Wishes { redundant: true, ..Wishes::default() };
        assert!(error(Sampling::Deletion, redundant).contains("give a range"));
        for look in ["naked 1", "intersections", "hidden 8", "naked 3 open 4..4"] {
            let finds = vec![look.parse().unwrap()];
            let error = error(Sampling::Deletion, Wishes { finds, ..Wishes::default() });
            assert!(error.contains("when no single is left, it finds nothing"), "{look}: {error}");
        }
        let many = Wishes { clues: Some(35..=36), ..Wishes::default() };
        let splitting = Sampling::Splitting { population: 9 };
        assert!(error(splitting, many).ends_with("17 to 34"));
        for (wanted, redundant, expected) in
            [(1..=16, false, "17 to 72"), (81..=81, false, "17 to 72"), (5..=16, true, "17 to 81")]
        {
            let wishes = Wishes { clues: Some(wanted), redundant, ..Wishes::default() };
            assert!(error(Sampling::Deletion, wishes).ends_with(expected));
        }
    }
}
