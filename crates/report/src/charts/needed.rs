//! Which looks puzzles need.

use tallyhouse_analysis::{LookShare, LookShares, NOTHING_FOUND, SINGLES_ALONE, STUCK};
use tallyhouse_engine::Look;
use tallyhouse_figures::{Heading, PartLook, ShareBar, ShareBars, SharePart, Side};
use tallyhouse_stats::{Level, Share};
use tallyhouse_words::{percent, set_name};

use super::words;
use crate::few::is_few;

/// Which of the looks that a puzzle needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needed {
    /// The one that finds something at its first quiet position.
    First,
    /// The last one in the order of the walk.
    Last,
}

/// Which look puzzles need first or last, collection by collection, by weight where puzzles carry
/// weights; `None` if no collection has tables.
#[must_use]
pub fn needed_looks(needed: Needed, collections: &[(String, LookShares)]) -> Option<ShareBars> {
    let rows = |shares: &LookShares| match needed {
        Needed::First => shares.first.clone(),
        Needed::Last => last_rows(shares),
    };
    let told: Vec<Told> = collections
        .iter()
        .map(|(name, shares)| (name, shares, rows(shares)))
        .filter(|(.., rows)| !rows.is_empty())
        .collect();
    // Walks may differ in their looks: those that only later ones have stand at the end.
    let mut parts: Vec<String> = Vec::new();
    for row in told.iter().flat_map(|(.., rows)| rows) {
        if row.puzzles > 0 && !parts.contains(&row.look) {
            parts.push(row.look.clone());
        }
    }
    if let Some((.., rows)) = told.first() {
        let place = |part: &String| rows.iter().position(|row| row.look == *part);
        parts.sort_by_key(|part| place(part).unwrap_or(usize::MAX));
    }
    if parts.is_empty() {
        return None;
    }
    let bars = told.iter().map(|(name, shares, rows)| {
        // Shares are all that is drawn, so any unit of weight will do that fits.
        let most = rows.iter().map(|row| row.weight).max().unwrap_or(0);
        let unit = (most / 1_000_000_000_000_000_000).max(1);
        let weight = |row: &LookShare| u64::try_from(row.weight / unit).unwrap_or(u64::MAX);
        let size = |part: &String| {
            let row = rows.iter().find(|row| row.look == *part);
            row.map_or(0, |row| if shares.weighted { weight(row) } else { row.puzzles })
        };
        ShareBar {
            label: (*name).clone(),
            counts: parts.iter().map(size).collect(),
            n: Some(if shares.weighted { shares.units } else { shares.puzzles }),
        }
    });
    let bars: Vec<ShareBar> = bars.collect();
    let (title, what) = match needed {
        Needed::First => (
            first_title(&told),
            "The first look of the order that finds something where a puzzle has no single left",
        ),
        Needed::Last => (
            last_title(&told),
            "The last look of the order that a puzzle's walk needed, solved or not",
        ),
    };
    let by_weight = told.iter().any(|(_, shares, _)| shares.weighted);
    let how = match by_weight {
        true => "; n puzzles, or n families where puzzles carry weights, then by weight",
        false => "; n puzzles",
    };
    let sentences = bars.iter().zip(&told).map(|(bar, (_, shares, _))| {
        let total: f64 = bar.counts.iter().map(|&size| size as f64).sum();
        let mut ranked: Vec<(u64, &String)> = bar.counts.iter().copied().zip(&parts).collect();
        ranked.sort_by_key(|&(size, _)| std::cmp::Reverse(size));
        let shown = ranked.iter().take(3).filter(|(size, _)| *size > 0);
        let words = shown.map(|&(size, part)| {
            format!("{} {}", in_trade(part), percent(size as f64 / total.max(1.0)))
        });
        let words: Vec<String> = words.collect();
        let n = words::puzzles_in(shares.puzzles, shares.units);
        format!("{}, {n}: {}.", bar.label, words.join(", "))
    });
    let sentences: Vec<String> = sentences.collect();
    Some(ShareBars {
        heading: Heading {
            title,
            subtitle: format!("{what}{how}."),
            notes: Vec::new(),
            alt: format!("Stacked bars of shares. {}", sentences.join(" ")),
        },
        axis_title: "share of puzzles".to_owned(),
        parts: parts.into_iter().map(part).collect(),
        key: [
            (PartLook::Side(Side::Naked), "a naked look"),
            (PartLook::Side(Side::Hidden), "a hidden look"),
            (PartLook::Neither, "no look for subsets"),
            (PartLook::Stuck, "no look helps"),
        ]
        .map(|(look, words)| (look, words.to_owned()))
        .to_vec(),
        bars,
    })
}

/// A collection with the looks that its puzzles need.
type Told<'a> = (&'a String, &'a LookShares, Vec<LookShare>);

