//! Pictures as trees of shapes: what pixels, pages and outlines are made of.

use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};

use crate::FigureError;
use crate::font::{BOLD, REGULAR};
use crate::theme::UNITS_PER_MILLIMETRE;

static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    fonts.set_sans_serif_family("Open Sans");
    Arc::new(fonts)
});

/// How an SVG is read: with the bundled font and no other, and a pixel for each unit of a figure.
pub(crate) fn options() -> Options<'static> {
    Options {
        font_family: "Open Sans".to_owned(),
        fontdb: Arc::clone(&FONTS),
        dpi: (25.4 * UNITS_PER_MILLIMETRE) as f32,
        ..Options::default()
    }
}

/// Reads an SVG that is to become something else.
pub(crate) fn read(svg: &str, into: &'static str) -> Result<Tree, FigureError> {
    Tree::from_str(svg, &options()).map_err(|error| unmade(into, error))
}

/// Returns the error of a picture that can't become something else.
pub(crate) fn unmade(into: &'static str, reason: impl ToString) -> FigureError {
    FigureError::Convert { into, reason: reason.to_string() }
}
