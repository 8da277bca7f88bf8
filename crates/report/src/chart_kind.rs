//! The kinds of charts: their names, what they are drawn from, and how.

use std::ops::RangeInclusive;

use tallyhouse_analysis::yields::Frame;
use tallyhouse_analysis::{Card, Description, SideComparison};
use tallyhouse_figures::Figure;
use tallyhouse_stats::Level;
use tallyhouse_words::number_word;

use crate::ReportError;
use crate::charts::{
    Census, HeadToHead, Juries, LeftShapes, Needed, SearchedOrders, VerdictsOf, Walked, YieldTable,
    answer_card, clues, comparison, frontier, limits, linked, missed, narrowing, needed_looks,
    occurrence_counts, occurrence_rates, opens_in_words, paired, prices, ratios, rulebooks,
    shapes_by_open, side_ratios, verdict_table, yields,
};

tallyhouse_words::choice! {
    /// A kind of chart. Recipes, commands and files call it by the name of its variant; what a variant
    /// says of itself is the help that a command gives.
    pub enum ChartKind {
        /// The answer at a glance: which side to look for, by open cells.
        Card,
        /// Heat map of how many of 1,000 houses show a subset.
        Rates,
        /// Heat map of the proper subsets found.
        Counts,
        /// The smaller sides of subsets, by open cells.
        Shapes,
        /// Shares of puzzles that show each shape, for one or more datasets.
        Compare,
        /// The look that puzzles need first, for one or more datasets.
        First,
        /// The last look that puzzles need, solved or not, for one or more datasets.
        Hardest,
        /// How the interval of a share narrows with more puzzles.
        Narrowing,
        /// What the rulebooks of a trial leave.
        Missed,
        /// Which claims of a trial hold.
        Verdicts,
        /// Claims of a trial about two looks: the ratio of their prices, for the readers at the ends.
        Ratios,
        /// Claims of a trial about one look: its price beside the limit, for the readers at the ends.
        Limits,
        /// Effort and reach of the rulebooks of an order search.
        Frontier,
        /// What the rulebooks of a comparison cost each reader beside the first.
        Rulebooks,
        /// Clue counts beside the published distribution.
        Clues,
        /// Which of a look and its complement costs less, shape by shape.
        Sides,
        /// Glances of a look and its complement in the same houses.
        Effort,
        /// What a find costs each reader, naked and hidden, at one open count.
        Prices,
        /// How often a look finds something for each reader, naked and hidden, at one open count.
        Yields,
    }
}

/// A chart with its caption.
pub struct Chart {
    /// What is drawn.
    pub figure: Box<dyn Figure>,
    /// What a report says below it.
    pub caption: String,
}

/// A chart, or nothing where the data hold nothing of its kind.
pub type Drawn = Result<Option<Chart>, ReportError>;

/// What a kind of chart is drawn from, and how.
pub enum Draw {
    /// The advice on each shape.
    Card(fn(&Card) -> Drawn),
    /// One census, and the shapes that are asked for.
    Census(fn(&Census, &[(u8, u8)]) -> Drawn),
    /// Censuses beside each other, one at least.
    Censuses(fn(&[&Census]) -> Drawn),
    /// The same in houses of these open counts, for what is of use only where there are several.
    Comparison(fn(&[&Census], RangeInclusive<u8>) -> Drawn),
    /// What the rulebooks of a trial leave.
    Trial(fn(&[LeftShapes]) -> Drawn),
    /// What the juries of a trial go by.
    Juries(fn(&Juries) -> Drawn),
    /// What came out for the claims of a trial.
    Verdicts(fn(&VerdictsOf) -> Drawn),
    /// The rulebooks of a search for orders.
    Search(fn(&SearchedOrders) -> Drawn),
    /// The rulebooks of a comparison.
    HeadToHead(fn(&HeadToHead) -> Drawn),
    /// What a collection is like, and its name.
    Collection(fn(&Description, &str) -> Drawn),
    /// What looks cost, shape by shape, and which puzzles were walked.
    Sides(fn(&[SideComparison], &Walked) -> Drawn),
    /// What the looks of one shape cost, and which puzzles were walked.
    Costs(fn(&SideComparison, &[(f64, f64)], &Walked) -> Drawn),
    /// What looks yield in a frame in houses of one open count.
    Yields(fn(&YieldTable, Frame, u8) -> Drawn),
}

impl ChartKind {
    /// Tests if the chart shows the shape that is asked for.
    #[must_use]
    pub const fn takes_shape(self) -> bool {
        matches!(self, Self::Narrowing | Self::Effort)
    }

    /// Tests if the chart shows houses of the open count that is asked for.
    #[must_use]
    pub const fn takes_open(self) -> bool {
        self.takes_shape() || self.takes_frame()
    }

    /// Tests if the chart shows the frame that is asked for.
    #[must_use]
    pub const fn takes_frame(self) -> bool {
        matches!(self, Self::Prices | Self::Yields)
    }

    /// Tests if the chart has intervals of the level that is asked for; a trial, a search, a comparison and
    /// yields come with theirs.
    #[must_use]
    pub const fn takes_level(self) -> bool {
        let of_trial = matches!(self, Self::Missed | Self::Verdicts | Self::Ratios | Self::Limits);
        let given = of_trial
            || matches!(self, Self::Card | Self::Frontier | Self::Rulebooks)
            || self.takes_frame();
        !given && !matches!(self, Self::Rates | Self::Counts | Self::Shapes)
    }

