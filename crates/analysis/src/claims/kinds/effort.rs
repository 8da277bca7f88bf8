//! What looks cost: `easier`, `as-hard-as`, `pays` and `never-pays`.

use std::ops::RangeInclusive;
use std::sync::Arc;

use serde::Deserialize;
use tallyhouse_board::HouseKind;
use tallyhouse_engine::{Look, Size};
use tallyhouse_stats::Threshold;
use tallyhouse_words::list_or;
use toml::Spanned;

use super::{BookName, ClaimKind, Quantity};
use crate::FileError;
use crate::claims::Keys;
use crate::text_file::TextFile;
use crate::yields::Frame;
use crate::yields::prices::{PricedLook, quiet_opens};

pub(super) fn easier(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    let (keys, file) = keys.read::<EasierKeys>()?;
    let EasierKeys { look, look_in, than, than_in, ratio_below, frames, readers, rulebook } = keys;
    let is_by_kind = look_in.is_some() || than_in.is_some();
    let looks = [(look, look_in), (than, than_in)];
    let frames = frames_of(file, frames, is_by_kind)?;
    let looks = compared(file, looks)?;
    let threshold = Threshold::Below(ratio_below.0);
    Ok(Arc::new(PriceClaim { looks, threshold, frames, readers, rulebook }))
}

pub(super) fn as_hard_as(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    let (keys, file) = keys.read::<AsHardAsKeys>()?;
    let AsHardAsKeys { look, than, band, frames, readers, rulebook } = keys;
    let looks = compared(file, [(look, None), (than, None)])?;
    let frames = frames_of(file, frames, false)?;
    let threshold = Threshold::Within(band.0);
    Ok(Arc::new(PriceClaim { looks, threshold, frames, readers, rulebook }))
}

pub(super) fn pays(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    alone(keys, Threshold::Below)
}

pub(super) fn never_pays(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    alone(keys, Threshold::Above)
}

