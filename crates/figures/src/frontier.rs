//! Points in two measures with a step line through the best of them.

use serde::{Deserialize, Serialize};

use crate::axis::{Axis, Range, Spread};
use crate::backend::pixel;
use crate::canvas::{Anchor, Area, Paint, Type};
use crate::elements::{Mark, line, series_line};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{Sample, Sheet};
use crate::theme::{Marker, SeriesLook};
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A point with its intervals.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FrontierPoint {
    /// Its name.
    pub label: String,
    /// The cost: less is better.
    pub cost: f64,
    /// The interval of the cost.
    pub cost_interval: (f64, f64),
    /// The gain: more is better.
    pub gain: f64,
    /// The interval of the gain.
    pub gain_interval: (f64, f64),
    /// If no other point is better in one measure and no worse in the other.
    pub on_frontier: bool,
    /// If it is the one that is recommended.
    #[serde(default)]
    pub is_recommended: bool,
}

/// Cost from left to right, gain upwards. Points on the frontier are filled circles on a step line, the
/// one that is recommended is a hollow triangle, the others are hollow diamonds. Points carry their names; where there is no room for all, those at the
/// ends of the frontier and beside it come first.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontierChart {
    /// The words around the chart.
    pub heading: Heading,
    /// The cost.
    pub cost: Axis,
    /// The gain.
    pub gain: Axis,
    /// What it means to be on the frontier.
    pub frontier_words: String,
    /// What the one that is recommended is called.
    pub recommended_words: String,
    /// The points.
    pub points: Vec<FrontierPoint>,
}

const RADIUS: f64 = 3.8;

/// A name of more lines would hide the chart.
const MOST_LINES: usize = 3;

impl FrontierChart {
    fn check(&self) -> Result<(), FigureError> {
        let heading = &self.heading;
        if self.points.is_empty() {
            return Err(heading.no_data("points"));
        }
        for point in &self.points {
            for (axis, value, interval) in [
                (&self.cost, point.cost, point.cost_interval),
                (&self.gain, point.gain, point.gain_interval),
            ] {
                heading.check_within(&point.label, value, interval)?;
                if axis.spread == Spread::Log && interval.0 <= 0.0 {
                    return Err(heading.unfit(&point.label, interval.0, "an interval above 0"));
                }
            }
        }
        for pair in self.frontier().windows(2) {
            if pair[1].gain < pair[0].gain {
                let found = format!("a gain of {} after {}", pair[1].gain, pair[0].gain);
                let expected = "a frontier on which more cost brings more gain";
                return Err(heading.unfit(&pair[1].label, found, expected));
            }
        }
        Ok(())
    }

    /// Returns the points on the frontier in the order of their cost.
    fn frontier(&self) -> Vec<&FrontierPoint> {
        let mut best: Vec<_> = self.points.iter().filter(|point| point.on_frontier).collect();
        best.sort_by(|one, other| {
            one.cost.total_cmp(&other.cost).then(one.gain.total_cmp(&other.gain))
        });
        best
    }

    fn range(axis: &Axis, ends: impl Iterator<Item = (f64, f64)>) -> Range {
        Range::of(axis, ends.flat_map(|(low, high)| [low, high]), false)
    }

    /// Returns the corners of the step line: along the cost at the gain reached so far, then up.
    fn steps(&self) -> Vec<(f64, f64)> {
        let mut corners: Vec<(f64, f64)> = Vec::new();
        for point in self.frontier() {
            if let Some(&(_, reached)) = corners.last() {
                corners.push((point.cost, reached));
            }
            corners.push((point.cost, point.gain));
        }
        corners
    }

    fn draw_marks(&self, sheet: &Sheet, plot: &Plot) -> Result<(), FigureError> {
        let looks = looks(sheet);
        // Wider than the step line, which often runs along an interval.
        let wide = Paint::line(sheet.look.edge, 2.2);
        let intervals = self.points.iter().flat_map(FrontierPoint::intervals);
        plot.draw(intervals.map(|ends| line("interval", ends, wide)))?;
        let steps = self.steps();
        if steps.len() > 1 {
            plot.draw(series_line("frontier", &steps, &looks[0], 1.2))?;
        }
        // The best last: others must not hide them.
        let mut points: Vec<&FrontierPoint> = self.points.iter().collect();
        points.sort_by_key(|point| (point.is_recommended, point.on_frontier));
        plot.draw(points.into_iter().map(|point| {
            let (at, inside) = ((point.cost, point.gain), Some(sheet.look.page));
            match point {
                FrontierPoint { is_recommended: true, .. } => {
                    Mark { class: "recommended", at, radius: RADIUS, look: looks[1], inside }
                }
                FrontierPoint { on_frontier: true, .. } => {
                    Mark { class: "best", at, radius: RADIUS, look: looks[0], inside: None }
                }
                _ => Mark { class: "other", at, radius: RADIUS - 0.4, look: looks[2], inside },
            }
        }))
    }
}

