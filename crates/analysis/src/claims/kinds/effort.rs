//! What looks cost in the same houses: `easier` and `as-hard-as`.

use std::sync::Arc;

use serde::Deserialize;
use tallyhouse_board::House;
use tallyhouse_engine::effort::{GlanceWeights, Glances, look_effort, look_limits};
use tallyhouse_engine::{Look, Position, Size};
use tallyhouse_stats::Threshold;
use toml::Spanned;

use super::{Certainty, ClaimKind, Examples, Known, Noun, Quantity};
use crate::claims::Keys;
use crate::judge::{ClaimSums, WalkedPuzzle};
use crate::text_file::TextFile;
use crate::{FileError, Shapes};

pub(super) fn easier(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    let (keys, file) = keys.read::<EasierKeys>()?;
    let looks = LookPair::new(file, &keys.look, &keys.than, keys.houses)?;
    Ok(Arc::new(Comparison { looks, threshold: Threshold::Below(keys.ratio_below.0) }))
}

pub(super) fn as_hard_as(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    let (keys, file) = keys.read::<AsHardAsKeys>()?;
    let looks = LookPair::new(file, &keys.look, &keys.than, keys.houses)?;
    Ok(Arc::new(Comparison { looks, threshold: Threshold::Within(keys.band.0) }))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EasierKeys {
    look: Spanned<SubsetLook>,
    than: Spanned<SubsetLook>,
    houses: Option<Shapes>,
    ratio_below: Ratio,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AsHardAsKeys {
    look: Spanned<SubsetLook>,
    than: Spanned<SubsetLook>,
    houses: Option<Shapes>,
    band: Band,
}

/// A naked or hidden look.
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

/// A ratio of glances.
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

/// Two ratios of glances.
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

/// Two looks that are made in the same houses.
#[derive(Clone, Debug, PartialEq)]
pub struct LookPair {
    /// The look whose glances are divided.
    pub look: Look,
    /// The look by whose glances they are divided.
    pub than: Look,
    /// The houses: those that hold a proper subset of this shape. If the file does not say it, the
    /// splits with a side of the first look's size.
    pub houses: Shapes,
}

impl LookPair {
    fn new(
        file: TextFile<'_>,
        look: &Spanned<SubsetLook>,
        than: &Spanned<SubsetLook>,
        houses: Option<Shapes>,
    ) -> Result<Self, FileError> {
        let first = look.get_ref();
        let houses = houses.unwrap_or_else(|| Shapes::of_side(first.look, first.size));
        for named in [look, than] {
            let SubsetLook { look, size } = named.get_ref();
            let is_made = |open: u8| size.covers(open) && open > size.get();
            if let Some((open, _)) = houses.iter().find(|&(open, _)| !is_made(open)) {
                let what = format!(
                    "'{look}' is not made in houses of {open} open cells, expected two looks that \
                     are made in the same houses"
                );
                return Err(file.error(&named.span(), what));
            }
        }
        Ok(Self { look: first.look, than: than.get_ref().look, houses })
    }

    /// Returns the least and the greatest ratio of glances that houses of these open counts can have.
    fn limits(&self, weights: &GlanceWeights) -> [f64; 2] {
        let opens = (2..=9).filter(|&open| self.houses.fits(open.into()));
        let ratios = opens.map(|open| {
            let costs = |look| look_limits(look, open).map(|glances| glances.cost(weights));
            let ([least, most], [than_least, than_most]) = (costs(self.look), costs(self.than));
            [least / than_most, most / than_least]
        });
        ratios.fold([f64::INFINITY, 0.0], |[least, most], [low, high]| {
            [f64::min(least, low), f64::max(most, high)]
        })
    }
}

/// The glances of the first look, divided by those of the second, lie where this says.
#[derive(Debug)]
struct Comparison {
    looks: LookPair,
    threshold: Threshold,
}

impl ClaimKind for Comparison {
    fn looks(&self) -> Option<&LookPair> {
        Some(&self.looks)
    }

    fn threshold(&self) -> Threshold {
        self.threshold
    }

    fn measure(&self) -> String {
        let [look, than] = [self.looks.look, self.looks.than];
        format!("glances of {look} / {than}")
    }

    fn of_what(&self) -> Noun {
        Noun::new("house", "houses").with(&format!("with {}", self.looks.houses))
    }

    fn quantity(&self) -> Quantity {
        Quantity::Ratio
    }

    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums) {
        let looks = &self.looks;
        let mut board: Option<(u16, Position)> = None;
        let mut searched: Option<(u16, House)> = None;
        let mut glances = [Glances::default(); 2];
        let mut houses = 0;
        for &(number, ref subset) in puzzle.meant(&looks.houses) {
            if searched.replace((number, subset.house)) == Some((number, subset.house)) {
                continue;
            }
            let position = match &board {
                Some((known, position)) if *known == number => position,
                _ => {
                    let Some(position) = puzzle.position(number) else { continue };
                    &board.insert((number, position)).1
                }
            };
            for (sum, look) in glances.iter_mut().zip([looks.look, looks.than]) {
                *sum += look_effort(position, subset.house, look).glances;
            }
            houses += 1;
        }
        sums.compare(puzzle, houses, glances);
    }

    /// A mean is not a rule for each house.
    fn examples(&self) -> Examples {
        Examples::None
    }

    fn certainty(&self, known: &Known<'_>) -> Option<Certainty> {
        let [least, most] = self.looks.limits(known.weights);
        let is_true = self.threshold.holds_between(least, most)?;
        let bounds = self.threshold.bounds();
        let limits = if bounds.iter().all(|&bound| most <= bound) {
            format!("at most {most:.3}")
        } else if bounds.iter().all(|&bound| bound <= least) {
            format!("at least {least:.3}")
        } else {
            format!("from {least:.3} to {most:.3}")
        };
        Some(Certainty {
            is_true,
            reason: format!(
                "whatever such a house holds, {} costs {limits} times as many glances as {}",
                self.looks.look, self.looks.than
            ),
        })
    }
}
