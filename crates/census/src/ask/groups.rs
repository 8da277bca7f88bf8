//! The groups of an answer, by number while they are counted.

use std::collections::HashMap;
use std::sync::Mutex;

use crate::CensusError;
use crate::rates::Key;

/// The values of the columns that tell groups apart.
pub(super) type Values = Vec<Option<i64>>;

/// A group of what is counted, and within it of hits; 0 stands for what is counted itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Group {
    pub(super) counted: u32,
    pub(super) hits: u32,
}

impl Key for Group {
    fn trials(self) -> Self {
        Self { hits: 0, ..self }
    }
}

/// More groups than that are no answer.
pub(super) const MOST: usize = 20_000;

/// Numbers for groups, given as they are met. The threads meet them in any order, so an answer goes by
/// values alone.
#[derive(Default)]
pub(super) struct Groups {
    /// Of what is counted.
    counted: Numbers,
    /// Of hits; from 1.
    hits: Numbers,
}

#[derive(Default)]
struct Numbers(Mutex<HashMap<Values, u32>>);

/// What a thread knows of the numbers.
pub(super) struct Known<'a> {
    counted: OfThread<'a>,
    hits: OfThread<'a>,
}

struct OfThread<'a> {
    all: &'a Numbers,
    met: HashMap<Values, u32>,
}

impl Groups {
    pub(super) fn known(&self) -> Known<'_> {
        let of = |all| OfThread { all, met: HashMap::new() };
        Known { counted: of(&self.counted), hits: of(&self.hits) }
    }

    /// Returns the values of all groups of what is counted, by number.
    pub(super) fn counted(&self) -> Vec<Values> {
        self.counted.values()
    }

    /// Returns the values of all groups of hits; the first has the number 1.
    pub(super) fn hits(&self) -> Vec<Values> {
        self.hits.values()
    }
}

impl Known<'_> {
    pub(super) fn counted(&mut self, values: &Values) -> Result<Group, CensusError> {
        Ok(Group { counted: self.counted.number(values)?, hits: 0 })
    }

    pub(super) fn hits(&mut self, group: Group, values: &Values) -> Result<Group, CensusError> {
        Ok(Group { hits: 1 + self.hits.number(values)?, ..group })
    }
}

impl Numbers {
    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<Values, u32>> {
        self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
    }

    fn values(&self) -> Vec<Values> {
        let mut all: Vec<(Values, u32)> =
            self.lock().iter().map(|(values, number)| (values.clone(), *number)).collect();
        all.sort_by_key(|(_, number)| *number);
        all.into_iter().map(|(values, _)| values).collect()
    }
}

impl OfThread<'_> {
    fn number(&mut self, values: &Values) -> Result<u32, CensusError> {
        if let Some(number) = self.met.get(values) {
            return Ok(*number);
        }
        let mut all = self.all.lock();
        let next = all.len();
        let number = *all.entry(values.clone()).or_insert(next as u32);
        if next > MOST {
            return Err(CensusError::TooManyGroups { most: MOST });
        }
        self.met.insert(values.clone(), number);
        Ok(number)
    }
}
