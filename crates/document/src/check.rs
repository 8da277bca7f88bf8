//! What a document must keep to before it becomes a page.

use std::collections::BTreeSet;

use crate::picture::fault;
use crate::{Block, Document, DocumentError, Plate, Table};

/// Ids of the page itself.
const PAGE_IDS: [&str; 4] = ["content", "findings", "provenance", "whom"];

pub(crate) fn check(document: &Document) -> Result<(), DocumentError> {
    let mut ids = BTreeSet::from(PAGE_IDS);
    for section in &document.sections {
        claim(&mut ids, &section.id)?;
        for block in &section.blocks {
            match block {
                Block::Verdicts(verdicts) => {
                    verdicts.iter().try_for_each(|verdict| claim(&mut ids, &verdict.id))?;
                }
                Block::Table(table) => {
                    claim(&mut ids, &table.id)?;
                    check_table(table)?;
                }
                Block::Figure(figure) => {
                    claim(&mut ids, &figure.id)?;
                    let place = format!("figure '{}'", figure.id);
                    block.plates().try_for_each(|(plate, _)| check_picture(&place, plate))?;
                    check_paths(&place, figure.files.iter().map(|(_, path)| path))?;
                }
                Block::Specimen(specimen) => {
                    if !specimen.id.is_empty() {
                        claim(&mut ids, &specimen.id)?;
                    }
                    let place = format!("specimen '{}'", specimen.line);
                    block.plates().try_for_each(|(plate, _)| check_picture(&place, plate))?;
                    check_paths(&place, specimen.files.iter().map(|(_, path)| path))?;
                }
                Block::Files(files) => {
                    let place = format!("section '{}'", section.id);
                    check_paths(&place, files.iter().map(|(_, path)| path))?;
                }
                Block::Paragraph(_) | Block::Steps(_) | Block::Code(_) | Block::Note(_) => {}
            }
        }
    }
    Ok(())
}

fn claim<'a>(ids: &mut BTreeSet<&'a str>, id: &'a str) -> Result<(), DocumentError> {
    let fits = id.starts_with(|first: char| first.is_ascii_alphabetic())
        && id.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c));
    if !fits {
        return Err(DocumentError::UnfitId(id.to_string()));
    }
    if ids.insert(id) { Ok(()) } else { Err(DocumentError::DuplicateId(id.to_string())) }
}

fn check_table(table: &Table) -> Result<(), DocumentError> {
    for (index, row) in table.rows.iter().enumerate() {
        if row.len() != table.columns.len() {
            return Err(DocumentError::Row {
                table: table.id.clone(),
                row: index + 1,
                found: row.len(),
                expected: table.columns.len(),
            });
        }
    }
    check_paths(&format!("table '{}'", table.id), table.file.iter())
}

fn check_picture(place: &str, plate: &Plate) -> Result<(), DocumentError> {
    match fault(plate) {
        None => Ok(()),
        Some(found) => Err(DocumentError::Picture { place: place.to_string(), found }),
    }
}

fn check_paths<'a>(
    place: &str,
    mut paths: impl Iterator<Item = &'a String>,
) -> Result<(), DocumentError> {
    let leads_away = |path: &&String| {
        path.is_empty() || path.starts_with('/') || path.contains([':', '\\', '\0'])
    };
    match paths.find(leads_away) {
        Some(path) => Err(DocumentError::Path { place: place.to_string(), path: path.to_string() }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_figures::Picture;

    use super::*;
    use crate::{Cell, Column, Illustration, Section, Specimen};

    fn error(blocks: Vec<Block>) -> String {
        let section = Section { id: "a".into(), blocks, ..Section::default() };
        let document = Document { sections: vec![section], ..Document::default() };
        check(&document).unwrap_err().to_string()
    }

    fn picture(svg: &str, width: f64) -> Plate {
        Picture { svg: svg.into(), width, height: 1.0, ..Picture::default() }.into()
    }

    fn figure(id: &str, width: f64, path: &str) -> Block {
        Block::Figure(Illustration {
            id: id.into(),
            picture: picture("<svg/>", width),
            files: vec![("SVG".into(), path.into())],
            ..Illustration::default()
        })
    }

    #[test]
    fn ids_differ_and_can_be_linked_to() {
        for id in ["a", "content", "findings", "provenance", "whom"] {
            assert!(error(vec![figure(id, 1.0, "x")]).contains("two parts of the page"));
        }
        for id in ["", "1", "a b", "ä", "a\"", "a<"] {
            let message = error(vec![figure(id, 1.0, "x")]);
            assert!(message.starts_with(&format!("the id '{id}' can't be linked to")), "{message}");
        }
    }

    #[test]
    fn rows_fit_their_columns() {
        let table = Table {
            id: "t".into(),
            columns: vec![Column::default(); 2],
            rows: vec![vec![Cell::default(); 2], vec![Cell::default(); 3]],
            ..Table::default()
        };
        assert_eq!(error(vec![Block::Table(table)]), "table 't', row 2: found 3 cells, expected 2");
    }

    #[test]
    fn pictures_have_a_size() {
        assert_eq!(
            error(vec![figure("f", 0.0, "x")]),
            "figure 'f': found a size of 0 by 1 mm, expected an SVG document with a size in millimetres"
        );
        let specimen = Specimen {
            board: picture("<svg/>", 1.0),
            strip: Some(picture("none", 1.0)),
            line: "1..".into(),
            ..Specimen::default()
        };
        assert!(error(vec![Block::Specimen(specimen)]).starts_with("specimen '1..': found no SVG"));
    }

    #[test]
    fn paths_lead_to_files_beside_the_report() {
        for path in ["", "/etc", "//host/x", "https://host/x", "javascript:x", "a\\b", "c:x"] {
            let message = error(vec![figure("f", 1.0, path)]);
            assert!(message.starts_with(&format!("figure 'f': found the path '{path}'")));
        }
    }
}
