//! Which looks puzzles need.

use tallyhouse_analysis::{LookShare, LookShares};
use tallyhouse_figures::{Heading, ShareBar, ShareBars};
use tallyhouse_words::{count, percent};

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
        Needed::Last => shares.last.clone(),
    };
    let told: Vec<(&String, &LookShares, Vec<LookShare>)> = collections
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
            n: Some(shares.puzzles),
        }
    });
    let bars: Vec<ShareBar> = bars.collect();
    let (title, what) = match needed {
        Needed::First => (
            "The look that puzzles need first",
            "The look that finds something at a puzzle's first quiet position, where no single is \
             left",
        ),
        Needed::Last => (
            "The last look that puzzles need",
            "The look of the order that comes last among those a puzzle's walk needed, solved or \
             not",
        ),
    };
    let by_weight = told.iter().any(|(_, shares, _)| shares.weighted);
    let how =
        if by_weight { "; n puzzles, by weight where they carry weights" } else { "; n puzzles" };
    let sentences = bars.iter().map(|bar| {
        let total: f64 = bar.counts.iter().map(|&size| size as f64).sum();
        let mut ranked: Vec<(u64, &String)> = bar.counts.iter().copied().zip(&parts).collect();
        ranked.sort_by_key(|&(size, _)| std::cmp::Reverse(size));
        let shown = ranked.iter().take(3).filter(|(size, _)| *size > 0);
        let words =
            shown.map(|&(size, part)| format!("{part} {}", percent(size as f64 / total.max(1.0))));
        let words: Vec<String> = words.collect();
        let n = count(bar.n.unwrap_or_default());
        format!("{}, {n} puzzles: {}.", bar.label, words.join(", "))
    });
    let sentences: Vec<String> = sentences.collect();
    Some(ShareBars {
        heading: Heading {
            title: title.to_owned(),
            subtitle: format!("{what}{how}."),
            notes: Vec::new(),
            alt: format!("Stacked bars of shares. {}", sentences.join(" ")),
        },
        axis_title: if by_weight { "share of puzzles, by weight" } else { "share of puzzles" }
            .to_owned(),
        parts,
        bars,
    })
}
