use std::sync::{Arc, LazyLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};

use crate::font::{BOLD, REGULAR};
use crate::theme::UNITS_PER_MILLIMETRE;
use crate::{FigureError, Picture};

impl Picture {
    /// Returns the picture as a PNG, set in the bundled font and no other, `scale` pixels per unit of
    /// 0.25 mm: 3 gives 305 dots per inch, 6 gives 610.
    ///
    /// # Errors
    /// If the SVG can't be read or the picture would be empty or too large.
    pub fn png(&self, scale: f32) -> Result<Vec<u8>, FigureError> {
        rasterise(&self.svg, scale)
    }
}

pub(crate) fn rasterise(svg: &str, scale: f32) -> Result<Vec<u8>, FigureError> {
    let failed = |reason: &dyn std::fmt::Display| FigureError::Rasterise(reason.to_string());
    let tree = Tree::from_str(svg, &options()).map_err(|error| failed(&error))?;
    let size = tree.size();
    let (width, height) = ((size.width() * scale).ceil(), (size.height() * scale).ceil());
    let mut pixels = Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| failed(&format!("{width} by {height} pixels are not possible")))?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| failed(&error))
}

static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    fonts.set_sans_serif_family("Open Sans");
    Arc::new(fonts)
});

/// How an SVG is read: with the bundled font, and a pixel for each unit of a figure.
pub(crate) fn options() -> Options<'static> {
    Options {
        font_family: "Open Sans".to_owned(),
        fontdb: Arc::clone(&FONTS),
        dpi: (25.4 * UNITS_PER_MILLIMETRE) as f32,
        ..Options::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_has_a_thousand_pixels_at_three_for_a_unit() {
        let chart = crate::heat_map::tests::chart();
        for (width, across) in [(crate::Width::Column, 1020), (crate::Width::Page, 2040)] {
            let picture = crate::Figure::draw(&chart, crate::Theme::Light, width).unwrap();
            let png = Pixmap::decode_png(&picture.png(3.0).unwrap()).unwrap();
            let height = Tree::from_str(&picture.svg, &options()).unwrap().size().height();
            assert_eq!(
                (picture.width, picture.height),
                (width.millimetres(), f64::from(height) / 4.0)
            );
            assert_eq!((png.width(), png.height()), (across, (3.0 * height) as u32));
        }
    }

    #[test]
    fn text_leaves_marks_and_bad_input_an_error() {
        let svg = |text: &str| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40\" height=\"20\"><text x=\"2\" \
                 y=\"15\" font-family=\"Open Sans\">{text}</text></svg>"
            )
        };
        let (with, without) = (rasterise(&svg("ab"), 2.0), rasterise(&svg(""), 2.0));
        assert_ne!(with.unwrap(), without.unwrap());
        assert!(rasterise("no svg", 1.0).is_err());
    }
}
