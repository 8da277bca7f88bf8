//! What a census found, in short.

use tallyhouse_analysis::{LookShare, LookShares, Occurrence};
use tallyhouse_census::{Counts, Moment};
use tallyhouse_stats::{Estimate, Limits};
use tallyhouse_words::{Measured, counted, list_or, number_range, rounded, share_within};

use crate::charts::{find_by, possible_shapes};
use crate::few::{FEW, is_few};
use crate::shapes;
use crate::study::part::Finding;

/// Writes a share with its interval; none if it has no lower end, or says nothing at all.
fn with_interval(estimate: &Estimate) -> Option<String> {
    let share = Measured::from(*estimate);
    let is_told = share.value == 0.0 || share.low > 0.0;
    (is_told && share.high - share.low < 1.0).then(|| share.percent())
}

/// What a census found.
pub(super) fn in_short(
    collection: &str,
    counts: &Counts,
    occurrence: &Occurrence,
    needed: &LookShares,
) -> Vec<Finding> {
    let mut clauses: Vec<String> = singles(needed).into_iter().collect();
    clauses.extend(most_needed(needed));
    if counts.totals.subsets > 0 {
        clauses.extend(most_and_least(counts, occurrence));
        let none = |&(open, naked): &(u8, u8)| counts.shape(open, naked).puzzles == 0;
        let names = possible_shapes().filter(none).map(|(open, naked)| shapes::short(open, naked));
        let names: Vec<String> = names.collect();
        if !names.is_empty() {
            clauses.push(format!("seen in none, which does not mean never: {}", names.join("; ")));
        }
    }
    let finding = |leads: bool| {
        move |words| Finding { leads, collection: Some(collection.to_owned()), words }
    };
    let commonest = commonest(counts, occurrence).into_iter().map(finding(true));
    commonest.chain(clauses.into_iter().map(finding(false))).collect()
}

/// Says from which open count on the commonest subset is a hidden pair, where its interval is clear of
/// those of all others. With four open cells there is but one shape.
fn commonest(counts: &Counts, occurrence: &Occurrence) -> Option<String> {
    let share = |open: u8, naked: u8| occurrence.shape(open, naked).map(|shape| shape.house_share);
    let is_commonest = |&open: &u8| {
        let hidden_pair = share(open, open - 2).and_then(|share| share.low);
        let others =
            (2..open - 2).map(|naked| share(open, naked).map_or(Some(0.0), |share| share.high));
        !is_few(counts.shape(open, open - 2).puzzles, hidden_pair)
            && hidden_pair.is_some_and(|low| {
                others.into_iter().all(|high| high.is_some_and(|high| high < low))
            })
    };
    let opens: Vec<u8> =
        (5..=9).rev().skip_while(|open| !is_commonest(open)).take_while(is_commonest).collect();
    let (first, last) = (*opens.last()?, *opens.first()?);
    let rates: Vec<f64> = opens
        .iter()
        .filter_map(|&open| share(open, open - 2).and_then(|share| share.value))
        .collect();
    let [least, greatest] = [f64::min, f64::max]
        .map(|of| rates.iter().copied().reduce(of).map(|rate| rounded(1000.0 * rate, 2)));
    (first < last).then(|| {
        format!(
            "with {} open cells the commonest subset is a hidden pair: by the number of open cells, {} \
             to {} of 1,000 houses show one where no single is left",
            number_range(first, last),
            least.unwrap_or_default(),
            greatest.unwrap_or_default()
        )
    })
}

