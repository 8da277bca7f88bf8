//! What the tests of all figures look at: each figure is drawn in every theme and width, read back,
//! and searched for faults.

mod data;
mod drawing;
mod faults;
mod structure;

use crate::canvas::Area;
use crate::png::rasterise;
use crate::{Dpi, Figure, Picture, Theme, Width};
pub(crate) use drawing::Drawing;
use resvg::usvg::roxmltree::Document;
use resvg::usvg::{Group, Node, Rect, Tree};
pub(crate) use structure::structure;

/// Returns every text of an SVG with the box that a text layout library gives it.
pub(crate) fn laid_out_texts(svg: &str) -> Vec<(String, Rect)> {
    texts_of(&tree(svg))
}

fn texts_of(tree: &Tree) -> Vec<(String, Rect)> {
    fn collect(group: &Group, found: &mut Vec<(String, Rect)>) {
        for node in group.children() {
            match node {
                Node::Group(group) => collect(group, found),
                Node::Text(text) => {
                    let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    found.push((words, text.abs_bounding_box()));
                }
                _ => {}
            }
        }
    }
    let mut found = Vec::new();
    collect(tree.root(), &mut found);
    found
}

fn tree(svg: &str) -> Tree {
    crate::tree::read(svg, "a tree").unwrap()
}

/// Reads a drawing back.
pub(crate) fn read(svg: &str) -> Drawing {
    Drawing::read(svg).unwrap()
}

/// Returns how many elements have a class.
pub(crate) fn count_class(svg: &str, class: &str) -> usize {
    let document = Document::parse(svg).unwrap();
    document.descendants().filter(|node| node.attribute("class") == Some(class)).count()
}

/// Returns the texts of an SVG in the order in which they are drawn.
pub(crate) fn texts(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let nodes = document.descendants().filter(|node| node.has_tag_name("text"));
    nodes.map(|node| node.text().unwrap_or_default().to_owned()).collect()
}

/// The folder in which the pictures of all tests are kept to be looked at, if it is set.
const PICTURES: &str = "TALLYHOUSE_TEST_PICTURES";

/// Keeps a picture under the name of the test and its number among those that are there.
fn keep_picture(picture: &Picture, name: &str) {
    let Some(folder) = std::env::var_os(PICTURES).map(std::path::PathBuf::from) else { return };
    let thread = std::thread::current();
    let test = thread.name().unwrap_or("test").replace("::", "-");
    let path = (0..)
        .map(|number| folder.join(format!("{test}-{number}-{name}.png")))
        .find(|path| !path.exists());
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(path.unwrap(), picture.png(Dpi::CHART).unwrap()).unwrap();
}

/// Checks what holds for every figure in every theme and width: it is drawn twice alike, nothing
/// leaves the frame, every datum has its mark at its place, and all can be read and told apart.
pub(crate) fn check_figure(figure: &dyn Figure) {
    let csv = figure.csv().unwrap();
    assert_eq!(figure.csv().unwrap(), csv);
    for &theme in Theme::ALL {
        for &width in Width::ALL {
            let picture = figure.draw(theme, width).unwrap();
            assert_eq!(figure.draw(theme, width).unwrap(), picture);
            let svg = &picture.svg;
            let drawing = Drawing::read(svg).unwrap();
            let mut faults = faults::document(svg);
            faults.extend(faults::find(&drawing));
            faults.extend(data::faults(&drawing, &csv));
            assert!(faults.is_empty(), "{theme:?} {width:?}: {faults:#?}\n{svg}");
            keep_picture(&picture, &format!("{theme:?}-{width:?}"));
            check_layout(svg, &drawing, width);
            check_pixels(svg, &drawing);
        }
    }
}

/// Checks the frame with the text as a layout library sets it.
fn check_layout(svg: &str, drawing: &Drawing, width: Width) {
    assert_eq!(drawing.millimetres, width.millimetres());
    assert_eq!(drawing.frame.right, width.units());
    let tree = tree(svg);
    let drawn = tree.root().abs_stroke_bounding_box();
    let drawn = [drawn.left(), drawn.top(), drawn.right(), drawn.bottom()].map(f64::from);
    let drawn = Area::new(drawn[0], drawn[1], drawn[2], drawn[3]);
    assert!(drawing.frame.grown(0.5).holds(&drawn), "marks at {drawn:?} leave the frame");
    for (words, area) in texts_of(&tree) {
        let (left, right) = (f64::from(area.left()), f64::from(area.right()));
        let frame = drawing.frame;
        assert!(left >= -0.5 && right <= frame.right + 0.5, "'{words}' from {left} to {right}");
    }
}

/// Checks that the whole page is painted, and that there are more than a few marks on it.
fn check_pixels(svg: &str, drawing: &Drawing) {
    let size = [drawing.frame.right, drawing.frame.bottom];
    let pixels = rasterise(svg, size.map(|length| length as u32)).unwrap();
    let (red, green, blue) = drawing.page();
    let painted = pixels.pixels().iter().filter(|pixel| {
        assert_eq!(pixel.alpha(), 255, "the page is not painted");
        (pixel.red(), pixel.green(), pixel.blue()) != (red, green, blue)
    });
    assert!(painted.count() as f64 > 0.005 * drawing.frame.width() * drawing.frame.height());
}
