//! Every kind of figure with data at the ends of what can come: nothing and everything, tiny rates
//! and huge counts, one row and many, long names, and marks on the edge of the frame.

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House};

use crate::inspect::check_figure;
use crate::{
    Axis, BandChart, BandLine, BandPoint, CellContent, Diagram, DistributionChart, FrontierChart,
    FrontierPoint, Heading, HeatMap, HouseStrip, IntervalChart, IntervalMark, IntervalRow,
    PairedChart, PairedSide, PartLook, Reference, ReferenceLine, ShapeCell, ShareBar, ShareBars,
    SharePart, Side, Sides, Split, Spread, Unit,
};

const LONG: &str = "A collection of newspaper puzzles from many years, Überprüft & <checked>";

fn heading(title: &str) -> Heading {
    Heading {
        title: title.to_owned(),
        subtitle: "Share of 1,234,567,890 puzzles with 95 % intervals.".to_owned(),
        notes: vec!["* Fewer than 30 puzzles.".to_owned()],
        alt: "Words that say what was found.".to_owned(),
    }
}

fn share_axis(spread: Spread) -> Axis {
    Axis { title: "share of puzzles".to_owned(), spread, unit: Unit::Percent }
}

fn estimate(value: f64, low: f64, high: f64, of: u64) -> IntervalMark {
    let count = (value * of as f64).round() as u64;
    let label = if count == 0 { format!("none of {of}") } else { count.to_string() };
    IntervalMark { value, low, high, count, of, label, is_few: count < 30 }
}

fn intervals(
    spread: Spread,
    series: usize,
    rows: usize,
    ends: &[(f64, f64, f64)],
) -> IntervalChart {
    IntervalChart {
        heading: heading("Puzzles that show each shape"),
        axis: share_axis(spread),
        series: (0..series).map(|index| format!("{LONG} {index}")).collect(),
        sides: series == 2,
        looks_from: 0,
        rows: (0..rows)
            .map(|row| IntervalRow {
                label: format!("{} open: 4 | {}", row % 6 + 4, row % 6),
                estimates: (0..series)
                    .map(|index| {
                        let (value, low, high) = ends[(row + index) % ends.len()];
                        (row != 1 || index != 1).then(|| estimate(value, low, high, 1_000_000_000))
                    })
                    .collect(),
            })
            .collect(),
        threshold: None,
        ways: None,
        worth: Vec::new(),
        beside: vec!["* Fewer than 30 puzzles.".to_owned()],
    }
}

#[test]
fn intervals_from_nothing_to_everything() {
    let ends = [
        (0.0, 0.0, 1.0),
        (1.0, 1.0, 1.0),
        (1.0, 0.2, 1.0),
        (1e-9, 1e-12, 1e-8),
        (0.5, 0.0, 1.0),
        (0.0, 0.0, 3.7e-9),
        (0.1, 0.1, 0.1),
    ];
    for spread in [Spread::Linear, Spread::Log] {
        for (series, rows) in [(1, 1), (1, 21), (2, 3), (5, 21)] {
            check_figure(&intervals(spread, series, rows, &ends));
        }
        // One row of each kind alone.
        for end in ends {
            check_figure(&intervals(spread, 1, 1, &[end]));
        }
        let mut chart = intervals(spread, 3, 4, &ends);
        chart.threshold = Some(ReferenceLine { value: 1.0, label: "all puzzles".to_owned() });
        check_figure(&chart);
    }
}

#[test]
fn bands_at_the_edges() {
    let line = |index: usize, points: Vec<(f64, f64, f64, f64)>| BandLine {
        label: format!("{} open, naked 4", index + 3),
        points: points
            .into_iter()
            .map(|(at, value, low, high)| BandPoint { at, value, low, high })
            .collect(),
    };
    let ends = [1.0, 100.0, 1e4, 1e9];
    let flat = |index, value: f64| line(index, ends.map(|at| (at, value, value, value)).to_vec());
    let wide = |index, value: f64| line(index, ends.map(|at| (at, value, 0.0, 1.0)).to_vec());
    for lines in [
        vec![flat(0, 0.0)],
        vec![flat(0, 1.0)],
        vec![flat(0, 0.0), flat(1, 1.0)],
        vec![flat(0, 1e-9), flat(1, 2e-9)],
        (0..5).map(|index| wide(index, index as f64 / 4.0)).collect(),
        (0..5).map(|index| flat(index, 0.001)).collect(),
    ] {
        let chart = BandChart {
            heading: heading("How the interval of a rate narrows"),
            across: Axis::log("puzzles", Unit::Number),
            up: share_axis(Spread::Linear),
            lines,
        };
        check_figure(&chart);
    }
}

