//! The words of charts made from nothing, from one and from many.

use tallyhouse_analysis::{
    Cheaper, LookShare, LookShares, NOTHING_FOUND, Occurrence, SINGLES_ALONE, STUCK, ShapeShare,
    SideComparison,
};
use tallyhouse_census::{Counts, ShapeCounts};
use tallyhouse_engine::Order;
use tallyhouse_figures::{
    BandLine, BandPoint, Figure, FrontierPoint, Heading, HeatMap, PartLook, Side, Theme, Width,
};
use tallyhouse_stats::{Clusters, Interval, Level, Limits, Share};

use super::*;

/// Counts with these proper subsets: shape, subsets, puzzles; 1,000 houses of each open count.
fn counts(puzzles: u64, shapes: &[((u8, u8), u64, u64)]) -> Counts {
    let mut value = serde_json::to_value(Counts::new(&Order::ladder())).unwrap();
    let rows = shapes.iter().map(|&((open, naked), proper, puzzles)| {
        let counts = ShapeCounts { proper, puzzles, ..ShapeCounts::default() };
        serde_json::json!([open, naked, counts])
    });
    value["shapes"] = rows.collect();
    let mut counts: Counts = serde_json::from_value(value).unwrap();
    counts.totals.puzzles = puzzles;
    counts.totals.quiet_positions = puzzles;
    if puzzles > 0 {
        counts.exposure = [0, 0, 1000, 1000, 1000, 1000, 1000, 1000, 1000, 1000];
    }
    counts
}

/// Puzzles that count alike.
fn alike(counts: &Counts) -> Occurrence {
    let mut occurrence = Occurrence::of_sums(counts, None, &[], Level::default());
    for shape in &mut occurrence.shapes {
        shape.houses = counts.exposure[usize::from(shape.open)];
        shape.houses_with = counts.shape(shape.open, shape.naked).proper;
        let value = shape.houses_with as f64 / shape.houses as f64;
        if shape.houses > 0 {
            let ends = [0.9 * value, 1.1 * value].map(Some);
            shape.house_share = Limits { value: Some(value), low: ends[0], high: ends[1] };
        }
    }
    occurrence
}

/// The same as [`counts`], where subsets of some shapes weigh more than others.
fn weighted(counts: &Counts, weights: &[((u8, u8), i128)]) -> Occurrence {
    let mut occurrence = Occurrence { weighted: true, ..alike(counts) };
    for shape in &mut occurrence.shapes {
        let weight = weights.iter().find(|(of, _)| *of == (shape.open, shape.naked));
        shape.weight *= weight.map_or(1, |weight| weight.1);
        let factor = weight.map_or(1.0, |weight| weight.1 as f64);
        let Limits { value, low, high } = &mut shape.house_share;
        [value, low, high].into_iter().flatten().for_each(|share| *share *= factor);
    }
    occurrence
}

/// Checks that words read well: whole sentences, nothing doubled, nothing left out.
fn check_words(words: &[&str]) {
    for words in words {
        assert!(words.ends_with('.') && words.len() > 20, "{words}");
        for wrong in ["  ", "..", "NaN", "inf", " ,", "()", ": .", ";.", " 1 puzzles", " 1 shapes"]
        {
            assert!(!words.contains(wrong), "'{wrong}' in {words}");
        }
        let first = words.chars().next().unwrap();
        assert!(!first.is_lowercase(), "{words}");
        let sentences = words.matches(". ").count() + 1;
        assert!(sentences <= 4, "{sentences} sentences: {words}");
    }
}

fn check_heat_map(map: &HeatMap) {
    let heading = &map.heading;
    check_words(&[&heading.alt, &heading.subtitle, &heading.notes.join(" ")]);
    map.draw(Theme::Light, Width::Column).unwrap();
}

