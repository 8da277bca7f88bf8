//! Pictures as images of the page.

use minijinja::HtmlEscape;
use tallyhouse_figures::Picture;

use crate::link::data_address;

/// Pixels of the page per millimetre of a picture: the least type of a figure, 7 points, comes out at
/// 11 pixels, and a figure as wide as a column, 85 mm, still fits a telephone's 390 pixels.
const PIXELS_PER_MILLIMETRE: f64 = 4.5;

/// Tells what keeps a picture from being shown, if anything does.
pub(crate) fn fault(picture: &Picture) -> Option<String> {
    let is_length = |value: f64| value.is_finite() && value > 0.0;
    if !picture.svg.contains("<svg") {
        Some("no SVG element".to_string())
    } else if !is_length(picture.width) || !is_length(picture.height) {
        Some(format!("a size of {} by {} mm", picture.width, picture.height))
    } else {
        None
    }
}

/// Returns the attributes that keep the place of a picture on the page.
fn size(picture: &Picture) -> String {
    let [width, height] = [picture.width, picture.height].map(|side| side * PIXELS_PER_MILLIMETRE);
    format!(r#"width="{width:.0}" height="{height:.0}""#)
}

/// Returns the element that shows a picture.
pub(crate) fn image(picture: &Picture) -> String {
    let (address, alt) = (data_address(&picture.svg), HtmlEscape(&picture.alt));
    format!(r#"<img src="{address}" alt="{alt}" {}>"#, size(picture))
}

/// Returns the element that offers a picture to screens too narrow for the one beside it.
pub(crate) fn narrow_source(picture: &Picture) -> String {
    // A list of addresses is split at spaces, and an address loses the comma at its end.
    let address = data_address(&picture.svg);
    let address = address.replace(' ', "%20").replace(',', "%2C").replacen("%2C", ",", 1);
    let media = "screen and (max-width: 49.99rem)";
    format!(r#"<source media="{media}" srcset="{address}" {}>"#, size(picture))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(svg: &str, width: f64) -> Picture {
        let (svg, alt) = (svg.into(), "\"><b>".into());
        Picture { svg, width, height: 4.0, alt, ..Picture::default() }
    }

    #[test]
    fn what_cannot_be_shown_is_named() {
        assert_eq!(fault(&picture("<?xml version=\"1.0\"?><svg/>", 85.0)), None);
        for (svg, width, found) in [
            ("", 85.0, "no SVG element"),
            ("<svg/>", 0.0, "a size of 0 by 4 mm"),
            ("<svg/>", f64::INFINITY, "a size of inf by 4 mm"),
        ] {
            assert_eq!(fault(&picture(svg, width)), Some(found.to_string()), "{svg}");
        }
    }

    #[test]
    fn an_address_in_a_list_has_neither_spaces_nor_commas() {
        let source = narrow_source(&picture("<svg viewBox=\"0,0 8 16\">a, b,</svg>,", 2.0));
        let (_, address) = source.split_once("srcset=\"").unwrap();
        let (address, size) = address.split_once('"').unwrap();
        assert_eq!(
            address,
            "data:image/svg+xml,%3Csvg%20viewBox=%220%2C0%208%2016%22%3Ea%2C%20b%2C%3C/svg%3E%2C"
        );
        assert_eq!(size, r#" width="9" height="18">"#);
    }

    #[test]
    fn the_alternative_is_escaped() {
        let image = image(&picture("<svg/>", 2.0));
        assert!(image.ends_with(r#"alt="&quot;&gt;&lt;b&gt;" width="9" height="18">"#), "{image}");
    }
}