#[test]
fn distributions_of_one_value_and_of_many() {
    let chart = |observed: Vec<(i64, u64)>, references: Vec<Reference>| DistributionChart {
        heading: heading("How many clues the puzzles have"),
        axis_title: "clues".to_owned(),
        share_title: "share of puzzles".to_owned(),
        observed_label: LONG.to_owned(),
        observed,
        references,
    };
    let reference =
        |label: &str, shares: Vec<(i64, f64)>| Reference { label: label.to_owned(), shares };
    check_figure(&chart(vec![(17, u64::MAX)], vec![]));
    check_figure(&chart(vec![(17, 1)], vec![reference("all minimal puzzles", vec![(27, 1.0)])]));
    let tiny = vec![(20, 1.3e-9), (21, 3.4e-7), (22, 0.0), (40, 0.999)];
    check_figure(&chart(vec![(20, 1), (30, 0), (81, 1_000_000_000)], vec![reference(LONG, tiny)]));
    let each: Vec<Reference> = (0..5)
        .map(|index| {
            let share = |value: i64| (value, ((value + index) % 7) as f64 / 7.0);
            reference(&format!("source {index}"), (17..40).map(share).collect())
        })
        .collect();
    check_figure(&chart((17..40).map(|value| (value, value as u64)).collect(), each));
}

#[test]
fn bars_of_nothing_and_of_everything() {
    for counts in [
        vec![vec![0, 0, 7, 0]],
        vec![vec![1, 0, 0, 999_999_999], vec![0; 4], vec![1, 1, 1, 1]],
        vec![vec![5, 3, 2, 1]; 7],
        vec![vec![u64::MAX / 8, 1, 1, u64::MAX / 8]],
    ] {
        let chart = ShareBars {
            heading: heading("The last look that puzzles need"),
            axis_title: "puzzles".to_owned(),
            parts: [
                ("naked 1", PartLook::Side(Side::Naked)),
                ("hidden 1", PartLook::Side(Side::Hidden)),
                ("naked 2", PartLook::Side(Side::Naked)),
                (LONG, PartLook::Stuck),
            ]
            .map(|(name, look)| SharePart { name: name.to_owned(), look })
            .to_vec(),
            key: vec![
                (PartLook::Side(Side::Naked), "naked look".to_owned()),
                (PartLook::Stuck, LONG.to_owned()),
            ],
            bars: counts
                .into_iter()
                .enumerate()
                .map(|(index, counts)| ShareBar {
                    label: format!("{LONG} {index}"),
                    counts,
                    n: None,
                })
                .collect(),
        };
        check_figure(&chart);
    }
}

#[test]
fn heat_maps_of_one_shape_and_of_all() {
    let cell = |open: u8, naked: u8, value: f64, label: &str| ShapeCell {
        open,
        naked,
        value,
        label: label.to_owned(),
        ends: [None; 2],
        denominator: 1_000_000_000,
        count: value as u64,
        shaded: true,
        framed: value > 0.0,
        link: Some("#<&\"".to_owned()),
    };
    let shapes = || (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)));
    let steep = |(open, naked): (u8, u8)| {
        let value = 10f64.powi(i32::from(open) * 2 - i32::from(naked) * 3);
        cell(open, naked, value, "123.45M*")
    };
    for cells in [
        vec![cell(4, 2, 0.0, "0")],
        vec![cell(9, 7, 1e-9, "0.0000010*")],
        shapes().map(|(open, naked)| cell(open, naked, 1000.0, "1000.0")).collect(),
        shapes().map(|(open, naked)| cell(open, naked, 0.0, "–")).collect(),
        shapes().map(steep).collect::<Vec<_>>(),
    ] {
        check_figure(&HeatMap {
            heading: heading("How often a house shows each subset"),
            scale_title: "proper subsets per 1,000 houses (logarithmic scale)".to_owned(),
            cells,
        });
    }
}