/// How the points on the frontier look, the one that is recommended, and all others.
fn looks(sheet: &Sheet) -> [SeriesLook; 3] {
    let best = sheet.look.series(0);
    [best, SeriesLook { marker: Marker::Triangle, ..best }, sheet.look.worth(None)]
}

impl FrontierPoint {
    /// Returns the ends of the interval of the cost and of that of the gain.
    fn intervals(&self) -> [[(f64, f64); 2]; 2] {
        let ((least, most), (low, high)) = (self.cost_interval, self.gain_interval);
        [[(least, self.gain), (most, self.gain)], [(self.cost, low), (self.cost, high)]]
    }
}

/// Points that lie so close together that they share a label.
struct Cluster {
    at: (f64, f64),
    members: Vec<usize>,
}

fn clusters(places: &[(f64, f64)]) -> Vec<Cluster> {
    let mut clusters: Vec<Cluster> = Vec::new();
    for (index, &(x, y)) in places.iter().enumerate() {
        let near =
            clusters.iter_mut().find(|cluster| (cluster.at.0 - x).hypot(cluster.at.1 - y) < RADIUS);
        match near {
            Some(cluster) => cluster.members.push(index),
            None => clusters.push(Cluster { at: (x, y), members: vec![index] }),
        }
    }
    clusters
}

/// A label with the place that was found for it.
struct Placed {
    lines: Vec<String>,
    area: Area,
    from: (f64, f64),
    /// The line from the point to the label, if they lie apart.
    leader: Option<[(f64, f64); 2]>,
}

/// Tests if a straight line comes into an area.
fn crosses([from, to]: [(f64, f64); 2], area: &Area) -> bool {
    const STEPS: u32 = 24;
    (0..=STEPS).any(|step| {
        let part = f64::from(step) / f64::from(STEPS);
        let at = (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1));
        area.nearest(at) == at
    })
}

/// Tests if two straight lines meet.
fn meet([a, b]: [(f64, f64); 2], [c, d]: [(f64, f64); 2]) -> bool {
    let side = |from: (f64, f64), to: (f64, f64), at: (f64, f64)| {
        (to.0 - from.0) * (at.1 - from.1) - (to.1 - from.1) * (at.0 - from.0)
    };
    let parts = |from, to, one, other| side(from, to, one) * side(from, to, other) <= 0.0;
    parts(a, b, c, d) && parts(c, d, a, b)
}

/// Returns the line from the edge of a mark to its label.
fn leader(from: (f64, f64), label: &Area) -> [(f64, f64); 2] {
    let end = label.nearest(from);
    let (dx, dy) = (end.0 - from.0, end.1 - from.1);
    let part = ((RADIUS + 0.5) / dx.hypot(dy)).min(1.0);
    [(from.0 + part * dx, from.1 + part * dy), end]
}

/// How far the halo of a text reaches beyond its letters.
const HALO: f64 = 1.5;

/// From where on a label has a line to its point.
const NEAR: f64 = 5.0;

