//! The elements of plotters that charts are made of, with their classes, outlines and dashes.

use plotters::coord::CoordTranslate;
use plotters::drawing::DrawingArea;
use plotters::element::{
    Drawable, DynElement, IntoDynElement, PathElement, PointCollection, Polygon, Rectangle, Text,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle};
use plotters_backend::{BackendCoord, DrawingBackend, DrawingErrorKind};

use crate::FigureError;
use crate::backend::{pixel, pixels};
use crate::canvas::{Anchor, Canvas, Paint, Type};
use crate::colour::Rgb;
use crate::font::{FAMILY, Weight};
use crate::theme::{Marker, SeriesLook};

type Drawn = Result<(), DrawingErrorKind<<Canvas as DrawingBackend>::ErrorType>>;

/// Draws elements on an area in their order.
pub(crate) fn draw_on<C: CoordTranslate, E>(
    area: &DrawingArea<Canvas, C>,
    elements: impl IntoIterator<Item = E>,
) -> Result<(), FigureError>
where
    for<'b> &'b E: PointCollection<'b, C::From>,
    E: Drawable<Canvas>,
{
    for element in elements {
        area.draw(&element).map_err(undrawn)?;
    }
    Ok(())
}

pub(crate) fn undrawn(error: impl std::error::Error) -> FigureError {
    FigureError::Draw(error.to_string())
}

/// Returns the part of a paint that plotters has words for.
pub(crate) fn shape_style(paint: &Paint) -> ShapeStyle {
    let rgb = |(red, green, blue): Rgb| RGBColor(red, green, blue);
    if let Some(fill) = paint.fill {
        return rgb(fill).mix(paint.opacity.unwrap_or(1.0)).filled();
    }
    let (colour, width) = paint.line.unwrap_or_default();
    rgb(colour).stroke_width(pixels(width).unsigned_abs())
}

/// An element in a class and a paint.
pub(crate) struct Painted<C: Clone> {
    class: &'static str,
    paint: Paint,
    element: DynElement<'static, Canvas, C>,
}

impl<'a, C: Clone + 'static> PointCollection<'a, C> for &'a Painted<C> {
    type Point = &'a C;
    type IntoIter = &'a Vec<C>;

    fn point_iter(self) -> Self::IntoIter {
        self.element.point_iter()
    }
}

impl<C: Clone> Drawable<Canvas> for Painted<C> {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        points: I,
        canvas: &mut Canvas,
        size: (u32, u32),
    ) -> Drawn {
        canvas.with_pen(self.class, &self.paint, |canvas| self.element.draw(points, canvas, size))
    }
}

pub(crate) fn rectangle<C: Clone + 'static>(
    class: &'static str,
    corners: [C; 2],
    paint: Paint,
) -> Painted<C> {
    Painted { class, paint, element: Rectangle::new(corners, shape_style(&paint)).into_dyn() }
}

pub(crate) fn polygon<C: Clone + 'static>(
    class: &'static str,
    corners: Vec<C>,
    paint: Paint,
) -> Painted<C> {
    Painted { class, paint, element: Polygon::new(corners, shape_style(&paint)).into_dyn() }
}

pub(crate) fn line<C: Clone + 'static>(
    class: &'static str,
    points: impl Into<Vec<C>>,
    paint: Paint,
) -> Painted<C> {
    Painted { class, paint, element: PathElement::new(points, shape_style(&paint)).into_dyn() }
}

/// Returns a line in the colour and dashes of a series, above a dark edge if it needs one.
pub(crate) fn series_line<C: Clone + 'static>(
    class: &'static str,
    points: &[C],
    look: &SeriesLook,
    width: f64,
) -> Vec<Painted<C>> {
    let edge = Paint::line(look.outline, width + 1.4).dashed(look.dash);
    let edge = look.is_faint().then(|| line("edge", points, edge));
    let paint = Paint::line(look.colour, width).dashed(look.dash);
    edge.into_iter().chain([line(class, points, paint)]).collect()
}

/// Returns text whose figures stand centred at the height of its place.
pub(crate) fn text<C>(words: String, at: C, how: Type) -> Text<'static, C, String> {
    let weight = if how.weight == Weight::Bold { FontStyle::Bold } else { FontStyle::Normal };
    let across = match how.anchor {
        Anchor::Left => HPos::Left,
        Anchor::Centre => HPos::Center,
        Anchor::Right => HPos::Right,
    };
    let (red, green, blue) = how.colour;
    let size = f64::from(pixels(how.size));
    let font = FontDesc::new(FontFamily::Name(FAMILY), size, weight);
    let style = font.color(&RGBColor(red, green, blue)).pos(Pos::new(across, VPos::Center));
    Text::new(words, at, style)
}

