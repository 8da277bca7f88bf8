//! Pictures as images of the page.

use minijinja::HtmlEscape;

use crate::link::data_address;

/// Pixels of the page per unit of a picture: the least type of a figure, 9.88 units, comes out at 11
/// pixels, and a figure as wide as a column, 340 units, still fits a telephone's 390 pixels.
const PIXELS_PER_UNIT: f64 = 1.125;

/// Returns the width and the height of a picture in its own units, or what its view box is instead.
pub(crate) fn size(svg: &str) -> Result<(f64, f64), String> {
    let tag = svg.find("<svg").and_then(|start| svg[start..].split_once('>'));
    let (tag, _) = tag.ok_or("no SVG element")?;
    let (_, after) = tag.split_once("viewBox=\"").ok_or("no view box")?;
    let (view_box, _) = after.split_once('"').ok_or("a view box without an end")?;
    let numbers: Result<Vec<f64>, _> =
        view_box.split([' ', ',']).filter(|part| !part.is_empty()).map(str::parse).collect();
    match numbers.as_deref() {
        Ok(&[_, _, width, height]) if is_length(width) && is_length(height) => Ok((width, height)),
        _ => Err(format!("the view box '{view_box}'")),
    }
}

fn is_length(value: f64) -> bool {
    value.is_finite() && value > 0.0
}

/// Returns the element that shows a picture.
pub(crate) fn image(svg: &str, alt: &str) -> Result<String, String> {
    let (width, height) = size(svg)?;
    Ok(format!(
        r#"<img src="{}" alt="{}" width="{:.0}" height="{:.0}">"#,
        data_address(svg),
        HtmlEscape(alt),
        width * PIXELS_PER_UNIT,
        height * PIXELS_PER_UNIT
    ))
}

/// Returns the element that offers a picture to screens too narrow for the one beside it.
pub(crate) fn narrow_source(svg: &str) -> Result<String, String> {
    let (width, height) = size(svg)?;
    // A list of addresses is split at spaces, and an address loses the comma at its end.
    let address = data_address(svg).replace(' ', "%20").replace(',', "%2C").replacen("%2C", ",", 1);
    Ok(format!(
        r#"<source media="screen and (max-width: 49.99rem)" srcset="{address}" width="{:.0}" height="{:.0}">"#,
        width * PIXELS_PER_UNIT,
        height * PIXELS_PER_UNIT
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_view_box_gives_the_size() {
        assert_eq!(size(r#"<?xml version="1.0"?><svg viewBox="0 0 340 12.5">"#), Ok((340.0, 12.5)));
        assert_eq!(size(r#"<svg viewBox="0,0,3,4">"#), Ok((3.0, 4.0)));
    }

    #[test]
    fn unfit_view_boxes_are_named() {
        for (svg, found) in [
            ("", "no SVG element"),
            ("<svg><g viewBox=\"0 0 1 1\"/>", "no view box"),
            ("<svg viewBox=\"0 0 x 4\">", "the view box '0 0 x 4'"),
            ("<svg viewBox=\"0 0 0 4\">", "the view box '0 0 0 4'"),
            ("<svg viewBox=\"0 0 inf 4\">", "the view box '0 0 inf 4'"),
            ("<svg viewBox=\"0 0 4\">", "the view box '0 0 4'"),
        ] {
            assert_eq!(size(svg), Err(found.to_string()), "{svg}");
        }
    }

    #[test]
    fn an_address_in_a_list_has_neither_spaces_nor_commas() {
        let source = narrow_source("<svg viewBox=\"0,0 8 16\">a, b,</svg>,").unwrap();
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
        let image = image("<svg viewBox=\"0 0 8 16\">", "\"><b>").unwrap();
        assert!(image.ends_with(r#"alt="&quot;&gt;&lt;b&gt;" width="9" height="18">"#), "{image}");
    }
}
