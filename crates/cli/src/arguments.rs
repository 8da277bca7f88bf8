//! What can be typed: one struct for each command, beside the function that runs it.

use clap::{CommandFactory, Parser, Subcommand};

use crate::card::CardCommand;
use crate::census::Census;
use crate::chart::Chart;
use crate::cluster::Cluster;
use crate::collect::Collect;
use crate::compare::Compare;
use crate::coverage::Coverage;
use crate::describe::Describe;
use crate::explain::Explain;
use crate::inspect::Inspect;
use crate::judge::Judge;
use crate::make::Make;
use crate::manual::{Completions, Man};
use crate::options::Common;
use crate::order::Order;
use crate::rates::Rates;
use crate::specimen::Specimen;
use crate::study::Study;
use crate::timings::Timings;
use crate::verify::Verify;
use crate::worksheet::Worksheet;
use crate::yields::Yields;

/// Measures which naked and hidden subsets occur in Sudoku puzzles.
///
/// Results go to standard output or to files, messages to standard error. Exit codes: 0 if all went
/// well, 1 if something failed, 2 if the command was used wrongly.
#[derive(Debug, Parser)]
#[command(name = "tallyhouse", version, max_term_width = 100, arg_required_else_help = true)]
pub(crate) struct Arguments {
    #[command(flatten)]
    pub(crate) common: Common,
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Collect(Collect),
    Describe(Describe),
    Make(Make),
    Census(Census),
    Cluster(Cluster),
    Verify(Verify),
    Rates(Rates),
    Yields(Yields),
    Judge(Judge),
    Card(CardCommand),
    Coverage(Coverage),
    Compare(Compare),
    Order(Order),
    Specimen(Specimen),
    Chart(Chart),
    Inspect(Inspect),
    Explain(Explain),
    Worksheet(Worksheet),
    Timings(Timings),
    Study(Study),
    Completions(Completions),
    Man(Man),
}

impl Command {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        match self {
            Self::Collect(collect) => collect.run(quiet),
            Self::Describe(describe) => describe.run(quiet),
            Self::Make(make) => make.run(quiet),
            Self::Census(census) => census.run(quiet),
            Self::Cluster(cluster) => cluster.run(),
            Self::Verify(verify) => verify.run(),
            Self::Rates(rates) => rates.run(),
            Self::Yields(yields) => yields.run(quiet),
            Self::Judge(judge) => judge.run(quiet),
            Self::Card(card) => card.run(quiet),
            Self::Coverage(coverage) => coverage.run(),
            Self::Compare(compare) => compare.run(quiet),
            Self::Order(order) => order.run(quiet),
            Self::Specimen(specimen) => specimen.run(quiet),
            Self::Chart(chart) => chart.run(quiet),
            Self::Inspect(inspect) => inspect.run(quiet),
            Self::Explain(explain) => explain.run(quiet),
            Self::Worksheet(worksheet) => worksheet.run(quiet),
            Self::Timings(timings) => timings.run(quiet),
            Self::Study(study) => study.run(quiet),
            Self::Completions(completions) => completions.run(Arguments::command()),
            Self::Man(man) => man.run(Arguments::command()),
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Arguments::command().debug_assert();
    }
}
