//! What the documents say of the tables is what the schema says.

use std::fs;
use std::path::Path;

use tallyhouse_census::{TableDescription, schema};

/// Compares what stands between two marks of a document with what the schema says; writes it there if
/// the variable `UPDATE_DOCUMENTS` is set.
fn compare(document: &str, name: &str, expected: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(document);
    let text = fs::read_to_string(&path).unwrap();
    let mark = format!("<!-- columns of {name}: from the schema in crates/census -->\n\n");
    let (before, rest) = text.split_once(&mark).unwrap_or_else(|| panic!("no {mark} there"));
    let (found, after) = rest.split_once("\n<!-- end -->").unwrap();
    if std::env::var_os("UPDATE_DOCUMENTS").is_some() {
        fs::write(&path, format!("{before}{mark}{expected}\n<!-- end -->{after}")).unwrap();
    } else {
        assert_eq!(found, expected, "{document}: run again with UPDATE_DOCUMENTS=1");
    }
}

fn dictionary(table: &TableDescription) -> String {
    let mut text = "| column | type | unit | meaning |\n| --- | --- | --- | --- |\n".to_owned();
    for column in &table.columns {
        let empty = column.empty.map(|when| format!("; empty {when}")).unwrap_or_default();
        let states = if column.of_states { "; only with `--keep-states`" } else { "" };
        let (name, kind, unit, meaning) = (column.name, &column.kind, column.unit, column.meaning);
        text += &format!("| `{name}` | {kind} | {unit} | {meaning}{empty}{states} |\n");
    }
    text
}

#[test]
fn documents_have_the_columns_of_the_schema() {
    let tables = schema();
    let mut all = "| table | one row per | columns |\n| --- | --- | --- |\n".to_owned();
    for table in &tables {
        compare("notebooks-data/README.md", table.name, &dictionary(table));
        let names = table.columns.iter().map(|column| {
            let states = if column.of_states { " (with `--keep-states`)" } else { "" };
            format!("`{}`{states}", column.name)
        });
        let names = names.collect::<Vec<_>>().join(", ");
        all += &format!("| `{}/` | {} | {names} |\n", table.name, table.row);
    }
    compare("README.md", "all tables", &all);
}
