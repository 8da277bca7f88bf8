use serde::{Deserialize, Serialize};
use tallyhouse_words::as_field_or_number;

use crate::theme::MOST_SERIES;
use crate::{Dpi, FigureError, Theme, Width};

/// What was drawn, with all that a page needs to show it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Picture {
    /// The SVG document.
    pub svg: String,
    /// The width on paper in millimetres.
    pub width: f64,
    /// The height on paper in millimetres.
    pub height: f64,
    /// The title.
    pub title: String,
    /// The description for readers who can't see it.
    pub alt: String,
    /// How finely it is rasterised, unless another resolution is asked for.
    pub dpi: Dpi,
}

/// Something that can be drawn, and whose data can be read.
pub trait Figure {
    /// Draws the figure. The same figure gives the same bytes.
    ///
    /// # Errors
    /// If there is nothing to draw, or a value does not suit the figure.
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError>;

    /// Returns the data of the figure, one line per mark, with a header.
    ///
    /// # Errors
    /// If the data can't be written.
    fn csv(&self) -> Result<String, FigureError>;
}

/// The words around a chart.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Heading {
    /// The title; broken into lines where it is too long for one.
    pub title: String,
    /// What was counted, with denominators.
    pub subtitle: String,
    /// Sentences below the chart, set as one paragraph.
    pub notes: Vec<String>,
    /// The description for readers who can't see the chart.
    pub alt: String,
}

impl Heading {
    pub(crate) fn no_data(&self, what: &'static str) -> FigureError {
        FigureError::NoData { title: self.title.clone(), what }
    }

    pub(crate) fn unfit(&self, place: &str, found: impl ToString, expected: &str) -> FigureError {
        FigureError::Unfit {
            title: self.title.clone(),
            place: place.to_owned(),
            found: found.to_string(),
            expected: expected.to_owned(),
        }
    }

    /// Fails where a value lies outside of its interval, or one of them is not a finite number.
    pub(crate) fn check_within(
        &self,
        place: &str,
        value: f64,
        (low, high): (f64, f64),
    ) -> Result<(), FigureError> {
        self.check_finite(place, [value, low, high])?;
        if low <= value && value <= high {
            return Ok(());
        }
        let found = format!("{value} in {low} to {high}");
        Err(self.unfit(place, found, "a value within its interval"))
    }

    /// Fails if there are more series than can be told apart.
    pub(crate) fn check_series(&self, place: &str, series: usize) -> Result<(), FigureError> {
        if series <= MOST_SERIES {
            return Ok(());
        }
        let most = format!("at most {MOST_SERIES}, which can still be told apart");
        Err(self.unfit(place, series, &most))
    }

    /// Fails at the first value that is not a finite number.
    pub(crate) fn check_finite(
        &self,
        place: &str,
        values: impl IntoIterator<Item = f64>,
    ) -> Result<(), FigureError> {
        match values.into_iter().find(|value| !value.is_finite()) {
            Some(value) => Err(self.unfit(place, value, "a finite number")),
            None => Ok(()),
        }
    }
}

/// Writes records as CSV, in which no text begins a formula.
pub(crate) fn write_csv<R>(
    header: &str,
    records: impl IntoIterator<Item = R>,
) -> Result<String, FigureError>
where
    R: IntoIterator<Item = String>,
{
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header.split(','))?;
    for record in records {
        let fields = record.into_iter().map(|field| as_field_or_number(&field).into_owned());
        writer.write_record(fields)?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
