//! Faults of the drawing beside its data: each datum has its mark, at the place that the axis says.

use super::drawing::{Drawing, Mark, Words};
use crate::canvas::{Anchor, Area};
use crate::theme::SMALL_SIZE;

/// How far a mark may lie from the place that the axis gives: markers are not all centred.
const NEAR: f64 = 1.2;

type Record = Vec<String>;

/// Returns what the drawing has too much, too little or at another place than its data say.
pub(super) fn faults(drawing: &Drawing, csv: &str) -> Vec<String> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().iter().collect::<Vec<_>>().join(",");
    let rows: Vec<Record> =
        reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    let mut faults = Vec::new();
    let boards = boards(drawing);
    for (classes, expected) in expected_marks(&header, &rows) {
        let classed = classes.iter().flat_map(|class| drawing.of_class(class));
        let found = classed
            .filter(|mark| {
                boards.is_empty() || boards.iter().any(|board| board.holds(&mark.extent()))
            })
            .count();
        if found != expected {
            faults.push(format!("{found} of {classes:?} for {expected} data"));
        }
    }
    let mut scales = Vec::new();
    for plot in drawing.plots() {
        let across = below(drawing, plot);
        let up = beside(drawing, plot);
        for (ticks, way) in [(&across, "across"), (&up, "up")] {
            if let Err(fault) = ticks {
                faults.push(format!("ticks {way}: {fault}"));
            }
        }
        scales.push((across.unwrap_or_default(), up.unwrap_or_default()));
    }
    for (classes, way, values) in expected_places(&header, &rows) {
        let Some((across, up)) = scales.first() else {
            faults.push("no plot".to_owned());
            continue;
        };
        let ticks = if way == Way::Across { across } else { up };
        let marks = drawing.marks.iter().filter(|mark| classes.contains(&mark.class.as_str()));
        faults.extend(misplaced(ticks, way, marks, &values));
    }
    faults
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    Across,
    Up,
}

fn field(row: &Record, index: usize) -> f64 {
    row[index].parse().unwrap()
}

/// Returns how many marks of which classes belong to the data.
fn expected_marks(header: &str, rows: &[Record]) -> Vec<(Vec<&'static str>, usize)> {
    let count = |wanted: &dyn Fn(&&Record) -> bool| rows.iter().filter(wanted).count();
    let names = |of: &[&Record]| {
        let mut names: Vec<&str> = of.iter().map(|row| row[0].as_str()).collect();
        names.dedup();
        names.len()
    };
    match header {
        "open,naked,hidden,count,denominator,value,low,high" => vec![(vec!["cell"], rows.len())],
        "category,series,value,low,high,count,of" => vec![
            (vec!["mark", "none"], rows.len()),
            (vec!["interval"], count(&|row| !row[4].is_empty() && field(row, 3) != 0.0)),
        ],
        "line,at,value,low,high" => {
            let lines: Vec<&[Record]> = rows.chunk_by(|one, next| one[0] == next[0]).collect();
            let few = lines.iter().map(|line| line.len()).filter(|&points| points <= 16);
            vec![
                (vec!["band"], lines.len()),
                (vec!["line"], lines.len()),
                (vec!["band-edge"], 2 * lines.len()),
                (vec!["mark"], few.sum()),
            ]
        }
        "distribution,value,share,count" => {
            let published: Vec<&Record> = rows.iter().filter(|row| row[3].is_empty()).collect();
            vec![
                (vec!["bar"], count(&|row| !row[3].is_empty() && row[3] != "0")),
                (vec!["point"], published.len()),
                (vec!["reference"], names(&published)),
            ]
        }
        "side,from,to,count,median,mean" => {
            let starts = |side: usize| {
                let bins: Vec<&Record> =
                    rows.chunks(rows.len() / 2).nth(side).unwrap().iter().collect();
                let filled = |index: usize| bins[index][3] != "0";
                (0..bins.len()).filter(|&bin| filled(bin) && (bin == 0 || !filled(bin - 1))).count()
            };
            vec![
                (vec!["fill"], starts(0)),
                (vec!["curve"], starts(0) + starts(1)),
                (vec!["median-mark"], 2),
                (vec!["mean-mark"], 2),
            ]
        }
        "open,naked_side,hidden_side,advice,houses,glances,puzzles" => {
            let marked = |own: &str| count(&|row| row[3] == own || row[3] == "depends");
            vec![(vec!["naked"], marked("naked")), (vec!["hidden"], marked("hidden"))]
        }
        "claim,asked,verdict" => vec![(vec!["verdict"], rows.len())],
        "bar,part,count,of,share,n" => vec![(vec!["part"], count(&|row| row[2] != "0"))],
        "label,cost,cost_low,cost_high,gain,gain_low,gain_high,on_frontier,recommended" => vec![
            (vec!["best"], count(&|row| row[7] == "true" && row[8] == "false")),
            (vec!["recommended"], count(&|row| row[8] == "true")),
            (vec!["other"], count(&|row| row[7] == "false" && row[8] == "false")),
            (vec!["interval"], 2 * rows.len()),
        ],
        "cell,kind,digits,side,removed" => cells(rows, 3, 4),
        "board,cell,kind,digits,side,removed" => cells(rows, 4, 5),
        "row,cell,digits,side,removed" => {
            let mut all = cells(rows, 3, 4);
            all.push((vec!["cell"], rows.len()));
            all
        }
        "cell,candidates,side,removed" => {
            let mut all = cells(rows, 2, 3);
            all.push((vec!["cell"], rows.len()));
            all
        }
        _ => panic!("data with the header {header}"),
    }
}

