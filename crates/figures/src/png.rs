//! Pictures as pixels.

use png::{BitDepth, ColorType, Encoder, PixelDimensions, Unit};
use resvg::tiny_skia::{Pixmap, Transform};

use crate::tree::{read, unmade};
use crate::{Dpi, FigureError, Picture};

/// The most pixels of a PNG: what fits into half a gibibyte.
const MOST_PIXELS: u64 = 1 << 27;

impl Picture {
    /// Returns the picture as a PNG that knows its resolution, set in the bundled font and no other.
    ///
    /// # Errors
    /// If the SVG can't be read or the picture would be empty or too large.
    pub fn png(&self, dpi: Dpi) -> Result<Vec<u8>, FigureError> {
        let size = [self.width, self.height].map(|length| dpi.dots(length));
        let pixels = rasterise(&self.svg, size)?;
        encode(&pixels, dpi)
    }
}

/// Draws an SVG on so many pixels across and down.
pub(crate) fn rasterise(svg: &str, [width, height]: [u32; 2]) -> Result<Pixmap, FigureError> {
    let tree = read(svg, "a PNG")?;
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        let reason = format!(
            "found {width} by {height} pixels, expected at most {} million; choose fewer dots per \
             inch or a smaller width",
            MOST_PIXELS / 1_000_000
        );
        return Err(unmade("a PNG", reason));
    }
    let mut pixels = Pixmap::new(width, height)
        .ok_or_else(|| unmade("a PNG", format!("{width} by {height} pixels are not possible")))?;
    let (across, down) = (width as f32 / tree.size().width(), height as f32 / tree.size().height());
    resvg::render(&tree, Transform::from_scale(across, down), &mut pixels.as_mut());
    Ok(pixels)
}

/// Writes pixels with the size of one. The page is painted, so nothing shows through.
fn encode(pixels: &Pixmap, dpi: Dpi) -> Result<Vec<u8>, FigureError> {
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    let per_metre = dpi.per_metre();
    let size = PixelDimensions { xppu: per_metre, yppu: per_metre, unit: Unit::Meter };
    encoder.set_pixel_dims(Some(size));
    let colours: Vec<u8> = pixels
        .pixels()
        .iter()
        .flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()])
        .collect();
    let mut writer = encoder.write_header().map_err(|error| unmade("a PNG", error))?;
    writer.write_image_data(&colours).map_err(|error| unmade("a PNG", error))?;
    writer.finish().map_err(|error| unmade("a PNG", error))?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;
    use crate::{Figure, Theme, Width};

    #[test]
    fn a_png_says_how_large_it_is_on_paper() {
        let chart = crate::heat_map::tests::chart();
        for (width, dpi, across) in [
            ("column", Dpi::CHART, 1004),
            ("page", Dpi::CHART, 2008),
            ("121.5", Dpi::CHART, 1435),
            ("column", Dpi::DIAGRAM, 2008),
        ] {
            let width: Width = width.parse().unwrap();
            let picture = chart.draw(Theme::Dark, width).unwrap();
            assert_eq!(picture.width, width.millimetres());
            let png = picture.png(dpi).unwrap();
            assert_eq!(picture.png(dpi).unwrap(), png);
            let mut reader = png::Decoder::new(Cursor::new(png)).read_info().unwrap();
            let info = reader.info();
            let size = info.pixel_dims.unwrap();
            let per_metre = (f64::from(dpi.get()) / 0.0254).round() as u32;
            assert_eq!((size.xppu, size.yppu, size.unit), (per_metre, per_metre, Unit::Meter));
            assert_eq!(info.width, across);
            for (pixels, length) in [(info.width, picture.width), (info.height, picture.height)] {
                let paper = f64::from(pixels) / f64::from(per_metre) * 1000.0;
                assert!((paper - length).abs() < 0.6 * 25.4 / f64::from(dpi.get()));
            }
            // The page reaches into the last corner.
            let mut colours = vec![0; reader.output_buffer_size().unwrap()];
            reader.next_frame(&mut colours).unwrap();
            assert_eq!(colours[..3], colours[colours.len() - 3..]);
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
        let draw = |text: &str| rasterise(&svg(text), [80, 40]).unwrap();
        assert_ne!(draw("ab"), draw(""));
        assert!(rasterise("no svg", [1, 1]).is_err());
        assert!(rasterise(&svg(""), [0, 1]).is_err());
        let error = rasterise(&svg(""), [20_000, 10_000]).unwrap_err().to_string();
        assert!(error.contains("20000 by 10000 pixels, expected at most 134 million"), "{error}");
    }
}