#[test]
fn heat_maps_say_what_is_most_and_least_frequent() {
    let none = counts(1, &[]);
    assert_eq!(
        occurrence_counts("all", &none, &alike(&none)).heading.alt,
        "Heat map of the number of proper subsets: none of 21 shapes was seen in 1 position without \
         singles, from 1 puzzle."
    );
    let one = counts(40, &[((7, 4), 1, 1)]);
    let alt = occurrence_rates("all", &one, &alike(&one)).heading.alt;
    assert!(
        alt.contains("1 proper subset in 40 positions without singles, from 40 puzzles"),
        "{alt}"
    );
    assert!(alt.contains("one shape: 7 open: naked 4 | hidden 3 (1.0: 1 of 1,000"), "{alt}");
    assert!(alt.contains("20 shapes were looked for but not seen: 4 open"), "{alt}");
    assert!(alt.ends_with("and 17 more."), "{alt}");
    let many = counts(1000, &[((4, 2), 300, 200), ((9, 4), 2, 2), ((6, 3), 500, 400)]);
    let map = occurrence_rates("all", &many, &alike(&many));
    assert!(map.heading.alt.contains("Most frequent: 6 open: naked 3 | hidden 3 (500: 500"));
    assert!(map.heading.alt.contains("rarest seen: 9 open: naked 4 | hidden 5 (2.0: 2 of"));
    for counts in [none, one, many, counts(0, &[])] {
        check_heat_map(&occurrence_counts("all", &counts, &alike(&counts)));
        check_heat_map(&occurrence_rates("all", &counts, &alike(&counts)));
    }
}

#[test]
fn rates_that_rest_on_few_puzzles_are_marked() {
    let counts = counts(1000, &[((4, 2), 300, 200), ((9, 4), 40, 29), ((9, 5), 40, 30)]);
    let map = occurrence_rates("all", &counts, &alike(&counts));
    let label = |open, naked| {
        let cell = map.cells.iter().find(|cell| (cell.open, cell.naked) == (open, naked));
        cell.unwrap().label.clone()
    };
    assert_eq!([label(4, 2), label(9, 4), label(9, 5)], ["300", "40*", "40"]);
    assert_eq!(label(8, 4), "0");
    let starred = "* Fewer than 30 puzzles, or puzzles that tell as little.";
    assert!(map.heading.notes.iter().any(|note| note.starts_with(starred)));
    assert!(map.heading.notes.iter().any(|note| note.starts_with("0: looked for")));
    let none = super::tests::counts(0, &[]);
    let empty = occurrence_rates("all", &none, &alike(&none));
    assert!(empty.cells.iter().all(|cell| cell.label == "–"));
    assert!(empty.heading.notes.iter().any(|note| note.starts_with("–: no house")));
    assert!(empty.heading.notes.iter().any(|note| note.contains("Only 0 puzzles")));
    // A count is no rate.
    assert!(
        occurrence_counts("all", &counts, &alike(&counts))
            .cells
            .iter()
            .all(|cell| !cell.label.contains('*'))
    );
}

#[test]
fn rates_and_sizes_go_by_weight_where_puzzles_carry_weights() {
    let some = counts(1000, &[((7, 4), 40, 35), ((7, 5), 60, 40)]);
    let heavy = weighted(&some, &[((7, 4), 9)]);
    let map = occurrence_rates("all", &some, &heavy);
    let cell = map.cells.iter().find(|cell| (cell.open, cell.naked) == (7, 4)).unwrap();
    assert_eq!((cell.value, cell.label.as_str(), cell.count), (360.0, "360", 40));
    assert!(map.heading.subtitle.contains("of the shape, by weight;"));
    let mut carrying = some.clone();
    carrying.totals.weighted = 1000;
    let told = |counts: &Counts| occurrence_counts("all", counts, &heavy).heading.subtitle;
    assert!(told(&carrying).contains(" from 1,000 puzzles, each counted once whatever it weighs;"));
    assert!(told(&some).contains(" from 1,000 puzzles;"));
    let bars = shapes_by_open("all", &some, &heavy);
    let bar = &bars.bars[0];
    // 9 · 40 against 60 at hidden 3 and hidden 2; the bar rests on 100 subsets.
    assert_eq!(
        (bar.counts[5], bar.counts[6], bar.n),
        (6 * bar.counts[6], bar.counts[6], Some(100))
    );
    assert!(
        bars.heading.alt.contains("hidden triple (85.7") && bars.heading.alt.contains(" of 100)")
    );
}