/// Returns where positions stand: the key below shows each mark once more.
fn boards(drawing: &Drawing) -> Vec<Area> {
    drawing.of_class("board").map(Mark::extent).collect()
}

fn cells(rows: &[Record], side: usize, removed: usize) -> Vec<(Vec<&'static str>, usize)> {
    let of = |name: &str| rows.iter().filter(|row| row[side] == name).count();
    let digits: usize = rows.iter().map(|row| row[removed].len()).sum();
    vec![
        (vec!["naked", "naked-outline"], 2 * of("naked")),
        (vec!["hidden"], of("hidden")),
        (vec!["removed"], digits),
    ]
}

/// Returns the values of marks along an axis.
fn expected_places(header: &str, rows: &[Record]) -> Vec<(Vec<&'static str>, Way, Vec<f64>)> {
    let column = |index: usize| rows.iter().map(|row| field(row, index)).collect::<Vec<_>>();
    match header {
        "category,series,value,low,high,count,of" => {
            let shown = rows.iter().map(|row| {
                // Where one end alone is known, it is shown; nothing is no end.
                let end = if row[4].is_empty() { 3 } else { 4 };
                field(row, if end == 3 || field(row, 3) == 0.0 { end } else { 2 })
            });
            vec![(vec!["mark", "none"], Way::Across, shown.collect())]
        }
        "line,at,value,low,high" => {
            let lines = rows.chunk_by(|one, next| one[0] == next[0]);
            let marked: Vec<&Record> = lines.filter(|line| line.len() <= 16).flatten().collect();
            let of = |index: usize| marked.iter().map(|row| field(row, index)).collect();
            vec![(vec!["mark"], Way::Across, of(1)), (vec!["mark"], Way::Up, of(2))]
        }
        "distribution,value,share,count" => {
            let published: Vec<&Record> = rows.iter().filter(|row| row[3].is_empty()).collect();
            let of = |index: usize| published.iter().map(|row| field(row, index)).collect();
            vec![(vec!["point"], Way::Across, of(1)), (vec!["point"], Way::Up, of(2))]
        }
        "side,from,to,count,median,mean" => {
            let ends = [&rows[0], &rows[rows.len() - 1]];
            let of = |column: usize| ends.map(|row| field(row, column)).to_vec();
            vec![(vec!["median-mark"], Way::Across, of(4)), (vec!["mean-mark"], Way::Across, of(5))]
        }
        "label,cost,cost_low,cost_high,gain,gain_low,gain_high,on_frontier,recommended" => vec![
            (vec!["best", "recommended", "other"], Way::Across, column(1)),
            (vec!["best", "recommended", "other"], Way::Up, column(4)),
        ],
        _ => Vec::new(),
    }
}

/// A mark on an axis: its place and what its label says.
type Ticks = Vec<(f64, f64)>;

/// Reads the axis below a plot; an area without one has no ticks.
fn below(drawing: &Drawing, plot: Area) -> Result<Ticks, String> {
    let at_bottom = |mark: &&Mark| {
        let extent = mark.extent();
        (extent.top - plot.bottom).abs() < 0.02
            && extent.left >= plot.left - 0.02
            && extent.right <= plot.right + 0.02
    };
    if !drawing.of_class("axis").any(|mark| at_bottom(&mark)) {
        return Ok(Vec::new());
    }
    let places: Vec<f64> =
        drawing.of_class("tick").filter(at_bottom).map(|mark| mark.extent().left).collect();
    let row = plot.bottom + 6.0 + 0.8 * SMALL_SIZE;
    let is_label = |text: &&Words| text.anchor == Anchor::Centre && (text.at.1 - row).abs() < 0.05;
    let labels: Vec<&Words> = drawing.texts.iter().filter(is_label).collect();
    if labels.len() != places.len() {
        return Err(format!("{} ticks with {} labels", places.len(), labels.len()));
    }
    let mut ticks = Vec::new();
    for (place, label) in places.into_iter().zip(labels) {
        // A label at the end of an axis is moved into the frame.
        if !(label.area.left - 0.02..=label.area.right + 0.02).contains(&place) {
            return Err(format!("'{}' stands beside its tick", label.words));
        }
        ticks.push((place, value(&label.words)?));
    }
    in_order(ticks, false)
}

