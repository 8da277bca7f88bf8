use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};

use crate::FigureError;

static REGULAR: &[u8] = include_bytes!("../fonts/OpenSans-Regular.ttf");
static BOLD: &[u8] = include_bytes!("../fonts/OpenSans-Bold.ttf");

/// Turns an SVG into a PNG, `scale` pixels per SVG unit, with the bundled font and no other.
///
/// # Errors
/// If the SVG can't be read or the picture would be empty or too large.
pub fn rasterise(svg: &str, scale: f32) -> Result<Vec<u8>, FigureError> {
    let failed = |reason: &dyn std::fmt::Display| FigureError::Rasterise(reason.to_string());
    let mut fonts = Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    fonts.set_sans_serif_family("Open Sans");
    let options = Options {
        font_family: "Open Sans".to_owned(),
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|error| failed(&error))?;
    let size = tree.size();
    let (width, height) = ((size.width() * scale).ceil(), (size.height() * scale).ceil());
    let mut pixels = Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| failed(&format!("{width} by {height} pixels are not possible")))?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| failed(&error))
}

#[cfg(test)]
mod tests {
    use super::*;

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