#[test]
fn what_rests_on_few_families_is_marked_and_has_no_shade() {
    let some = counts(20_403, &[((9, 3), 400, 357), ((9, 7), 300, 300)]);
    let mut found = Occurrence { units: 300, ..weighted(&some, &[]) };
    let shape = found.shapes.iter_mut().find(|shape| (shape.open, shape.naked) == (9, 3)).unwrap();
    shape.house_share = Limits { value: Some(0.077), low: None, high: Some(1.0) };
    let map = occurrence_rates("all", &some, &found);
    let cell = |naked| map.cells.iter().find(|cell| (cell.open, cell.naked) == (9, naked)).unwrap();
    assert_eq!((cell(3).label.as_str(), cell(3).shaded), ("80*", false));
    assert!(cell(7).shaded && !cell(7).label.ends_with('*'));
    assert!(map.heading.subtitle.contains("from 20,403 puzzles in 300 families"));
    assert!(map.heading.notes.iter().any(|note| note.contains("puzzles that tell as little")));
    let bars = shapes_by_open("all", &some, &found);
    assert!(bars.heading.title.ends_with('?') && bars.heading.notes[0].contains("300 families"));
    check_heat_map(&map);
}

#[test]
fn bars_of_sizes_say_which_is_most_frequent() {
    let some = counts(50, &[((4, 2), 12, 9), ((7, 4), 30, 20), ((7, 5), 60, 40)]);
    let chart = shapes_by_open("all", &some, &alike(&some));
    assert!(chart.heading.alt.ends_with(
        "The most frequent: 4 open: equal sides (100 % of 12); 7 open: hidden pair (67 % of 90)."
    ));
    // Few puzzles show the largest part of a bar; with four open cells there is but one shape.
    let labels: Vec<&str> = chart.bars.iter().map(|bar| bar.label.as_str()).collect();
    assert_eq!(labels, ["4 open", "7 open"]);
    let few = counts(50, &[((4, 2), 12, 9), ((7, 4), 30, 20), ((7, 5), 60, 29)]);
    let chart = shapes_by_open("all", &few, &alike(&few));
    assert_eq!(chart.bars[1].label, "7 open *");
    assert!(chart.heading.notes[0].starts_with("* Fewer than 30 puzzles"));
    check_words(&[&chart.heading.alt, &chart.heading.subtitle]);
    let none = counts(2, &[]);
    let none = shapes_by_open("all", &none, &alike(&none)).heading.alt;
    assert_eq!(none, "No proper subset was found in 2 positions without singles, from 2 puzzles.");
}

fn shares(of: u64, found: &[((u8, u8), u64)]) -> Occurrence {
    let shape = |(open, naked)| {
        let hits =
            found.iter().find(|(shape, _)| *shape == (open, naked)).map_or(0, |found| found.1);
        let share = Share::new(hits, of).ok().map(|share| share.estimate(Level::default()));
        let (houses, houses_with, house_share) = (0, 0, Limits::default());
        let puzzles = hits;
        ShapeShare { open, naked, puzzles, share, houses, houses_with, house_share, weight: 0 }
    };
    let shapes = possible_shapes().map(shape).collect();
    Occurrence { weighted: false, units: of, quiet: None, solved: None, shapes }
}

fn check_chart(chart: &dyn Figure, heading: &Heading) {
    check_words(&[&heading.alt, &heading.subtitle]);
    for note in &heading.notes {
        check_words(&[note]);
    }
    for &theme in Theme::ALL {
        for &width in Width::ALL {
            chart.draw(theme, width).unwrap();
        }
    }
}

#[test]
fn comparisons_name_their_collections() {
    let first = ("alpha".to_owned(), 1000, shares(1000, &[((4, 2), 500), ((7, 4), 12)]));
    let second = ("beta".to_owned(), 20, shares(20, &[((4, 2), 5)]));
    let blank = ("gamma".to_owned(), 1, shares(1, &[]));
    let alone = comparison(std::slice::from_ref(&first), 4..=9, Level::default());
    // A single series has no key: the subtitle names it with its denominator.
    assert!(alone.heading.subtitle.contains("alpha (1,000 puzzles)"));
    let all = comparison(&[first, second, blank], 4..=9, Level::default());
    let alt = &all.heading.alt;
    assert!(
        alt.contains("in alpha 4 open: naked 2 | hidden 2 (500 of 1,000 puzzles, 50 % (47–53 %)"),
        "{alt}"
    );
    assert!(alt.contains("in gamma no shape shows in 1 puzzle."), "{alt}");
    let labels: Vec<&str> =
        all.rows[0].estimates.iter().flatten().map(|estimate| estimate.label.as_str()).collect();
    assert_eq!(labels, ["500", "5", "none of 1"]);
    for expected in
        ["Hollow: fewer than 30", "None: looked for", "Only 20 puzzles", "Only 1 puzzle,"]
    {
        let mut notes = all.heading.notes.iter().chain(&all.beside);
        assert!(notes.any(|note| note.starts_with(expected)), "{expected}");
    }
    check_chart(&alone, &alone.heading);
    check_chart(&all, &all.heading);
}

