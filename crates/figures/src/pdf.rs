//! Pictures as pages of PDF.

use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::tagging::{ContentTag, Tag, TagGroup, TagTree};
use krilla_svg::{SurfaceExt, SvgSettings};

use crate::tree::{read, unmade};
use crate::{FigureError, Lettering, Picture};

/// Points (1/72 inch) in a millimetre.
const POINTS: f64 = 72.0 / 25.4;

impl Picture {
    /// Returns the picture as a PDF of one page, as large as the picture, with the title and the
    /// description for readers who can't see it. Text is set in the bundled font, of which the letters
    /// used are embedded, or drawn as outlines.
    ///
    /// # Errors
    /// If the SVG can't be read or the page can't be made.
    pub fn pdf(&self, lettering: Lettering) -> Result<Vec<u8>, FigureError> {
        const PDF: &str = "a PDF";
        let tree = read(&self.svg, PDF)?;
        let [width, height] = [self.width, self.height].map(|length| (length * POINTS) as f32);
        let no_page = || unmade(PDF, format!("no page is {width} by {height} points large"));
        let settings = PageSettings::from_wh(width, height).ok_or_else(no_page)?;
        let size = Size::from_wh(width, height).ok_or_else(no_page)?;

        let mut document = krilla::Document::new();
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let drawn = surface.start_tagged(ContentTag::Other);
        let embed_text = lettering == Lettering::Text;
        surface.draw_svg(&tree, size, SvgSettings { embed_text, ..SvgSettings::default() });
        surface.end_tagged();
        surface.finish();
        page.finish();

        let mut figure = TagGroup::new(Tag::Figure(Some(self.alt.clone())));
        figure.push(drawn);
        let mut tags = TagTree::new();
        tags.push(figure);
        document.set_tag_tree(tags);
        let words = Metadata::new().title(self.title.clone()).language("en".to_owned());
        document.set_metadata(words);
        document.finish().map_err(|error| unmade(PDF, format!("{error:?}")))
    }
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
