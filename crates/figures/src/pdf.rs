//! Pictures as pages of PDF.

use krilla::Document;
use krilla::geom::{Size, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::surface::Surface;
use krilla::tagging::{ContentTag, Node, Tag, TagGroup, TagTree};
use krilla_svg::{SurfaceExt, SvgSettings};

use crate::tree::{read, unmade};
use crate::{FigureError, Lettering, Picture};

/// Points (1/72 inch) in a millimetre.
const POINTS: f64 = 72.0 / 25.4;

const PDF: &str = "a PDF";

/// A page: its size and what stands on it, all in millimetres.
pub(crate) struct Page<'a> {
    pub(crate) width: f64,
    pub(crate) height: f64,
    /// The pictures with their left and top edges.
    pub(crate) pictures: Vec<(f64, f64, &'a Picture)>,
}

impl Picture {
    /// Returns the picture as a PDF of one page, as large as the picture, with the title and the
    /// description for readers who can't see it. Text is set in the bundled font, of which the letters
    /// used are embedded, or drawn as outlines.
    ///
    /// # Errors
    /// If the SVG can't be read or the page can't be made.
    pub fn pdf(&self, lettering: Lettering) -> Result<Vec<u8>, FigureError> {
        let (width, height, pictures) = (self.width, self.height, vec![(0.0, 0.0, self)]);
        pdf(&self.title, &[Page { width, height, pictures }], lettering)
    }
}

/// Returns pages as a PDF with a title; each picture says what it shows to readers who can't see it.
pub(crate) fn pdf(
    title: &str,
    pages: &[Page<'_>],
    lettering: Lettering,
) -> Result<Vec<u8>, FigureError> {
    let mut document = Document::new();
    let mut tags = TagTree::new();
    for page in pages {
        let [width, height] = [page.width, page.height].map(|length| (length * POINTS) as f32);
        let no_page = || unmade(PDF, format!("no page is {width} by {height} points large"));
        let settings = PageSettings::from_wh(width, height).ok_or_else(no_page)?;
        let mut started = document.start_page_with(settings);
        let mut surface = started.surface();
        for (left, top, picture) in &page.pictures {
            tags.push(draw(&mut surface, (*left, *top), picture, lettering)?);
        }
        surface.finish();
        started.finish();
    }
    document.set_tag_tree(tags);
    document.set_metadata(Metadata::new().title(title.to_owned()).language("en".to_owned()));
    document.finish().map_err(|error| unmade(PDF, format!("{error:?}")))
}

/// Draws a picture at its place and returns what tells of it: running text where it has no description.
fn draw(
    surface: &mut Surface<'_>,
    (left, top): (f64, f64),
    picture: &Picture,
    lettering: Lettering,
) -> Result<Node, FigureError> {
    let tree = read(&picture.svg, PDF)?;
    let [width, height] = [picture.width, picture.height].map(|length| (length * POINTS) as f32);
    let no_size = || unmade(PDF, format!("no picture is {width} by {height} points large"));
    let size = Size::from_wh(width, height).ok_or_else(no_size)?;
    let [left, top] = [left, top].map(|length| (length * POINTS) as f32);
    let is_moved = left != 0.0 || top != 0.0;
    let drawn = surface.start_tagged(ContentTag::Other);
    if is_moved {
        surface.push_transform(&Transform::from_translate(left, top));
    }
    let embed_text = lettering == Lettering::Text;
    surface.draw_svg(&tree, size, SvgSettings { embed_text, ..SvgSettings::default() });
    if is_moved {
        surface.pop();
    }
    surface.end_tagged();
    let mut group = if picture.alt.is_empty() {
        TagGroup::new(Tag::P)
    } else {
        TagGroup::new(Tag::Figure(Some(picture.alt.clone())))
    };
    group.push(drawn);
    Ok(group.into())
}

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;
    use crate::{Figure, Theme, Width};

    fn picture(width: Width) -> Picture {
        crate::heat_map::tests::chart().draw(Theme::Light, width).unwrap()
    }

    /// Runs a program of poppler on a PDF and returns what it prints.
    fn poppler(program: &str, pdf: &[u8]) -> String {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), pdf).unwrap();
        let (before, after): (&[&str], &[&str]) =
            if program == "pdftotext" { (&["-raw"], &["-"]) } else { (&[], &[]) };
        let mut command = Command::new(program);
        let output = command.args(before).arg(file.path()).args(after).output().unwrap();
        let complaints = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.success(), "{complaints}");
        // It complains of each tagged file that an entry is a boolean, as ISO 32000-1 wants it
        // (table 321, from memory).
        let known = |line: &&str| line.contains("Suspects object is wrong type (boolean)");
        let unknown: Vec<&str> = complaints.lines().filter(|line| !known(line)).collect();
        assert!(unknown.is_empty(), "{unknown:#?}");
        String::from_utf8(output.stdout).unwrap()
    }

    #[test]
    fn the_same_picture_gives_the_same_bytes() {
        let picture = picture(Width::Column);
        for lettering in [Lettering::Text, Lettering::Outlines] {
            let pdf = picture.pdf(lettering).unwrap();
            assert!(pdf.starts_with(b"%PDF-"));
            assert_eq!(picture.pdf(lettering).unwrap(), pdf);
        }
        let broken = Picture { svg: "no svg".to_owned(), ..picture.clone() };
        assert!(broken.pdf(Lettering::Text).is_err());
        assert!(Picture { width: 0.0, ..picture }.pdf(Lettering::Text).is_err());
    }

    #[test]
    #[ignore = "needs poppler: run with --include-ignored"]
    fn poppler_finds_the_size_the_fonts_and_the_words() {
        for width in ["column", "page", "121.5"] {
            let width: Width = width.parse().unwrap();
            let picture = picture(width);
            let pdf = picture.pdf(Lettering::Text).unwrap();
            let about = poppler("pdfinfo", &pdf);
            let line = |name: &str| {
                let line = about.lines().find_map(|line| line.strip_prefix(name));
                line.unwrap_or_else(|| panic!("no {name} in {about}")).trim().to_owned()
            };
            assert_eq!((&*line("Title:"), &*line("Pages:")), (&*picture.title, "1"));
            assert_eq!(line("Tagged:"), "yes");
            let size = line("Page size:");
            let points: Vec<f64> = size.split(' ').filter_map(|word| word.parse().ok()).collect();
            for (points, millimetres) in points.iter().zip([picture.width, picture.height]) {
                assert!((points / 72.0 * 25.4 - millimetres).abs() < 0.01, "{size}");
            }
            assert_eq!(points.len(), 2, "{size}");
            // Name, type and encoding; then if it is embedded and a subset.
            let fonts = poppler("pdffonts", &pdf);
            let fonts: Vec<&str> = fonts.lines().skip(2).collect();
            assert_eq!(fonts.len(), 2, "{fonts:#?}");
            assert!(
                fonts.iter().all(|font| font.contains("OpenSans") && font.contains(" yes yes "))
            );
            let title = picture.title.split_whitespace().next().unwrap();
            assert!(poppler("pdftotext", &pdf).contains(title));

            let outlined = picture.pdf(Lettering::Outlines).unwrap();
            assert_eq!(
                poppler("pdffonts", &outlined).lines().count(),
                2,
                "no font but the heading"
            );
            assert_eq!(poppler("pdftotext", &outlined).trim(), "");
        }
    }
}