/// Finds a place beside its point for each label; those without room get none.
fn place_labels(
    labels: &[(Vec<String>, (f64, f64))],
    how: Type,
    frame: Area,
    marks: &[Area],
    lines: &[Area],
) -> Vec<Placed> {
    let mut placed: Vec<Placed> = Vec::new();
    for (words, from) in labels {
        let (width, height) = (how.widest(words), how.height(words));
        let distances = [4.0, 8.0, 14.0, 20.0, 28.0, 40.0, 56.0, 75.0, 100.0, 130.0];
        let choices = distances.into_iter().flat_map(|distance| {
            // Right, left, above and below first, then the corners.
            let directions = [(1, 0), (-1, 0), (0, -1), (0, 1), (1, -1), (-1, -1), (1, 1), (-1, 1)];
            directions.map(move |(right, down): (i8, i8)| {
                let reach = RADIUS + distance;
                let middle = (
                    from.0 + f64::from(right) * (reach + width / 2.0),
                    from.1 + f64::from(down) * (reach + height / 2.0),
                );
                let area = Area::new(
                    middle.0 - width / 2.0,
                    middle.1 - height / 2.0,
                    middle.0 + width / 2.0,
                    middle.1 + height / 2.0,
                );
                let leader = (distance > NEAR).then(|| leader(*from, &area));
                (area, leader, right != 0 && down != 0)
            })
        });
        let own = |mark: &&Area| mark.nearest(*from) == *from;
        let away = |area: &Area, (x, y): (f64, f64)| {
            let nearest = area.nearest((x, y));
            (nearest.0 - x).hypot(nearest.1 - y)
        };
        // Without a line a label belongs to the mark that is nearest; at a corner, by far.
        let is_clear = |area: &Area, is_oblique: bool| {
            let mut others = marks.iter().filter(|mark| !own(mark));
            let factor = if is_oblique { 1.4 } else { 1.1 };
            others.all(|mark| away(area, mark.centre()) > factor * away(area, *from) + 2.0)
        };
        let free = |area: &Area, leader: Option<[(f64, f64); 2]>, is_oblique: bool| {
            frame.holds(area)
                && (leader.is_some() || is_clear(area, is_oblique))
                && marks.iter().chain(lines).all(|other| !other.overlaps(&area.grown(HALO)))
                && placed.iter().all(|other| {
                    !other.area.grown(2.0).overlaps(area)
                        && other.leader.is_none_or(|line| !crosses(line, &area.grown(1.0)))
                        && leader.is_none_or(|line| {
                            !crosses(line, &other.area.grown(1.0))
                                && other.leader.is_none_or(|other| !meet(line, other))
                        })
                })
                && leader.is_none_or(|line| {
                    marks.iter().filter(|mark| !own(mark)).all(|mark| !crosses(line, mark))
                })
        };
        let mut choices = choices.into_iter();
        let free = |choice: &(Area, Option<_>, bool)| free(&choice.0, choice.1, choice.2);
        if let Some((area, leader, _)) = choices.find(free) {
            placed.push(Placed { lines: words.clone(), area, from: *from, leader });
        }
    }
    placed
}

impl FrontierChart {
    fn label_points(&self, sheet: &mut Sheet, plot: &Plot) -> Result<Vec<String>, FigureError> {
        let places: Vec<_> =
            self.points.iter().map(|point| plot.at((point.cost, point.gain))).collect();
        let around = |(x, y): (f64, f64)| Area::new(x, y, x, y).grown(RADIUS + 1.0);
        let marks: Vec<Area> = places.iter().map(|&place| around(place)).collect();
        let between = |from: (f64, f64), to: (f64, f64)| {
            Area::new(from.0.min(to.0), from.1.min(to.1), from.0.max(to.0), from.1.max(to.1))
                .grown(1.0)
        };
        let intervals = self.points.iter().flat_map(FrontierPoint::intervals);
        let intervals = intervals.map(|[from, to]| between(plot.at(from), plot.at(to)));
        let steps: Vec<_> = self.steps().into_iter().map(|corner| plot.at(corner)).collect();
        let steps = steps.windows(2).map(|pair| between(pair[0], pair[1]));
        let lines: Vec<Area> = intervals.chain(steps).collect();
        let small = sheet.small();
        let clusters = clusters(&places);
        let names: Vec<_> = clusters
            .iter()
            .map(|cluster| {
                let limit = plot.area.width() * 0.34;
                let name = |&index: &usize| {
                    let label = &self.points[index].label;
                    // A short name stays on one line.
                    let is_short = small.width(label) <= limit - small.width(",");
                    if is_short { label.replace(' ', "\u{a0}") } else { label.clone() }
                };
                let names: Vec<_> = cluster.members.iter().map(name).collect();
                let lines = small.broken(&names.join(", "), limit);
                let lines = lines.into_iter().map(|line| line.replace('\u{a0}', " "));
                (lines.collect::<Vec<_>>(), cluster.at)
            })
            .collect();
        if names.iter().all(|(lines, _)| lines.len() <= MOST_LINES) {
            let placed = place_labels(&names, small, plot.area, &marks, &lines);
            if placed.len() == names.len() {
                draw_labels(sheet, &placed)?;
                return Ok(Vec::new());
            }
        }
        // The most important first: no number stands for a name.
        let mut order: Vec<usize> = (0..clusters.len()).collect();
        order.sort_by_key(|&index| self.rank(&clusters[index]));
        let in_order: Vec<_> = order
            .iter()
            .map(|&index| names[index].clone())
            .filter(|(lines, _)| lines.len() <= MOST_LINES)
            .collect();
        let placed = place_labels(&in_order, small, plot.area, &marks, &lines);
        draw_labels(sheet, &placed)?;
        let unnamed =
            clusters.iter().filter(|cluster| !placed.iter().any(|label| label.from == cluster.at));
        let unnamed: usize = unnamed.map(|cluster| cluster.members.len()).sum();
        let points = if unnamed == 1 { "1 point has" } else { &format!("{unnamed} points have") };
        let note = format!("{points} no room for a name; the data beside the chart have it.");
        Ok(if unnamed == 0 { Vec::new() } else { vec![note] })
    }