/// A title tells which collection shows less, where no interval leaves a doubt.
#[test]
fn a_comparison_tells_which_collection_shows_less() {
    let collection = |name: &str, of_each: u64| {
        let found: Vec<_> = possible_shapes().map(|shape| (shape, of_each)).collect();
        (name.to_owned(), 10_000, shares(10_000, &found))
    };
    let title =
        |all: &[(String, u64, Occurrence)]| comparison(all, 8..=9, Level::default()).heading.title;
    let [much, more] =
        [("Much, by weight", 2_000), ("More", 2_100)].map(|(name, n)| collection(name, n));
    let less = collection("Less, by weight", 400);
    let three = [much.clone(), more.clone(), less.clone()];
    assert_eq!(title(&three), "Less show subsets less than half as often as the others");
    let two = [collection("Few", 1_500), much.clone()];
    assert_eq!(title(&two), "Few show subsets less often than much");
    assert!(title(&[much.clone(), more]).ends_with('?'));
    assert!(title(&[much, collection("Rare", 20)]).ends_with('?'), "too few puzzles to tell");
    let drawn = comparison(&three, 8..=9, Level::default());
    assert_eq!(drawn.rows.len(), 11);
    assert!(drawn.heading.subtitle.contains(" in houses with eight or nine open cells, with 95 %"));
}

/// Stuck puzzles are told from those that singles solve, and both figures tell them alike.
#[test]
fn what_is_stuck_after_singles_is_told_from_what_they_solve() {
    let row = |look: &str, puzzles: u64| LookShare {
        look: look.to_owned(),
        puzzles,
        weight: i128::from(puzzles) * 1_000_000,
        share: Share::new(puzzles, 1000).ok().map(|share| share.estimate(Level::default())),
    };
    let shares = LookShares {
        puzzles: 1000,
        weighted: false,
        units: 3000,
        by_singles: Some(row(SINGLES_ALONE, 530)),
        first: vec![row(SINGLES_ALONE, 420), row("naked 2", 470), row(STUCK, 110)],
        last: vec![
            row(NOTHING_FOUND, 1),
            row("naked 1", 9),
            row("hidden 1", 520),
            row("naked 2", 440),
            row("naked 3", 30),
        ],
    };
    let all = [("made".to_owned(), shares.clone())];
    let parts = |needed: Needed| {
        let bars = needed_looks(needed, &all).unwrap();
        let names: Vec<String> = bars.parts.iter().map(|part| part.name.clone()).collect();
        (names, bars.bars[0].counts.clone(), bars.parts.last().unwrap().look)
    };
    let (names, counts, last) = parts(Needed::First);
    assert_eq!(
        (names.join(", "), last),
        (format!("{SINGLES_ALONE}, naked pair, {STUCK}"), PartLook::Stuck)
    );
    let (names, counts_last, last) = parts(Needed::Last);
    let expected = format!("{SINGLES_ALONE}, naked pair, naked triple, {STUCK}");
    assert_eq!((names.join(", "), last), (expected, PartLook::Stuck));
    assert_eq!((counts[0], counts[2]), (counts_last[0], counts_last[3]));
    assert_eq!(counts_last.iter().sum::<u64>(), 1000);
    let title = needed_looks(Needed::Last, &all).unwrap().heading.title;
    assert_eq!(title, "A look beyond pairs helps in fewer than one puzzle in twenty");
    // Where a walk goes on after it was stuck, they can't be told apart by its last look.
    let goes_on = LookShares { by_singles: Some(row(SINGLES_ALONE, 500)), ..shares };
    let bars = needed_looks(Needed::Last, &[("made".to_owned(), goes_on)]).unwrap();
    assert_eq!(bars.parts[0].name, NOTHING_FOUND);
}