fn most_and_least(counts: &Counts, occurrence: &Occurrence) -> Vec<String> {
    let rate = |&(open, naked): &(u8, u8)| {
        occurrence.shape(open, naked).and_then(|shape| shape.house_share.value).unwrap_or_default()
    };
    // What the data set no limits to is not found.
    let is_told = |&(open, naked): &(u8, u8)| {
        let share = occurrence.shape(open, naked).map(|shape| shape.house_share);
        !is_few(counts.shape(open, naked).puzzles, share.and_then(|share| share.low))
            && share.is_some_and(|share| {
                share.low.zip(share.high).is_some_and(|(low, high)| 0.0 < low && high < 2.0 * low)
            })
    };
    let seen = || possible_shapes().filter(is_told);
    // What stands first or last by chance is not found: the interval is clear of those of all others.
    let is_clear = |one: &(u8, u8), beyond: fn(Limits, Limits) -> bool| {
        let share = |&(open, naked): &(u8, u8)| Some(occurrence.shape(open, naked)?.house_share);
        seen().filter(|other| other != one).all(|other| {
            share(one).zip(share(&other)).is_some_and(|(one, other)| beyond(one, other))
        })
    };
    let most = seen()
        .max_by(|a, b| rate(a).total_cmp(&rate(b)))
        .filter(|shape| is_clear(shape, |one, other| one.low > other.high));
    let least = seen()
        .min_by(|a, b| rate(a).total_cmp(&rate(b)))
        .filter(|shape| seen().count() > 1 && is_clear(shape, |one, other| one.high < other.low));
    let by_weight = if occurrence.weighted { ", by weight" } else { "" };
    let words = |end: &str, of: &str, (open, naked): (u8, u8)| {
        let shape = occurrence.shape(open, naked)?;
        let Limits { value, low, high } = shape.house_share;
        Some(format!(
            "{end} often{of} a house shows {}: {} of {} with that many open cells do, at {}{by_weight}",
            shapes::in_prose(open, naked),
            share_within(value, low, high),
            counted(shape.houses, "house", "houses"),
            Moment::Every.in_words()
        ))
    };
    let of = format!(", of what {FEW} puzzles or more show,");
    [
        most.and_then(|shape| words("most", "", shape)),
        least.and_then(|shape| words("least", &of, shape)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Says in how many puzzles singles do all there is to do. What they solve and how far they go beside
/// the walk are two questions: a puzzle may stop both.
fn singles(needed: &LookShares) -> Option<String> {
    let of_puzzles = of_puzzles(needed);
    let solved = with_interval(needed.first.first()?.share.as_ref()?)?;
    let Some(as_far) = &needed.by_singles else {
        return Some(format!("in {solved} of {of_puzzles} there is no quiet position"));
    };
    Some(format!(
        "singles alone solve {solved} of {of_puzzles}; in {} nothing else helps",
        with_interval(as_far.share.as_ref()?)?
    ))
}

fn of_puzzles(needed: &LookShares) -> String {
    let weighted = if needed.weighted { ", by weight" } else { "" };
    format!("{}{weighted}", counted(needed.puzzles, "puzzle", "puzzles"))
}

fn most_needed(needed: &LookShares) -> Option<String> {
    let value = |row: &&LookShare| row.share.as_ref().map_or(0.0, |share| share.value);
    // The first row is where nothing is found.
    let looks = || needed.last.iter().skip(1);
    let most = looks().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    let name = |row: &LookShare| format!("a {}", find_by(&row.look).0);
    let unneeded: Vec<String> = looks().filter(|row| row.puzzles == 0).map(name).collect();
    let never = if unneeded.is_empty() {
        String::new()
    } else {
        format!("; never for {}", list_or(unneeded))
    };
    Some(format!(
        "the last look that finds anything, in puzzles that the walk solves and in those it does not, \
         is most often for {}: in {} of {}{never}",
        name(most),
        with_interval(most.share.as_ref()?)?,
        of_puzzles(needed)
    ))
}

#[cfg(test)]
mod tests {
    use tallyhouse_stats::{Level, Share};

    use super::*;

    fn row(look: &str, puzzles: u64) -> LookShare {
        LookShare {
            look: look.to_owned(),
            puzzles,
            weight: i128::from(puzzles) * 1_000_000,
            share: Share::new(puzzles, 100).ok().map(|share| share.estimate(Level::default())),
        }
    }

    fn needed() -> LookShares {
        LookShares {
            puzzles: 100,
            weighted: false,
            units: 100,
            by_singles: Some(row("singles alone", 53)),
            first: vec![row("singles alone", 42), row("naked 2", 58)],
            last: vec![
                row("nothing found", 3),
                row("naked 1", 20),
                row("hidden 1", 30),
                row("naked 2", 47),
                row("hidden 2", 0),
            ],
        }
    }

    #[test]
    fn what_singles_solve_is_told_from_how_far_they_go() {
        let words = singles(&needed()).unwrap();
        assert_eq!(
            words,
            "singles alone solve 42 % (33–52 %) of 100 puzzles; in 53 % (43–62 %) nothing else helps"
        );
        let without = LookShares { by_singles: None, ..needed() };
        assert_eq!(
            singles(&without).unwrap(),
            "in 42 % (33–52 %) of 100 puzzles there is no quiet position"
        );
    }

    #[test]
    fn what_has_no_lower_end_is_not_found() {
        let mut needed = needed();
        assert!(most_needed(&needed).is_some());
        for row in needed.first.iter_mut().chain(&mut needed.last) {
            let share = row.share.as_mut().unwrap();
            share.interval.low = 0.0;
        }
        assert_eq!((singles(&needed), most_needed(&needed)), (None, None));
    }

    #[test]
    fn the_last_look_is_that_of_all_puzzles_and_the_rest_are_named() {
        let words = most_needed(&needed()).unwrap();
        let whose = "in puzzles that the walk solves and in those it does not, is most often for a naked pair";
        assert!(words.contains(whose), "{words}");
        assert!(words.ends_with(" of 100 puzzles; never for a hidden pair"), "{words}");
    }
}