fn alone(keys: Keys<'_>, of: fn(f64) -> Threshold) -> Result<Arc<dyn ClaimKind>, FileError> {
    let (keys, file) = keys.read::<PaysKeys>()?;
    let PaysKeys { look, limit, frames, readers, rulebook } = keys;
    let looks = vec![priced(file, &look, None)?];
    let frames = frames_of(file, frames, false)?;
    Ok(Arc::new(PriceClaim { looks, threshold: of(limit.0), frames, readers, rulebook }))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EasierKeys {
    look: Spanned<SubsetLook>,
    look_in: Option<Kinds>,
    than: Spanned<SubsetLook>,
    than_in: Option<Kinds>,
    ratio_below: Ratio,
    frames: Option<Spanned<Vec<Spanned<String>>>>,
    readers: Option<Names>,
    rulebook: Option<BookName>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AsHardAsKeys {
    look: Spanned<SubsetLook>,
    than: Spanned<SubsetLook>,
    band: Band,
    frames: Option<Spanned<Vec<Spanned<String>>>>,
    readers: Option<Names>,
    rulebook: Option<BookName>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PaysKeys {
    look: Spanned<SubsetLook>,
    #[serde(default)]
    limit: Glances,
    frames: Option<Spanned<Vec<Spanned<String>>>>,
    readers: Option<Names>,
    rulebook: Option<BookName>,
}

/// A naked or hidden look for a subset.
#[derive(Clone, Copy, Deserialize)]
#[serde(try_from = "String")]
struct SubsetLook {
    look: Look,
    size: Size,
}

impl TryFrom<String> for SubsetLook {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let (look, size) = crate::shapes::read_side(&text)?;
        Ok(Self { look, size })
    }
}

/// A list of kinds of houses.
#[derive(Deserialize)]
#[serde(try_from = "Vec<String>")]
struct Kinds(Vec<HouseKind>);

impl TryFrom<Vec<String>> for Kinds {
    type Error = String;

    fn try_from(names: Vec<String>) -> Result<Self, String> {
        let kind = |name: &String| {
            let known = HouseKind::ALL.iter().copied().find(|kind| kind.name() == name);
            let names = list_or(HouseKind::ALL.map(HouseKind::name));
            known.ok_or_else(|| format!("found '{}', expected {names}", name.escape_debug()))
        };
        let kinds = names.iter().map(kind).collect::<Result<Vec<_>, _>>()?;
        // In one order, each once.
        let kinds: Vec<HouseKind> =
            HouseKind::ALL.iter().copied().filter(|kind| kinds.contains(kind)).collect();
        if kinds.is_empty() { Err("found an empty list".to_owned()) } else { Ok(Self(kinds)) }
    }
}

/// A list of names, at least one.
#[derive(Clone, Debug, Deserialize)]
#[serde(try_from = "Vec<String>")]
struct Names(Vec<String>);

impl TryFrom<Vec<String>> for Names {
    type Error = &'static str;

    fn try_from(names: Vec<String>) -> Result<Self, Self::Error> {
        if names.is_empty() { Err("found an empty list of readers") } else { Ok(Self(names)) }
    }
}

/// A ratio of prices.
#[derive(Deserialize)]
#[serde(try_from = "f64")]
struct Ratio(f64);

impl TryFrom<f64> for Ratio {
    type Error = String;

    fn try_from(ratio: f64) -> Result<Self, String> {
        if 0.0 < ratio && ratio.is_finite() {
            Ok(Self(ratio))
        } else {
            Err(format!("found {ratio}, expected a ratio above 0"))
        }
    }
}

/// Two ratios of prices.
#[derive(Deserialize)]
#[serde(try_from = "[f64; 2]")]
struct Band([f64; 2]);

impl TryFrom<[f64; 2]> for Band {
    type Error = String;

    fn try_from([low, high]: [f64; 2]) -> Result<Self, String> {
        if 0.0 < low && low < high && high.is_finite() {
            Ok(Self([low, high]))
        } else {
            Err(format!("found [{low}, {high}], expected two ratios above 0, the lower first"))
        }
    }
}

/// Glances for a find.
#[derive(Deserialize)]
#[serde(try_from = "f64")]
struct Glances(f64);

impl Default for Glances {
    fn default() -> Self {
        Self(1000.0)
    }
}

impl TryFrom<f64> for Glances {
    type Error = String;

    fn try_from(glances: f64) -> Result<Self, String> {
        if 0.0 < glances && glances.is_finite() {
            Ok(Self(glances))
        } else {
            Err(format!("found {glances}, expected a number of glances above 0"))
        }
    }
}

/// Reads the frames that are asked; all that claims know if none is named.
fn frames_of(
    file: TextFile<'_>,
    named: Option<Spanned<Vec<Spanned<String>>>>,
    is_by_kind: bool,
) -> Result<Vec<Frame>, FileError> {
    let all: &[Frame] = if is_by_kind { &[Frame::Every] } else { &[Frame::Every, Frame::Due] };
    let Some(named) = named else { return Ok(all.to_vec()) };
    let frame = |name: &Spanned<String>| {
        let frame = name.get_ref().parse::<Frame>().ok().filter(|frame| all.contains(frame));
        frame.ok_or_else(|| {
            let expected = list_or(all.iter().map(|frame| frame.name()));
            let why = if is_by_kind { ", where kinds of houses are compared" } else { "" };
            let found = name.get_ref().escape_debug();
            file.error(&name.span(), format!("found '{found}', expected {expected}{why}"))
        })
    };
    let frames = named.get_ref().iter().map(frame).collect::<Result<Vec<_>, _>>()?;
    if frames.is_empty() {
        return Err(file.error(&named.span(), "found an empty list of frames"));
    }
    Ok(all.iter().copied().filter(|frame| frames.contains(frame)).collect())
}

fn priced(
    file: TextFile<'_>,
    look: &Spanned<SubsetLook>,
    kinds: Option<Kinds>,
) -> Result<PricedLook, FileError> {
    let SubsetLook { look: found, size } = *look.get_ref();
    if size.get() < 2 || quiet_opens(found).next().is_none() {
        let what = format!(
            "'{found}' finds no subset: expected a size from 2, in houses where at least two cells \
             are left on the other side"
        );
        return Err(file.error(&look.span(), what));
    }
    let kinds = kinds.map_or_else(|| HouseKind::ALL.to_vec(), |Kinds(kinds)| kinds);
    Ok(PricedLook { look: found, kinds })
}

fn compared(
    file: TextFile<'_>,
    looks: [(Spanned<SubsetLook>, Option<Kinds>); 2],
) -> Result<Vec<PricedLook>, FileError> {
    let span = looks[1].0.span();
    let [first, second] = looks.map(|(look, kinds)| priced(file, &look, kinds));
    let looks = vec![first?, second?];
    // The houses are those of the first look.
    let [made, other] = [0, 1].map(|side| quiet_opens(looks[side].look));
    if let Some(open) = made.into_iter().find(|&open| other.clone().all(|o| o != open)) {
        let what = format!(
            "'{}' is not made in houses of {open} open cells, expected two looks that are made in the \
             same houses",
            looks[1].look
        );
        return Err(file.error(&span, what));
    }
    if looks[0] == looks[1] {
        return Err(file.error(&span, "a look is compared with itself, expected another"));
    }
    Ok(looks)
}

/// What a find of one look costs, alone or as a multiple of what one of another look costs.
#[derive(Clone, Debug)]
pub(crate) struct PriceClaim {
    /// The look, and that which it is compared with.
    pub(crate) looks: Vec<PricedLook>,
    pub(crate) threshold: Threshold,
    /// When the looks are made.
    pub(crate) frames: Vec<Frame>,
    readers: Option<Names>,
    rulebook: Option<BookName>,
}

impl PriceClaim {
    /// Returns the readers that are named; none if all are asked.
    pub(crate) fn readers(&self) -> Option<&[String]> {
        self.readers.as_ref().map(|Names(names)| names.as_slice())
    }

    /// Returns the open counts that are judged: each by itself if there is one look, together if two
    /// are compared.
    pub(crate) fn opens(&self, frame: Frame) -> Vec<RangeInclusive<u8>> {
        let quiet = || quiet_opens(self.looks[0].look);
        if self.looks.len() == 1 {
            return quiet().map(|open| open..=open).collect();
        }
        // Where a look is due it is made wherever it leaves a cell for the other side.
        let is_made = |open: &u8| {
            let mut sizes = self.looks.iter().filter_map(|priced| priced.look.size());
            sizes.all(|size| size.covers(*open) && size.get() < *open)
        };
        let opens: Vec<u8> =
            if frame == Frame::Due { (1..=9).filter(is_made).collect() } else { quiet().collect() };
        opens.first().zip(opens.last()).map(|(&first, &last)| first..=last).into_iter().collect()
    }

    /// Writes a look, with the kinds of houses if they are not all.
    pub(crate) fn name(priced: &PricedLook) -> String {
        if priced.kinds.len() == HouseKind::ALL.len() {
            return priced.look.to_string();
        }
        let kinds = tallyhouse_words::list(priced.kinds.iter().map(|kind| match kind {
            HouseKind::Row => "rows",
            HouseKind::Column => "columns",
            HouseKind::Box => "boxes",
        }));
        format!("{} in {kinds}", priced.look)
    }
}

impl ClaimKind for PriceClaim {
    fn rulebook(&self) -> Option<&str> {
        self.rulebook.as_ref().map(|book| book.0.as_str())
    }

    fn threshold(&self) -> Threshold {
        self.threshold
    }

    fn measure(&self) -> String {
        match self.looks.as_slice() {
            [look, than] => {
                format!("price of {} / price of {}", Self::name(look), Self::name(than))
            }
            looks => {
                let looks: Vec<String> = looks.iter().map(Self::name).collect();
                format!("price of {}, in glances for a find", looks.join(", "))
            }
        }
    }

    fn quantity(&self) -> Quantity {
        if self.looks.len() == 1 { Quantity::Price } else { Quantity::Ratio }
    }

    fn prices(&self) -> Option<&PriceClaim> {
        Some(self)
    }
}
