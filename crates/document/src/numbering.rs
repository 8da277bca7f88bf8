//! The numbers readers cite.

use std::collections::BTreeMap;

use crate::{Block, Document};

/// Returns the number of each table and of each figure, by its id; both count from 1.
pub(crate) fn numbers(document: &Document) -> BTreeMap<&str, usize> {
    let (mut tables, mut figures) = (0, 0);
    let mut numbers = BTreeMap::new();
    for block in document.sections.iter().flat_map(|section| &section.blocks) {
        match block {
            Block::Table(table) => {
                tables += 1;
                numbers.insert(table.id.as_str(), tables);
            }
            Block::Figure(figure) => {
                figures += 1;
                numbers.insert(figure.id.as_str(), figures);
            }
            _ => {}
        }
    }
    numbers
}
