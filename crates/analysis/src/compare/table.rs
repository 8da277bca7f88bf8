//! The report of what was counted, and its tables.

use tallyhouse_collection::Rows;
use tallyhouse_engine::effort::Reader;
use tallyhouse_stats::{Clusters, Estimate, Level, Limits, StatsError, holm};

use super::pass::{BookCounts, Counted, Pairs};
use super::sums::{BookSums, ReachSums, ReaderSums};
use super::{
    AgainstBase, CompareReport, CompareSettings, ComparedRulebook, LookCosts, PairedReach,
    ReachShare, ReaderCosts,
};
use crate::csv_file::{interval_fields, limit_fields, number_field, to_csv, value_fields};
use crate::order_search::{CostDifference, PuzzleMean};
use crate::{AnalysisError, Coverage, ReaderFile, Rulebook, population};

/// Makes the report of what was counted.
pub(super) fn report(
    settings: &CompareSettings,
    counted: Counted,
    rows: &Rows,
) -> Result<CompareReport, AnalysisError> {
    let base_reaches_all = reaches_all(&settings.rulebooks[0]);
    let books = settings.rulebooks.iter().zip(&counted.sums.books).zip(counted.books);
    let books = books.enumerate().map(|(index, ((book, sums), counts))| {
        let beside = (index > 0).then_some(base_reaches_all);
        rulebook(settings, book, beside, sums, counts)
            .map_err(|error| AnalysisError::Stats { claim: book.name().to_owned(), error })
    });
    let mut rulebooks = books.collect::<Result<Vec<_>, _>>()?;
    correct_p_values(&mut rulebooks)
        .map_err(|error| AnalysisError::Stats { claim: "glances".to_owned(), error })?;
    let sources: Vec<String> = rows.sources().iter().map(|one| one.name().to_owned()).collect();
    Ok(CompareReport {
        population: population(rows.notes(), &sources),
        sources,
        notes: rows.notes().to_vec(),
        blake3: rows.digest(),
        level: settings.level,
        rows: rows.rows(),
        puzzles: counted.puzzles,
        weighted: counted.weighted,
        clusters: counted.sums.clusters,
        readers: settings.readers.iter().map(|reader| reader.name.clone()).collect(),
        rulebooks,
    })
}

/// Tests if a rulebook can't end earlier than the full ladder by the definitions.
fn reaches_all(book: &Rulebook) -> bool {
    Coverage::of(book.order()).clears_all()
}

/// `beside` says of another rulebook than the base if the base reaches all by the definitions.
fn rulebook(
    settings: &CompareSettings,
    book: &Rulebook,
    beside: Option<bool>,
    sums: &BookSums,
    counts: BookCounts,
) -> Result<ComparedRulebook, StatsError> {
    let level = settings.level;
    let reaches_all = reaches_all(book);
    let readers = settings.readers.iter().zip(&sums.readers);
    let readers =
        readers.map(|(reader, sums)| reader_costs(reader, book, beside, sums, &counts, level));
    let readers = readers.collect::<Result<_, _>>()?;
    let against_base = match beside {
        None => None,
        Some(base_reaches_all) => {
            let certain = reaches_all && base_reaches_all;
            Some(AgainstBase {
                solved: paired(counts.solved, &sums.solved, certain, level)?,
                reached: paired(counts.reached, &sums.reached, certain, level)?,
                base_stops: counts.base_stops,
                this_stops: counts.this_stops,
            })
        }
    };
    Ok(ComparedRulebook {
        name: book.name().to_owned(),
        title: book.title().to_owned(),
        order: book.order().clone(),
        solved: share(counts.solved, &sums.solved, false, level)?,
        reached: share(counts.reached, &sums.reached, reaches_all, level)?,
        reaches_all,
        readers,
        against_base,
    })
}

fn share(
    pairs: Pairs,
    sums: &ReachSums,
    certain: bool,
    level: Level,
) -> Result<ReachShare, StatsError> {
    let share = if certain {
        Limits { value: Some(1.0), ..Limits::default() }
    } else {
        known(sums.share.share_by_weight(level), &sums.share)?
    };
    Ok(ReachShare { puzzles: pairs.both + pairs.this_only, share })
}