#[test]
fn charts_of_what_is_left_name_rulebooks_and_those_that_leave_nothing() {
    let left = |&(open, naked, puzzles): &(u8, u8, u64)| {
        let share = Share::new(puzzles, 3000).unwrap().estimate(Level::default());
        let Interval { low, high } = share.interval;
        let [share, low, high] = [share.value, low, high].map(Some);
        LeftShape { open, naked, puzzles, share, low, high }
    };
    let book = |name: &str, shapes: &[(u8, u8, u64)]| LeftShapes {
        name: name.to_owned(),
        rulebook: name.to_owned(),
        population: "puzzles by hand".to_owned(),
        puzzles: 3000,
        units: 3000,
        weighted: false,
        level: Level::default(),
        shapes: shapes.iter().map(left).collect(),
        judged: Vec::new(),
    };
    let (pairs, ladder) = (book("pairs", &[(7, 4, 31), (9, 6, 1)]), book("ladder", &[(7, 4, 0)]));
    assert_eq!(missed(std::slice::from_ref(&ladder)), None);
    let one = missed(&[pairs.clone(), ladder.clone()]).unwrap();
    assert!(one.heading.subtitle.contains("the walk of pairs"));
    assert!(
        one.heading.alt.contains(
            "Rulebook pairs leaves 2 shapes, most often 7 open: naked 4 | hidden 3 (31 of"
        )
    );
    assert!(one.heading.notes.contains(&"Not drawn: ladder, which leaves nothing.".to_owned()));
    let certain = "No mark: by the definitions the rulebook can't leave the shape.".to_owned();
    assert!(!one.heading.notes.contains(&certain));
    let mut triples = book("triples", &[(7, 4, 4), (9, 6, 0)]);
    triples.shapes[1].share = None;
    let two = missed(&[pairs, triples, ladder, book("all", &[])]).unwrap();
    assert!(two.heading.notes.contains(&certain));
    assert!(two.heading.alt.contains("rulebook triples leaves 1 shape, most often"));
    assert!(
        two.heading.notes.contains(&"Not drawn: ladder and all, which leave nothing.".to_owned())
    );
    for chart in [one, two] {
        check_chart(&chart, &chart.heading);
    }
}

#[test]
fn glances_of_both_sides_are_told() {
    let mut sums = Clusters::<2>::default();
    (47..87).for_each(|hidden| sums.add([7, hidden]));
    let ratio = sums.ratio(Level::default()).unwrap();
    let side = |puzzles, ratio| SideComparison {
        open: 6,
        naked: 2,
        houses: puzzles,
        puzzles,
        mean_naked: 7.0,
        mean_hidden: 60.0,
        ratio,
        p_adjusted: 0.01,
        cheaper: Cheaper::Naked,
        equal_place_weight: None,
    };
    let walked = |puzzles| Walked { population: "puzzles by hand".to_owned(), puzzles };
    assert_eq!(paired(&side(0, None), &[], &walked(10)), None);
    let one = paired(&side(1, None), &[(7.0, 47.0)], &walked(10)).unwrap();
    assert!(one.heading.alt.contains("in the same 1 house with 6 open cells, from 1 puzzle."));
    assert_eq!(one.ratio, "", "one puzzle has no interval");
    assert!(one.heading.notes[0].starts_with("Only 1 puzzle with such a split"));
    let costs: Vec<(f64, f64)> = (0..40).map(|index| (7.0, 47.0 + f64::from(index))).collect();
    let many = paired(&side(40, Some(ratio)), &costs, &walked(10_000)).unwrap();
    assert!(
        many.heading.alt.contains(
            "The median is 7 for naked 2 and 67 for hidden 4. On average naked 2 takes 10"
        )
    );
    assert!(many.heading.subtitle.contains("the 40 houses of 40 puzzles"));
    assert!(many.heading.notes.is_empty());
    for chart in [one, many] {
        assert!(chart.heading.subtitle.starts_with("Puzzles by hand: glances"));
        check_chart(&chart, &chart.heading);
    }
    // What has no ratio is no side's, and is told.
    let unsettled = SideComparison { naked: 3, cheaper: Cheaper::Unsettled, ..side(2, None) };
    let sides = [side(40, Some(ratio)), unsettled, SideComparison { naked: 4, ..side(0, None) }];
    let chart = side_ratios(&sides, &walked(10_000)).unwrap();
    assert!(
        chart.heading.title.ends_with("costs less in 1 of 2 shapes"),
        "{}",
        chart.heading.title
    );
    let told = "Not drawn: 1 shape in too few puzzles.";
    assert!(chart.heading.notes.iter().any(|note| note == told), "{:?}", chart.heading.notes);
    assert!(chart.rows[0].estimates[0].as_ref().unwrap().label.ends_with(')'), "with its interval");
    assert!(chart.heading.subtitle.contains("from 40 of 10,000 puzzles walked"));
    assert!(chart.heading.notes[0].starts_with("Settled: "));
    // What rests on few settles nothing, whatever its interval.
    let few = SideComparison { naked: 4, ..side(29, Some(ratio)) };
    let chart = side_ratios(&[side(40, Some(ratio)), few], &walked(10_000)).unwrap();
    assert!(chart.heading.title.ends_with("costs less in 1 of 2 shapes"), "{:?}", chart.heading);
    assert_eq!(chart.worth, [Some(Side::Naked), None]);
    let is_few = |row: usize| chart.rows[row].estimates[0].as_ref().unwrap().is_few;
    assert!(!is_few(0) && is_few(1));
    assert!(chart.heading.notes.iter().any(|note| note.starts_with("Hollow: fewer than 30")));
    check_chart(&chart, &chart.heading);
}