    /// Returns how the chart is drawn.
    #[must_use]
    pub fn draw(self) -> Draw {
        match self {
            Self::Card => Draw::Card(|card| {
                chart("What to look for, the commonest first.", answer_card(card))
            }),
            Self::Rates => Draw::Census(|census, _| {
                let rates = occurrence_rates(&census.title, &census.counts, census.occurrence()?);
                let caption = of("Rates by house", &census.title);
                chart(&caption, linked(rates, &census.cells_lead_to))
            }),
            Self::Counts => Draw::Census(|census, _| {
                let counts = occurrence_counts(&census.title, &census.counts, census.occurrence()?);
                let caption = of("The counts behind the rates", &census.title);
                chart(&caption, linked(counts, &census.cells_lead_to))
            }),
            Self::Shapes => Draw::Census(|census, _| {
                let caption = of("Which side of a subset is the smaller one", &census.title);
                let found = census.occurrence()?;
                chart(&caption, shapes_by_open(&census.title, &census.counts, found))
            }),
            Self::Narrowing => Draw::Census(|census, shapes| {
                if shapes.is_empty() {
                    return Ok(None);
                }
                chart(
                    &of("Why rare shapes need many puzzles", &census.title),
                    narrowing(&census.folder, &census.title, shapes, census.level)?,
                )
            }),
            Self::Compare => Draw::Comparison(|all, opens| {
                let level = all.first().map_or_else(Level::default, |census| census.level);
                let all = all.iter().map(|census| {
                    let puzzles = census.counts.totals.puzzles;
                    Ok((census.title.clone(), puzzles, census.occurrence()?.clone()))
                });
                let all = all.collect::<Result<Vec<_>, ReportError>>()?;
                let caption = match opens_in_words(&opens) {
                    Some(opens) => of("The same shapes in different collections", &opens),
                    None => "The same shapes in different collections.".to_owned(),
                };
                chart(&caption, comparison(&all, opens, level))
            }),
            Self::First => Draw::Censuses(|all| {
                needed(Needed::First, "What helps first when no single is left.", all)
            }),
            Self::Hardest => Draw::Censuses(|all| {
                needed(Needed::Last, "How far down the order puzzles go.", all)
            }),
            Self::Missed => Draw::Trial(|left| {
                let from = left.first().map_or("", |book| &book.population);
                perhaps(&of("What each rulebook leaves at the end of its walk", from), missed(left))
            }),
            Self::Verdicts => Draw::Verdicts(|verdicts| {
                let caption = of("Which claims hold, walk by walk", &verdicts.population);
                perhaps(&caption, verdict_table(verdicts))
            }),
            Self::Ratios => Draw::Juries(|juries| {
                let caption = of("What one look costs for what another costs", juries.population());
                perhaps(&caption, ratios(juries))
            }),
            Self::Limits => Draw::Juries(|juries| {
                let caption =
                    of("What a look costs beside the limit of a claim", juries.population());
                perhaps(&caption, limits(juries))
            }),
            Self::Frontier => {
                Draw::Search(|orders| chart("Rulebooks by effort and reach.", frontier(orders)))
            }
            Self::Rulebooks => Draw::HeadToHead(|all| {
                perhaps("What rulebooks cost each reader beside the first.", rulebooks(all))
            }),
            Self::Clues => Draw::Collection(|description, name| {
                let caption = of("Clue counts beside the published distribution", name);
                chart(&caption, clues(description, name))
            }),
            Self::Sides => Draw::Sides(|sides, walked| {
                let caption = "Which of the two looks costs less, shape by shape.";
                perhaps(caption, side_ratios(sides, walked))
            }),
            Self::Effort => Draw::Costs(|side, costs, walked| match paired(side, costs, walked) {
                Some(figure) => chart(&figure.ratio.clone(), figure),
                None => Ok(None),
            }),
            Self::Prices => Draw::Yields(|table, frame, open| {
                let caption = of("What a find costs, for all readers", &open_cells(open));
                perhaps(&caption, prices(table, frame, open))
            }),
            Self::Yields => Draw::Yields(|table, frame, open| {
                let caption = of("How often looks find something", &open_cells(open));
                perhaps(&caption, yields(table, frame, open))
            }),
        }
    }
}

/// A caption that says what the figure is of, which others show for something else.
fn of(caption: &str, what: &str) -> String {
    format!("{caption}: {what}.")
}

fn open_cells(open: u8) -> String {
    format!("{} open cells", number_word(open))
}

fn chart(caption: &str, figure: impl Figure + 'static) -> Drawn {
    perhaps(caption, Some(figure))
}

fn perhaps(caption: &str, figure: Option<impl Figure + 'static>) -> Drawn {
    let chart = |figure| Chart { figure: Box::new(figure), caption: caption.to_owned() };
    Ok(figure.map(chart))
}

fn needed(needed: Needed, caption: &str, all: &[&Census]) -> Drawn {
    let all = all.iter().map(|census| Ok((census.title.clone(), census.needed()?.clone())));
    let all = all.collect::<Result<Vec<_>, ReportError>>()?;
    perhaps(caption, needed_looks(needed, &all))
}