fn paired(
    pairs: Pairs,
    sums: &ReachSums,
    certain: bool,
    level: Level,
) -> Result<PairedReach, StatsError> {
    let Pairs { both, this_only, base_only, neither } = pairs;
    let more = if certain {
        Limits { value: Some(0.0), ..Limits::default() }
    } else {
        sums.pairs.difference(level)?
    };
    Ok(PairedReach { both, this_only, base_only, neither, more })
}

/// An estimate as far as the data tell it; the value alone if clusters don't differ.
fn known(estimate: Result<Estimate, StatsError>, sums: &Clusters<2>) -> Result<Limits, StatsError> {
    match Estimate::if_known(estimate)? {
        Some(estimate) => Ok(estimate.into()),
        None => Ok(Limits { value: Some(sums.quotient()?), ..Limits::default() }),
    }
}

fn reader_costs(
    reader: &ReaderFile,
    book: &Rulebook,
    beside: Option<bool>,
    sums: &ReaderSums,
    counts: &BookCounts,
    level: Level,
) -> Result<ReaderCosts, StatsError> {
    let (glances, glances_estimate) = PuzzleMean::of_costs(&sums.costs.pick([0, 2]), level)?;
    let difference = |costs: &Clusters<3>| match beside {
        Some(_) if costs.clusters() > 0 => CostDifference::of_costs(costs, level).map(Some),
        _ => Ok(None),
    };
    let Reader { learning, .. } = reader.model;
    let looks = book.order().looks().iter().zip(&sums.looks).zip(&counts.looks);
    let looks = looks.map(|((&look, sums), counts)| {
        let counts = counts[learning as usize];
        let [per_puzzle, of_all] = [sums.pick([0, 2]), sums.pick([0, 1])];
        Ok(LookCosts {
            look,
            made: counts.made,
            finds: counts.finds,
            raw: counts.glances.into(),
            glances: known(per_puzzle.mean_by_weight(level), &per_puzzle)?,
            share: known(of_all.share(level), &of_all)?,
        })
    });
    Ok(ReaderCosts {
        reader: reader.name.clone(),
        glances,
        glances_estimate,
        against_base: difference(&sums.costs)?,
        where_both_solve: difference(&sums.where_both_solve)?,
        looks: looks.collect::<Result<_, StatsError>>()?,
    })
}

/// Holm over the tests of glances of all rulebooks and readers, on all puzzles and on those that both
/// solve.
fn correct_p_values(books: &mut [ComparedRulebook]) -> Result<(), StatsError> {
    let readers = books.iter_mut().flat_map(|book| &mut book.readers);
    let tests: Vec<&mut CostDifference> = readers
        .flat_map(|costs| [&mut costs.against_base, &mut costs.where_both_solve])
        .flatten()
        .collect();
    let corrected = holm(&tests.iter().map(|test| test.p).collect::<Vec<_>>())?;
    tests.into_iter().zip(corrected).for_each(|(test, p)| test.p_holm = p);
    Ok(())
}

const GLANCES: &str = "\
    rulebook,reader,puzzles,glances,glances_low,glances_high,more_glances,more_glances_low,\
    more_glances_high,relative_glances,relative_glances_low,relative_glances_high,p_holm,\
    both_solve,both_more_glances,both_more_glances_low,both_more_glances_high,\
    both_relative_glances,both_relative_glances_low,both_relative_glances_high,both_p_holm";

const REACH: &str = "\
    rulebook,puzzles,solved,solved_share,solved_low,solved_high,reached,reached_share,reached_low,\
    reached_high,solved_by_both,solved_by_this_only,solved_by_base_only,solved_by_neither,\
    more_solved,more_solved_low,more_solved_high,reached_by_both,reached_by_this_only,\
    reached_by_base_only,reached_by_neither,more_reached,more_reached_low,more_reached_high";

const LOOKS: &str = "\
    rulebook,look,reader,made,finds,cells_seen,places_gathered,tries,glances,glances_low,\
    glances_high,share,share_low,share_high";

const STOPS: &str = "solved_by,stops,puzzle,source,line,givens,open_cells,look,house,open,naked";

