//! Text as letters or as shapes.

use resvg::usvg::WriteOptions;

use crate::canvas::document;
use crate::tree::read;
use crate::{FigureError, Picture};

/// How text stands in files that are made of shapes: SVG and PDF.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lettering {
    /// As text, which can be searched and changed.
    #[default]
    Text,
    /// As outlines, which look the same where the font is missing.
    Outlines,
}

impl Picture {
    /// Returns the SVG with its text in this way.
    ///
    /// # Errors
    /// If the SVG can't be read.
    pub fn svg_in(&self, lettering: Lettering) -> Result<String, FigureError> {
        match lettering {
            Lettering::Text => Ok(self.svg.clone()),
            Lettering::Outlines => self.outlined(),
        }
    }

    /// Returns the SVG with its text as outlines of the bundled font.
    fn outlined(&self) -> Result<String, FigureError> {
        let tree = read(&self.svg, "an SVG with outlines")?;
        let size = (f64::from(tree.size().width()), f64::from(tree.size().height()));
        let written = tree.to_string(&WriteOptions::default());
        // The root is written anew: the library keeps neither millimetres nor title and description.
        let shapes = written.find('>').map_or("", |end| &written[end + 1..]);
        let shapes = shapes.trim_end().strip_suffix("</svg>").unwrap_or_default();
        Ok(document(size, "", &self.title, &self.alt, shapes.trim_start()))
    }
}

#[cfg(test)]
mod tests {
    use resvg::usvg::roxmltree::Document;

    use super::*;
    use crate::png::rasterise;
    use crate::{Figure, Theme, Width};

    #[test]
    fn outlines_look_like_the_text_that_they_replace() {
        let mut chart = crate::heat_map::tests::chart();
        chart.heading.title = "A > B & \"C\"".to_owned();
        chart.heading.alt = "What <is> drawn".to_owned();
        let picture = chart.draw(Theme::Light, Width::Column).unwrap();
        assert_eq!(picture.svg_in(Lettering::Text).unwrap(), picture.svg);
        let outlined = picture.svg_in(Lettering::Outlines).unwrap();
        assert_eq!(picture.svg_in(Lettering::Outlines).unwrap(), outlined);
        assert!(picture.svg.contains("<text") && !outlined.contains("<text"));
        assert!(!outlined.contains("font-"));

        let document = Document::parse(&outlined).unwrap();
        let words = |name| {
            let mut nodes = document.descendants();
            nodes.find(|node| node.has_tag_name(name)).and_then(|node| node.text())
        };
        assert_eq!(words("title"), Some(&*picture.title));
        assert_eq!(words("desc"), Some(&*picture.alt));
        let root = document.root_element();
        assert_eq!(root.attribute("width"), Some("85mm"));
        assert_eq!(root.attribute("role"), Some("img"));

        let draw = |svg: &str| rasterise(svg, [680, (picture.height * 8.0) as u32]).unwrap();
        let (text, outlines) = (draw(&picture.svg), draw(&outlined));
        let differ = text.data().iter().zip(outlines.data()).filter(|(a, b)| a.abs_diff(**b) > 60);
        assert!(differ.count() * 1000 < text.data().len(), "more than rounding");
    }
}