    /// Returns the place of points among those that want their names shown: what is recommended and the
    /// ends of the frontier, what is not on it, the rest.
    fn rank(&self, cluster: &Cluster) -> u8 {
        let frontier = self.frontier();
        let is_end = |&index: &usize| {
            let point = &self.points[index];
            let mut ends = [frontier.first(), frontier.last()].into_iter().flatten();
            point.is_recommended || ends.any(|end| *end == point)
        };
        match () {
            () if cluster.members.iter().any(is_end) => 0,
            () if cluster.members.iter().any(|&index| !self.points[index].on_frontier) => 1,
            () => 2,
        }
    }
}

/// The halo of the text is ours: plotters has none.
fn draw_labels(sheet: &mut Sheet, placed: &[Placed]) -> Result<(), FigureError> {
    let small = sheet.small();
    for Placed { lines, area, from, leader } in placed {
        let (x, y) = area.centre();
        if let Some(ends) = leader {
            let paint = Paint::line(sheet.look.edge, 0.7);
            sheet.draw([line("leader", ends.map(pixel), paint)])?;
        }
        // Text stands on the side of its point.
        let (anchor, x) = if area.left > from.0 {
            (Anchor::Left, area.left)
        } else if area.right < from.0 {
            (Anchor::Right, area.right)
        } else {
            (Anchor::Centre, x)
        };
        let how = small.anchored(anchor).haloed(sheet.look.page);
        sheet.centred_block(lines, x, y, how);
    }
    Ok(())
}