/// Returns how a look is drawn: as the side that it looks for.
fn part(name: String) -> SharePart {
    let look = match name.split_once(' ') {
        Some(("naked", _)) => PartLook::Side(Side::Naked),
        Some(("hidden", _)) => PartLook::Side(Side::Hidden),
        _ if [STUCK, NOTHING_FOUND].contains(&name.as_str()) => PartLook::Stuck,
        _ => PartLook::Neither,
    };
    SharePart { name: in_trade(&name), look }
}

/// Tests if a row stands for a look for subsets or singles.
fn has_side(row: &&LookShare) -> bool {
    matches!(part(row.look.clone()).look, PartLook::Side(_))
}

fn is_single(row: &LookShare) -> bool {
    row.look.parse::<Look>().is_ok_and(Look::is_single)
}

/// The last looks of puzzles. Where singles end for good, they either solve the puzzle or are stuck: told
/// apart, as by the first look, wherever the walk ends where it is stuck.
fn last_rows(shares: &LookShares) -> Vec<LookShare> {
    let ends = shares.first.first().zip(shares.first.last());
    let split = ends.zip(shares.by_singles.as_ref()).filter(|((alone, stuck), both)| {
        alone.weight + stuck.weight == both.weight && alone.puzzles + stuck.puzzles == both.puzzles
    });
    let Some(((alone, stuck), _)) = split else { return shares.last.clone() };
    let beyond = shares.last.iter().filter(|row| !is_single(row) && row.look != NOTHING_FOUND);
    [alone].into_iter().chain(beyond).chain([stuck]).cloned().collect()
}

/// The look that helps first in most puzzles that need one, if it is the same everywhere.
fn first_title(told: &[Told]) -> String {
    let commonest = |(.., rows): &Told| {
        let looks = rows.iter().filter(has_side);
        let all: i128 = looks.clone().map(|row| row.weight).sum();
        let most = looks.max_by_key(|row| row.weight)?;
        let low = most.share.as_ref().map(|share| share.interval.low);
        (2 * most.weight > all && !is_few(most.puzzles, low)).then(|| most.look.clone())
    };
    let names: Vec<Option<String>> = told.iter().map(commonest).collect();
    let same = names.first().cloned().flatten();
    match same.filter(|same| names.iter().all(|name| name.as_ref() == Some(same))) {
        Some(look) => format!("Where singles end, a {} most often helps first", in_trade(&look)),
        None => "Which look helps first where singles end?".to_owned(),
    }
}

/// How few puzzles go beyond pairs, or whether most need no look for subsets: told only where their numbers
/// leave no doubt.
fn last_title(told: &[Told]) -> String {
    const FEW: [(f64, &str); 4] = [
        (0.01, "one puzzle in a hundred"),
        (0.05, "one puzzle in twenty"),
        (0.1, "one puzzle in ten"),
        (0.2, "one puzzle in five"),
    ];
    let most = told.iter().map(|(.., rows)| beyond_pairs_at_most(rows));
    let most = most.reduce(|one, other| Some(f64::max(one?, other?))).flatten();
    let few = most.and_then(|most| FEW.iter().find(|(share, _)| most < *share));
    if let Some((_, few)) = few {
        return format!("A look beyond pairs helps in fewer than {few}");
    }
    let without = |(_, shares, rows): &Told| {
        let singles = rows.iter().filter(|row| is_single(row) || !has_side(row));
        let puzzles: u64 = singles.map(|row| row.puzzles).sum();
        let share = Share::new(puzzles.min(shares.puzzles), shares.puzzles).ok();
        let low = share.map(|share| share.estimate(Level::default()).interval.low);
        !shares.weighted && low.is_some_and(|low| low > 0.5)
    };
    if told.iter().all(without) {
        "In most puzzles no look for subsets helps".to_owned()
    } else {
        "How far down the order do puzzles go?".to_owned()
    }
}

/// A limit of the share of puzzles whose last look is for more than a pair: the sum of the upper ends; none
/// where an end is not told, or a look is for no subset.
fn beyond_pairs_at_most(rows: &[LookShare]) -> Option<f64> {
    let size = |row: &LookShare| row.look.parse::<Look>().ok()?.size().map(|size| size.get());
    let looks =
        rows.iter().filter(|row| ![STUCK, NOTHING_FOUND, SINGLES_ALONE].contains(&&*row.look));
    let high = |row: &LookShare| match size(row)? {
        1 | 2 => Some(0.0),
        _ => Some(row.share.as_ref()?.interval.high),
    };
    looks.map(high).sum()
}

/// Writes a look such as `naked 2` in the words of the trade.
fn in_trade(look: &str) -> String {
    let words = look.split_once(' ').and_then(|(side, size)| Some((side, size.parse().ok()?)));
    words.map_or_else(|| look.to_owned(), |(side, size)| format!("{side} {}", set_name(size)))
}