#[test]
fn frontiers_are_told_from_end_to_end() {
    let order = |name: &str, cost: f64, gain: f64, on_frontier| FrontierPoint {
        label: name.to_owned(),
        cost,
        cost_interval: (cost - 6.0, cost + 6.0),
        gain,
        gain_interval: ((gain - 0.1).max(0.0), (gain + 0.1).min(1.0)),
        on_frontier,
        is_recommended: name == "recommended",
    };
    // Two fifths more.
    let dearer = serde_json::json!({
        "value": 1.4, "interval": { "low": 1.3, "high": 1.5 }, "level": 95.0, "method": "linearised-log-ratio",
    });
    let search: orders::Search = serde_json::from_value(serde_json::json!({
        "start_name": "short-list", "population": "puzzles by hand", "level": 95.0,
        "agreement": { "converged": true },
        "recommended": { "readers": [
            { "reader": "marking", "against_start":
                { "more_glances_estimate": null, "relative_glances": null } },
            { "reader": "sharing", "against_start": null },
            { "reader": "unmarked", "against_start":
                { "more_glances_estimate": dearer, "relative_glances": dearer } },
        ] },
    }))
    .unwrap();
    let mut search: orders::Search = search;
    let all = |search: &orders::Search, orders: Vec<FrontierPoint>| SearchedOrders {
        search: search.clone(),
        training: 100,
        held_out: 20,
        orders,
    };
    let one = frontier(&all(&search, vec![order("only", 1234.4, 1.0, true)]));
    assert!(one.heading.alt.contains("Points: 1 rulebook by"));
    assert!(
        one.heading
            .alt
            .ends_with("One is on the frontier: only (1,234 glances, 100 % fully reached).")
    );
    let dear = [
        "It is not shown to cost a reader of the kind marking less.",
        "A reader of the kind unmarked pays 40 % (30–50 %) more.",
    ];
    assert_eq!(one.heading.notes[..2], dear);
    assert!(one.heading.notes[2].starts_with("Only 20 puzzles"));
    assert!(one.heading.title.ends_with('?'));
    let saving = frontier(&all(
        &search,
        vec![
            order("short-list (start)", 1000.0, 0.9, false),
            order("recommended", 720.0, 0.9, false),
        ],
    ));
    let title = "A better order for what short-list finds costs a reader who sees marks 28 % less";
    assert_eq!(saving.heading.title, title);
    assert!(saving.heading.notes[0].starts_with("Recommended: of the orders that look for all"));
    // What the runs of the search don't agree on is not recommended, and what only training puts on
    // the frontier is called so.
    assert_eq!(search.label("frontier 6", false), "frontier 6 (in training only)");
    assert_eq!(search.label("recommended", false), "recommended");
    search.agreement.converged = false;
    assert_eq!(search.label("recommended", false), "cheapest found");
    let unsure = frontier(&all(&search, vec![order("recommended", 720.0, 0.9, false)]));
    assert_eq!(unsure.recommended_words, "cheapest found");
    assert!(unsure.heading.notes.iter().any(|note| note.contains("not converged")));
    let subtitle = &saving.heading.subtitle;
    assert!(subtitle.starts_with("Puzzles by hand: ") && subtitle.contains("95 % intervals"));
    let many = frontier(&all(
        &search,
        vec![
            order("ladder", 900.0, 1.0, true),
            order("pairs", 200.0, 0.4, true),
            order("other", 950.0, 0.9, false),
        ],
    ));
    assert!(
        many.heading.alt.contains("from pairs (200 glances, 40 % fully reached) to ladder (900")
    );
    for chart in [one, saving, many] {
        check_chart(&chart, &chart.heading);
    }
}