impl Figure for FrontierChart {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let costs = self.points.iter().map(|point| point.cost_interval);
        let gains = self.points.iter().map(|point| point.gain_interval);
        let (across, up) = (Self::range(&self.cost, costs), Self::range(&self.gain, gains));
        let height = width.plot_height() * 1.05;
        let plot =
            Plot::with_axes(&mut sheet, (&self.cost, across), (&self.gain, up), height, 0.0)?;
        let below = sheet.y;
        let [best, recommended, others] = looks(&sheet);
        sheet.y = below + 7.0;
        let page = sheet.look.page;
        let mut key = vec![(Sample::LineAndMark(best), self.frontier_words.clone())];
        if self.points.iter().any(|point| point.is_recommended) {
            key.push((Sample::HollowMark(recommended, page), self.recommended_words.clone()));
        }
        key.push((Sample::HollowMark(others, page), "others".to_owned()));
        sheet.key(&key)?;
        // Names over lines, lines over rules: the order of drawing.
        let below = sheet.y;
        self.draw_marks(&sheet, &plot)?;
        let listed = self.label_points(&mut sheet, &plot)?;
        sheet.y = below;
        let soft = sheet.small_soft();
        for line in &listed {
            sheet.paragraph(line, soft);
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.points.iter().map(|point| {
            let numbers = [
                point.cost,
                point.cost_interval.0,
                point.cost_interval.1,
                point.gain,
                point.gain_interval.0,
                point.gain_interval.1,
            ];
            let numbers = numbers.map(|number| number.to_string());
            let mut record = vec![point.label.clone()];
            record.extend(numbers);
            record.extend([point.on_frontier, point.is_recommended].map(|is| is.to_string()));
            record
        });
        write_csv(
            "label,cost,cost_low,cost_high,gain,gain_low,gain_high,on_frontier,recommended",
            records,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};
    use crate::words::Unit;

    fn chart(points: usize) -> FrontierChart {
        let point = |index: usize| {
            let (cost, gain) =
                (100.0 + 37.0 * index as f64, 0.5 + 0.4 * index as f64 / points as f64);
            let best = !index.is_multiple_of(3);
            let gain = if best { gain } else { gain - 0.2 };
            FrontierPoint {
                label: format!("book {index}"),
                cost,
                cost_interval: (cost - 8.0, cost + 8.0),
                gain,
                gain_interval: (gain - 0.01, gain + 0.01),
                on_frontier: best,
                is_recommended: index == 3,
            }
        };
        FrontierChart {
            heading: Heading {
                title: "Frontier".into(),
                subtitle: "9 puzzles.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            cost: Axis { title: "mean glances".into(), ..Axis::default() },
            gain: Axis { title: "reached".into(), unit: Unit::Percent, ..Axis::default() },
            frontier_words: "frontier: no other costs less".into(),
            recommended_words: "recommended".into(),
            points: (0..points).map(point).collect(),
        }
    }

    #[test]
    fn points_carry_their_names_where_there_is_room() {
        let chart = chart(6);
        let svg = chart.draw(Theme::Light, Width::Page).unwrap().svg;
        assert_eq!((count_class(&svg, "best"), count_class(&svg, "other")), (4, 1));
        assert_eq!(count_class(&svg, "recommended"), 1);
        assert_eq!((count_class(&svg, "frontier"), count_class(&svg, "interval")), (1, 12));
        let texts = texts(&svg);
        assert!((0..6).all(|index| texts.contains(&format!("book {index}"))));
        assert!(texts.contains(&"recommended".to_owned()));
        check_figure(&chart);
        assert_eq!(chart.csv().unwrap().lines().count(), 7);
    }

    #[test]
    fn lines_from_points_to_their_names_do_not_cross() {
        assert!(meet([(0.0, 0.0), (2.0, 2.0)], [(0.0, 2.0), (2.0, 0.0)]));
        assert!(!meet([(0.0, 0.0), (2.0, 2.0)], [(0.0, 2.0), (0.9, 1.1)]));
        // A steep frontier crowds its names.
        let how = Sheet::new(Theme::Light, Width::Column).small();
        let names: Vec<_> = (0..9u8)
            .map(|index| {
                let at = (120.0 + 4.0 * f64::from(index), 200.0 - 11.0 * f64::from(index));
                (vec![format!("frontier {index}")], at)
            })
            .collect();
        let around = |&(_, (x, y)): &(Vec<String>, (f64, f64))| Area::new(x, y, x, y).grown(4.8);
        let marks: Vec<Area> = names.iter().map(around).collect();
        let placed = place_labels(&names, how, Area::new(0.0, 0.0, 320.0, 240.0), &marks, &[]);
        let leaders: Vec<_> = placed.iter().filter_map(|label| label.leader).collect();
        assert!(placed.len() > 6 && leaders.len() > 1, "{} {}", placed.len(), leaders.len());
        for (index, &one) in leaders.iter().enumerate() {
            assert!(leaders[..index].iter().all(|&other| !meet(one, other)), "{leaders:?}");
        }
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for points in [1, 30] {
            check_figure(&chart(points));
            let mut long = chart(points);
            for point in &mut long.points {
                point.label = "A rulebook <&\" with a very long name indeed ".repeat(3);
            }
            check_figure(&long);
            for (index, point) in long.points.iter_mut().enumerate() {
                point.cost = 1e15;
                point.cost_interval = (1e15, 1e15);
                point.gain = 0.0;
                point.gain_interval = (0.0, if index == 0 { 0.0 } else { 1e-9 });
            }
            check_figure(&long);
            let svg = long.draw(Theme::Light, Width::Column).unwrap().svg;
            let unnamed = if points == 1 { "1 point has" } else { "30 points have" };
            let told = texts(&svg).iter().any(|text| text.contains(unnamed));
            assert!(told, "{:?}", texts(&svg));
            long.cost.spread = Spread::Log;
            check_figure(&long);
        }
    }

    #[test]
    fn wrong_points_are_refused() {
        let mut wrong = chart(3);
        wrong.points[1].gain = 2.0;
        let mut falling = chart(9);
        falling.points[8].gain = 0.01;
        falling.points[8].gain_interval = (0.0, 0.02);
        let error = falling.draw(Theme::Light, Width::Column).unwrap_err().to_string();
        assert!(error.contains("book 8") && error.contains("more gain"), "{error}");
        assert!(matches!(wrong.draw(Theme::Light, Width::Column), Err(FigureError::Unfit { .. })));
        assert!(matches!(
            chart(0).draw(Theme::Light, Width::Column),
            Err(FigureError::NoData { .. })
        ));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("frontier", structure(&chart(6)));
    }
}