/// The mark of a series.
pub(crate) struct Mark<C> {
    pub(crate) class: &'static str,
    pub(crate) at: C,
    pub(crate) radius: f64,
    pub(crate) look: SeriesLook,
    /// What a hollow mark shows in place of its colour.
    pub(crate) inside: Option<Rgb>,
}

impl<'a, C: 'a> PointCollection<'a, C> for &'a Mark<C> {
    type Point = &'a C;
    type IntoIter = [&'a C; 1];

    fn point_iter(self) -> Self::IntoIter {
        [&self.at]
    }
}

impl<C> Drawable<Canvas> for Mark<C> {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        points: I,
        canvas: &mut Canvas,
        _: (u32, u32),
    ) -> Drawn {
        let fill = self.inside.unwrap_or(self.look.colour);
        let paint = Paint::fill(fill).outlined(self.look.outline, 1.1);
        let style = shape_style(&paint);
        for (x, y) in points {
            canvas.with_pen(self.class, &paint, |canvas| match corners(self.look.marker) {
                None => {
                    let radius = pixels(self.radius).unsigned_abs();
                    canvas.draw_circle((x, y), radius, &style, true)
                }
                Some(corners) => {
                    let corners = corners.iter().map(|&(across, down)| {
                        let (dx, dy) = pixel((across * self.radius, down * self.radius));
                        (x + dx, y + dy)
                    });
                    canvas.fill_polygon(corners, &style)
                }
            })?;
        }
        Ok(())
    }
}

/// Returns the corners of a mark of radius 1; a circle has none.
fn corners(marker: Marker) -> Option<&'static [(f64, f64)]> {
    Some(match marker {
        Marker::Circle => return None,
        Marker::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        Marker::Triangle => &[(0.0, -1.15), (1.1, 0.8), (-1.1, 0.8)],
        Marker::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
        Marker::InvertedTriangle => &[(0.0, 1.15), (1.1, -0.8), (-1.1, -0.8)],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axis::{Axis, Range, Spread};
    use crate::canvas::Area;
    use crate::plot::Plot;
    use crate::sheet::Sheet;
    use crate::{Theme, Width};

    #[test]
    fn elements_keep_their_places_and_paints() {
        let sheet = Sheet::new(Theme::Light, Width::Column);
        let across = Axis { spread: Spread::Log, ..Axis::default() };
        let across = Range::of(&across, [1.0, 100.0].into_iter(), false);
        let area = Area::new(20.0, 30.0, 120.0, 80.0);
        let plot = Plot::new(&sheet, area, across, Range::between(0.0, 5.0)).unwrap();
        let dashed = Paint::line((1, 2, 3), 1.25).dashed(Some("5 3"));
        // The ends lie beyond the axes: 0 has no logarithm.
        plot.draw([line("way", [(0.0, 9.0), (10.0, 2.0), (1e300, 0.0)], dashed)]).unwrap();
        let faint = Paint { opacity: Some(0.35), ..Paint::fill((0, 0, 255)) };
        let bar = faint.outlined((255, 0, 0), 0.33);
        plot.draw([rectangle("bar", [(1.0, 0.0), (10.0, 1.5)], bar)]).unwrap();
        plot.draw([polygon("area", vec![(1.0, 0.0), (10.0, 5.0), (100.0, 0.0)], faint)]).unwrap();
        let look = sheet.look.series(0);
        let mark = Mark { class: "dot", at: (10.0, 2.5), radius: 3.61, look, inside: None };
        plot.draw([mark]).unwrap();
        let how = sheet.small().bold().anchored(Anchor::Right);
        sheet.draw([text("10 < 20".to_owned(), pixel((70.0, 55.0)), how)]).unwrap();
        let svg = sheet.finish("title", "words").svg;
        for expected in [
            "<path class=\"way\" d=\"M20 30L70 60L120 80\" fill=\"none\" stroke=\"#010203\" \
             stroke-width=\"1.25\" stroke-dasharray=\"5 3\"",
            "<rect class=\"bar\" x=\"20\" y=\"65\" width=\"50\" height=\"15\" fill=\"#0000FF\" \
             fill-opacity=\"0.35\" stroke=\"#FF0000\" stroke-width=\"0.33\"/>",
            "<path class=\"area\" d=\"M20 80L70 30L120 80Z\" fill=\"#0000FF\" fill-opacity=\"0.35\" ",
            "<circle class=\"dot\" cx=\"70\" cy=\"55\" r=\"3.61\" fill=\"#000000\" \
             stroke=\"#000000\" stroke-width=\"1.1\"/>",
            "font-size=\"9.88\" font-weight=\"bold\" text-anchor=\"end\" fill=\"#222222\">10 &lt; 20<",
        ] {
            assert!(svg.contains(expected), "{expected}\n{svg}");
        }
    }
}