#[test]
fn narrowing_tells_the_first_and_the_last_interval_and_where_few_show() {
    let point = |at: u64, low, value, high| BandPoint { at: at as f64, value, low, high };
    let line = |points: Vec<BandPoint>| BandLine { label: "7 open, naked 4".to_owned(), points };
    let two = line(vec![point(100, 0.0, 0.02, 0.1), point(1000, 0.01, 0.02, 0.03)]);
    // From where on it is narrow for good, and rests on enough puzzles.
    let rare = line(vec![
        point(500, 0.019, 0.02, 0.021),
        point(1000, 0.009, 0.02, 0.03),
        point(2000, 0.011, 0.02, 0.029),
        point(5000, 0.012, 0.02, 0.028),
    ]);
    let title = collection::narrowing_title(&[rare]);
    assert_eq!(
        title,
        "It takes 2,000 puzzles to know the share of 7 open, naked 4 to within half of itself"
    );
    assert!(collection::narrowing_title(std::slice::from_ref(&two)).ends_with('?'));
    let alt = collection::narrowing_alt(&[two], 1000, Level::default());
    assert!(alt.ends_with(
        "7 open, naked 4: at most 10 % after 100 puzzles, 1–3 % after 1,000 puzzles, around a share of 2 %."
    ));
    let one =
        collection::narrowing_alt(&[line(vec![point(1, 0.0, 0.0, 0.97)])], 1, Level::default());
    assert!(one.contains("first n of 1 puzzle with"), "{one}");
    check_words(&[&alt, &one]);
    let notes =
        |points: &[(u64, u64)]| collection::narrowing_notes(&[("X".to_owned(), points.to_vec())]);
    assert!(notes(&[(100, 30), (200, 60)]).is_empty());
    let few = notes(&[(100, 3), (200, 29), (500, 60)]);
    assert_eq!(few, ["Resting on fewer than 30 puzzles: X up to n\u{a0}=\u{a0}200."]);
    let never = notes(&[(100, 0), (200, 0)]);
    assert_eq!(never, ["Resting on fewer than 30 puzzles: X throughout (none of 200 puzzles)."]);
}

#[test]
fn the_origin_is_told_where_a_collection_knows_it() {
    let notes = ["method: puzzles by hand", "bias: easy ones", "seed: 4", "puzzles: 3", "odd"];
    let notes = notes.map(str::to_owned);
    assert_eq!(words::origin(&notes), ["Origin: puzzles by hand.", "Bias: easy ones."]);
    assert!(words::origin(&[]).is_empty());
}

#[test]
fn titles_tell_a_finding_only_where_data_are_enough() {
    let pairs = (5..=9u8).flat_map(|open| {
        let others = (2..open - 2).map(move |naked| ((open, naked), 100, 90));
        others.chain([((open, open - 2), 300, 200)])
    });
    let many = counts(1000, &pairs.collect::<Vec<_>>());
    let map = occurrence_rates("all", &many, &alike(&many));
    let expected = "With five or more open cells, hidden pairs are the commonest subsets";
    assert_eq!(map.heading.title, expected);
    assert_eq!(map.cells.iter().filter(|cell| cell.framed).count(), 5);
    assert!(map.heading.notes.iter().any(|note| note.starts_with("Framed: ")));
    assert!(occurrence_counts("all", &many, &alike(&many)).cells.iter().all(|cell| !cell.framed));
    let sizes = shapes_by_open("all", &many, &alike(&many));
    let expected = "The hidden side is the smaller one more often than the naked";
    assert_eq!(sizes.heading.title, expected);
    let few = counts(10, &[((5, 3), 3, 2)]);
    let map = occurrence_rates("all", &few, &alike(&few));
    assert!(map.heading.title.ends_with('?'), "{}", map.heading.title);
    assert!(shapes_by_open("all", &few, &alike(&few)).heading.title.ends_with('?'));
}