impl CompareReport {
    /// Returns the tables as files: names and contents. `glances.csv` has a row for each rulebook and reader,
    /// `reach.csv` for each rulebook, `looks.csv` for each rulebook, look and reader, `stops.csv` for
    /// puzzles that one of two rulebooks solves, the first few of each. Counts are without weights,
    /// means and shares with them.
    ///
    /// # Errors
    /// If a record does not fit its header.
    pub fn files(&self) -> csv::Result<[(&'static str, Vec<u8>); 4]> {
        Ok([
            ("glances.csv", self.glances_csv()?),
            ("reach.csv", self.reach_csv()?),
            ("looks.csv", self.looks_csv()?),
            ("stops.csv", self.stops_csv()?),
        ])
    }

    fn glances_csv(&self) -> csv::Result<Vec<u8>> {
        let records = self.rulebooks.iter().flat_map(|book| {
            let both = book.against_base.as_ref().map(|against| against.solved.both);
            book.readers.iter().map(move |costs| {
                let ends =
                    interval_fields(costs.glances_estimate.map(|estimate| estimate.interval));
                let glances = (costs.glances.value.to_string(), ends);
                let name = (&book.name, &costs.reader, self.puzzles);
                let [all, solved] = [&costs.against_base, &costs.where_both_solve].map(difference);
                (name, glances, all, both, solved)
            })
        });
        to_csv(GLANCES, records)
    }

    fn reach_csv(&self) -> csv::Result<Vec<u8>> {
        let share = |reach: &ReachShare| (reach.puzzles, limit_fields(reach.share));
        let pairs = |pairs: Option<&PairedReach>| {
            let counts = pairs.map(|p| [p.both, p.this_only, p.base_only, p.neither]);
            let counts = counts.map(|counts| counts.map(|count| count.to_string()));
            (counts.unwrap_or_default(), limit_fields(pairs.map(|p| p.more).unwrap_or_default()))
        };
        let records = self.rulebooks.iter().map(|book| {
            let against = book.against_base.as_ref();
            (
                (&book.name, self.puzzles),
                [&book.solved, &book.reached].map(share),
                pairs(against.map(|against| &against.solved)),
                pairs(against.map(|against| &against.reached)),
            )
        });
        to_csv(REACH, records)
    }

    fn looks_csv(&self) -> csv::Result<Vec<u8>> {
        let records = self.rulebooks.iter().flat_map(|book| {
            (0..book.order.looks().len()).flat_map(move |look| {
                book.readers.iter().map(move |costs| {
                    let of_look = &costs.looks[look];
                    let name = (&book.name, of_look.look.to_string(), &costs.reader);
                    let glances = [limit_fields(of_look.glances), limit_fields(of_look.share)];
                    (name, of_look.made, of_look.finds, of_look.raw, glances)
                })
            })
        });
        to_csv(LOOKS, records)
    }

    fn stops_csv(&self) -> csv::Result<Vec<u8>> {
        let base = &self.base().name;
        let records = self.others().flat_map(|(book, against)| {
            let these = against.base_stops.iter().map(|stop| (&book.name, base, stop));
            these.chain(against.this_stops.iter().map(|stop| (base, &book.name, stop)))
        });
        let records = records.map(|(solver, stuck, stop)| {
            let place = (stop.puzzle, &stop.source, stop.line, stop.givens.to_string());
            let find = stop.find.map(|find| {
                let subset = find.subset;
                let [look, house] = [find.look.to_string(), subset.house.to_string()];
                [look, house, subset.open.to_string(), subset.naked.to_string()]
            });
            (solver, stuck, place, stop.open_cells, find.unwrap_or_default())
        });
        to_csv(STOPS, records)
    }
}

/// The difference, the ratio and the p-value as fields; empty ones without.
fn difference(compared: &Option<CostDifference>) -> impl serde::Serialize + use<> {
    let compared = compared.as_ref();
    let interval = compared.and_then(|c| c.more_glances_estimate).map(|more| more.interval);
    (
        number_field(compared.map(|c| c.more_glances.value)),
        interval_fields(interval),
        value_fields(compared.and_then(|c| c.relative_glances.as_ref())),
        number_field(compared.map(|c| c.p_holm)),
    )
}
