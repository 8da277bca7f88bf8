//! What changed between two orders, in words.

use super::draft::{Draft, Kind, Rung, Side};

/// Returns sentences that tell how `new` differs from `old`; none if they are alike.
pub(super) fn changes(old: &Draft, new: &Draft) -> Vec<String> {
    let kinds = || (1..=8).flat_map(|size| Side::BOTH.map(|side| Kind { side, size }));
    let mut words: Vec<String> = kinds().filter_map(|kind| change_of(kind, old, new)).collect();
    words.extend(new_neighbours(old, new));
    words
}

fn change_of(kind: Kind, old: &Draft, new: &Draft) -> Option<String> {
    let [before, after]: [Vec<usize>; 2] = [old, new].map(|draft| {
        let rungs = draft.rungs();
        (0..rungs.len()).filter(|&index| rungs[index].kind == kind).collect()
    });
    let ranges = |draft: &Draft, places: &[usize]| -> Vec<(u8, u8)> {
        places.iter().map(|&place| (draft.rungs()[place].low, draft.rungs()[place].high)).collect()
    };
    if ranges(old, &before) == ranges(new, &after) {
        return None;
    }
    let place = |index: usize| match index.checked_sub(1) {
        Some(before) => format!("after {}", named(new, before)),
        None => "first of all".to_owned(),
    };
    Some(match after[..] {
        [] => format!("{kind} is no longer looked for"),
        [only] if before.is_empty() => {
            format!("{kind} is looked for too, {}, {}", open_words(new.rungs()[only]), place(only))
        }
        [only] => format!("{kind} {}", open_words(new.rungs()[only])),
        _ => {
            let parts: Vec<String> = after
                .iter()
                .map(|&index| format!("with {} {}", range_words(new.rungs()[index]), place(index)))
                .collect();
            format!("{kind} is looked for in {} places: {}", parts.len(), parts.join("; "))
        }
    })
}

/// Pairs of neighbours that stand the other way round in the old order. A look that was there with
/// another range counts as the first of its kind; looks that are new don't count.
fn new_neighbours(old: &Draft, new: &Draft) -> Vec<String> {
    let place_in_old = |rung: Rung| {
        let place = |fits: &dyn Fn(&Rung) -> bool| old.rungs().iter().position(fits);
        place(&|other| *other == rung).or_else(|| place(&|other| other.kind == rung.kind))
    };
    let mut kept: Vec<(usize, usize)> = Vec::new();
    for (index, &rung) in new.rungs().iter().enumerate() {
        if let Some(place) = place_in_old(rung)
            && kept.iter().all(|&(_, other)| other != place)
        {
            kept.push((index, place));
        }
    }
    kept.windows(2)
        .filter(|pair| pair[0].1 > pair[1].1)
        .map(|pair| format!("{} comes before {}", named(new, pair[0].0), named(new, pair[1].0)))
        .collect()
}

/// Names a look, with its range if the kind alone would be ambiguous.
fn named(draft: &Draft, index: usize) -> String {
    let rung = draft.rungs()[index];
    let alike = draft.rungs().iter().filter(|other| other.kind == rung.kind).count();
    if alike == 1 {
        rung.kind.to_string()
    } else {
        format!("{} ({})", rung.kind, range_words(rung))
    }
}

fn open_words(rung: Rung) -> String {
    if rung.is_everywhere() {
        "with any number of open cells".to_owned()
    } else {
        format!("only with {}", range_words(rung))
    }
}

fn range_words(rung: Rung) -> String {
    if rung.low == rung.high {
        format!("{} open", rung.low)
    } else {
        format!("{} to {} open", rung.low, rung.high)
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_engine::Order;

    use super::*;
    use crate::order_search::draft::draft;

    #[test]
    fn changes_read_as_sentences() {
        let ladder = Draft::of(&Order::ladder()).unwrap();
        let changed = draft(
            "hidden 1, naked 1, naked 2, naked 3 open 7..9, hidden 2, naked 4 open 7..9, \
             naked 3 open 4..6, hidden 5 open 9, hidden 4, hidden 6",
        );
        assert_eq!(
            changes(&ladder, &changed),
            [
                "naked 3 is looked for in 2 places: with 7 to 9 open after naked 2; \
                 with 4 to 6 open after naked 4",
                "hidden 3 is no longer looked for",
                "naked 4 only with 7 to 9 open",
                "hidden 5 is looked for too, only with 9 open, after naked 3 (4 to 6 open)",
                "hidden 6 is looked for too, with any number of open cells, after hidden 4",
                "hidden 1 comes before naked 1",
                "naked 3 (7 to 9 open) comes before hidden 2",
            ]
        );
        assert_eq!(
            changes(
                &draft("naked 1, hidden 1, naked 4 open 6..7"),
                &draft("naked 1, hidden 1, naked 4")
            ),
            ["naked 4 with any number of open cells"]
        );
        assert_eq!(
            changes(&draft("naked 1, hidden 1"), &draft("naked 2 open 3..4, naked 1, hidden 1")),
            ["naked 2 is looked for too, only with 3 to 4 open, first of all"]
        );
        assert!(changes(&ladder, &ladder).is_empty());
        let apart = "naked 1, hidden 1, naked 3 open 4..6, naked 2, naked 3 open 7..9";
        let exchanged = "naked 1, hidden 1, naked 3 open 7..9, naked 2, naked 3 open 4..6";
        assert_eq!(changes(&draft(apart), &draft(exchanged)).len(), 3);
        let moved = "naked 1, hidden 1, naked 3 open 4..6, naked 3 open 7..9, naked 2";
        assert_eq!(
            changes(&draft(apart), &draft(moved)),
            ["naked 3 (7 to 9 open) comes before naked 2"]
        );
    }
}