/// Reads the axis at the left of a plot.
fn beside(drawing: &Drawing, plot: Area) -> Result<Ticks, String> {
    let is_label = |text: &&Words| {
        text.anchor == Anchor::Right && (text.at.0 - (plot.left - 5.0)).abs() < 0.05
    };
    let ticks: Result<Ticks, String> = drawing
        .texts
        .iter()
        .filter(is_label)
        .map(|text| Ok((f64::midpoint(text.ink.top, text.ink.bottom), value(&text.words)?)))
        .collect();
    in_order(ticks?, true)
}

fn in_order(mut ticks: Ticks, upwards: bool) -> Result<Ticks, String> {
    if upwards {
        ticks.sort_by(|one, next| next.0.total_cmp(&one.0));
    }
    let rising = |pair: &[(f64, f64)]| {
        pair[0].1 < pair[1].1 && if upwards { pair[0].0 > pair[1].0 } else { pair[0].0 < pair[1].0 }
    };
    if !ticks.windows(2).all(rising) {
        return Err(format!("not rising: {ticks:?}"));
    }
    Ok(ticks)
}

/// Reads a number as people write it.
fn value(words: &str) -> Result<f64, String> {
    let unread = || format!("'{words}' is no number");
    let text = words.replace(',', "").replace('−', "-");
    let (mut text, mut factor) = (text.as_str(), 1.0);
    for (unit, worth) in [("%", 0.01), ("million", 1e6), ("billion", 1e9), ("trillion", 1e12)] {
        if let Some(rest) = text.strip_suffix(unit) {
            (text, factor) = (rest.trim_end_matches('\u{a0}'), factor * worth);
        }
    }
    let raised = |c: char| "⁰¹²³⁴⁵⁶⁷⁸⁹".chars().position(|digit| digit == c);
    let plain: String = text.chars().filter(|&c| raised(c).is_none()).collect();
    let power = text.chars().filter_map(raised).fold(0, |power, digit| 10 * power + digit);
    if power == 0 {
        return plain.parse::<f64>().map(|number| number * factor).map_err(|_| unread());
    }
    let lead = plain.strip_suffix("10").ok_or_else(unread)?;
    let lead = match lead.strip_suffix('·') {
        Some(lead) => lead.parse::<f64>().map_err(|_| unread())?,
        None => 1.0,
    };
    Ok(lead * 10f64.powi(power as i32) * factor)
}

/// Returns the place of a value between or beyond two ticks, if the axis is a straight or a
/// logarithmic one; a rounded label makes neither.
fn place_of(ticks: &Ticks, of: f64) -> Option<f64> {
    let (first, last) = (ticks.first()?, ticks.last()?);
    if ticks.len() < 3 {
        return None;
    }
    let scales: [fn(f64) -> f64; 2] = [|value| value, f64::ln];
    scales.into_iter().find_map(|scale| {
        let at = |value: f64| {
            let part = (scale(value) - scale(first.1)) / (scale(last.1) - scale(first.1));
            first.0 + part * (last.0 - first.0)
        };
        let fits = ticks.iter().all(|&(place, value)| (at(value) - place).abs() < 0.3);
        fits.then(|| at(of))
    })
}

fn misplaced<'a>(
    ticks: &Ticks,
    way: Way,
    marks: impl Iterator<Item = &'a Mark>,
    values: &[f64],
) -> Vec<String> {
    if ticks.len() < 3 {
        return Vec::new();
    }
    let mut found: Vec<f64> = marks
        .map(|mark| {
            let (x, y) = mark.extent().centre();
            if way == Way::Across { x } else { y }
        })
        .collect();
    let mut expected = Vec::new();
    for &value in values {
        match place_of(ticks, value) {
            Some(place) => expected.push(place),
            None => return vec![format!("{way:?}: neither straight nor logarithmic: {ticks:?}")],
        }
    }
    found.sort_by(f64::total_cmp);
    expected.sort_by(f64::total_cmp);
    let pairs = found.iter().zip(&expected).filter(|(one, other)| (*one - *other).abs() > NEAR);
    pairs.map(|(found, expected)| format!("{way:?}: a mark at {found} for {expected}")).collect()
}