#[test]
fn pairs_of_one_bin_and_of_gaps() {
    let chart = |edges: Vec<f64>, counts: [Vec<u64>; 2], medians: [f64; 2]| {
        let [naked, hidden] = counts;
        let side = |label: &str, counts, median| PairedSide {
            label: label.to_owned(),
            counts,
            median,
            mean: median,
        };
        PairedChart {
            heading: heading("Naked 4 or hidden 5 with 9 open cells"),
            axis: Axis { title: "glances".to_owned(), spread: Spread::Log, unit: Unit::Number },
            share_title: "share of houses".to_owned(),
            edges,
            sides: [side("naked 4", naked, medians[0]), side("hidden 5", hidden, medians[1])],
            ratio: "naked 4 costs 0.30 times as many glances as hidden 5".to_owned(),
        }
    };
    check_figure(&chart(vec![1.0, 2.0], [vec![1], vec![u64::MAX]], [1.0, 2.0]));
    let edges: Vec<f64> = (0..=24).map(|bin| 1.3f64.powi(bin)).collect();
    let every = |step: usize| (0..24).map(|bin| u64::from(bin % step == 0)).collect::<Vec<_>>();
    check_figure(&chart(edges.clone(), [every(2), every(3)], [1.0, *edges.last().unwrap()]));
    check_figure(&chart(edges, [every(24), every(23)], [1.2, 1.2]));
}

#[test]
fn frontiers_of_one_point_and_of_many() {
    let point = |label: String, cost: f64, gain: f64, best: bool| FrontierPoint {
        label,
        cost,
        cost_interval: (cost * 0.95, cost * 1.05),
        gain,
        gain_interval: ((gain - 0.05).max(0.0), (gain + 0.05).min(1.0)),
        on_frontier: best,
        is_recommended: false,
    };
    let exact = |index: usize, cost: f64, gain: f64, best: bool| FrontierPoint {
        cost_interval: (cost, cost),
        gain_interval: (gain, gain),
        ..point(format!("book {index}"), cost, gain, best)
    };
    let many = (0..20).map(|index| {
        let part = index as f64 / 19.0;
        point(format!("frontier {}", index + 1), 4000.0 + 60.0 * index as f64, part.powf(0.2), true)
    });
    for points in [
        vec![exact(0, 5000.0, 1.0, true)],
        vec![exact(0, 0.0, 0.0, true), exact(1, 1e12, 1.0, true)],
        vec![point(LONG.to_owned(), 10.0, 1.0, true), point("b".to_owned(), 10.01, 0.5, false)],
        (0..4).map(|index| exact(index, 7.0, 1.0, index > 1)).collect(),
        many.collect::<Vec<_>>(),
    ] {
        check_figure(&FrontierChart {
            heading: heading("Effort and reach of rulebooks"),
            cost: Axis { title: "glances per puzzle".to_owned(), ..Axis::default() },
            gain: Axis { title: "fully reached".to_owned(), ..share_axis(Spread::Linear) },
            frontier_words: "frontier".to_owned(),
            recommended_words: "recommended".to_owned(),
            points,
        });
    }
}

#[test]
fn full_boards_and_strips() {
    // All candidates in all cells, and those of the naked side gone from all others: the most marks
    // that a house can hold.
    for (house, naked) in [(House::row(8), 1), (House::column(0), 8), (House::box_(8), 4)] {
        let cells = house.cells();
        let low = DigitSet::from_bits_truncate((1 << naked) - 1);
        let split = Split {
            house,
            naked: cells[..naked].iter().copied().collect::<CellSet>(),
            hidden: cells[naked..].iter().copied().collect::<CellSet>(),
            naked_digits: low,
            hidden_digits: low.complement(),
            eliminations: cells[naked..].iter().map(|&cell| (cell, low)).collect(),
            lead: Side::Naked,
            shown: Sides::Both,
        };
        // And a ring around every digit.
        let all = |cell: Cell, digits: DigitSet| digits.iter().map(move |digit| (cell, digit));
        let candidates = |cell: Cell| if split.naked.contains(cell) { low } else { DigitSet::FULL };
        let mut board = [CellContent::Given(Digit::from_index(7).unwrap()); 81];
        for &cell in cells {
            board[cell.index()] = CellContent::Marks(candidates(cell));
        }
        let caption = "In this house nine cells are open, and every candidate is there.".to_owned();
        check_figure(&HouseStrip {
            cells: cells.iter().map(|&cell| (cell, candidates(cell))).collect(),
            rings: cells.iter().flat_map(|&cell| all(cell, candidates(cell))).collect(),
            split: Some(split.clone()),
            titled: true,
            title: format!("{house}, open cells"),
            caption: caption.clone(),
            alt: "Words that say what is seen.".to_owned(),
            key: true,
        });
        check_figure(&Diagram {
            cells: board,
            rings: all(cells[8], candidates(cells[8])).collect(),
            ring_words: "marked".to_owned(),
            split: Some(split),
            titled: true,
            title: format!("{house}: a split"),
            caption,
            alt: "Words that say what is seen.".to_owned(),
            numbers: true,
            key: true,
        });
    }
}
