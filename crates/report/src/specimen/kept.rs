//! Specimens between two runs.

use serde::{Deserialize, Serialize};
use tallyhouse_board::{House, PlaceSet};
use tallyhouse_engine::Position;
use tallyhouse_figures::Side;

use super::{Origin, Specimen};
use crate::ReportError;

/// A specimen as it is kept: what was found, without what follows from it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Kept {
    origin: Origin,
    puzzle: String,
    quiet_position: u16,
    states: Vec<u16>,
    house: usize,
    naked: u16,
    hidden_leads: bool,
}

impl From<&Specimen> for Kept {
    fn from(specimen: &Specimen) -> Self {
        Self {
            origin: specimen.origin.clone(),
            puzzle: specimen.puzzle.to_string(),
            quiet_position: specimen.quiet_position,
            states: specimen.position.states().to_vec(),
            house: specimen.house().index(),
            naked: specimen.subset.cells.bits(),
            hidden_leads: specimen.lead == Side::Hidden,
        }
    }
}

impl TryFrom<&Kept> for Specimen {
    type Error = ReportError;

    fn try_from(kept: &Kept) -> Result<Self, ReportError> {
        let damaged = || ReportError::Kept { number: kept.origin.number };
        let puzzle = kept.puzzle.parse().map_err(|_| damaged())?;
        let states = kept.states.as_slice().try_into().map_err(|_| damaged())?;
        let house = House::new(kept.house).ok_or_else(damaged)?;
        let lead = if kept.hidden_leads { Side::Hidden } else { Side::Naked };
        let specimen = Self::of_split(
            kept.origin.clone(),
            puzzle,
            kept.quiet_position,
            Position::from_states(states)?,
            house,
            PlaceSet::from_bits_truncate(kept.naked),
        )?;
        Ok(specimen.led_by(Some(lead)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::specimen::tests::pair_and_triple;

    #[test]
    fn a_specimen_comes_back_as_it_was() {
        let specimen = pair_and_triple().led_by(Some(Side::Hidden));
        let kept = serde_json::to_string(&Kept::from(&specimen)).unwrap();
        let kept: Kept = serde_json::from_str(&kept).unwrap();
        assert_eq!(Specimen::try_from(&kept).unwrap(), specimen);
        let short = Kept { states: kept.states[1..].to_vec(), ..kept };
        assert!(matches!(Specimen::try_from(&short), Err(ReportError::Kept { .. })));
    }
}
