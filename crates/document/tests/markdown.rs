//! The Markdown as text.

use tallyhouse_document::{Block, Cell, to_markdown};

mod sample;

/// Returns the cells of a table's line: what stands between bars that no backslash precedes.
fn cells(line: &str) -> usize {
    let bare = line.replace("\\\\", "").replace("\\|", "");
    assert!(bare.starts_with("| ") && bare.ends_with(" |"), "{line}");
    bare.matches('|').count() - 1
}

fn tables(markdown: &str) -> Vec<Vec<&str>> {
    let lines: Vec<_> = markdown.lines().collect();
    let groups = lines.split(|line| !line.starts_with('|'));
    groups.filter(|group| !group.is_empty()).map(<[&str]>::to_vec).collect()
}

#[test]
fn tables_are_well_formed() {
    for document in [sample::document(), sample::saying("a|b \\| `c|`\nd")] {
        let markdown = to_markdown(&document);
        let tables = tables(&markdown);
        assert_eq!(tables.len(), 2);
        for table in tables {
            let width = cells(table[0]);
            assert!(table.iter().all(|line| cells(line) == width), "{table:?}");
            let mut rule = table[1].trim_matches('|').split('|').map(str::trim);
            assert!(rule.all(|mark| ["---", "---:"].contains(&mark)), "{:?}", table[1]);
        }
    }
}

#[test]
fn a_table_says_what_it_was_given() {
    let markdown = to_markdown(&sample::document());
    let tables = tables(&markdown);
    assert_eq!(tables[1][0], "| Shape | Subsets | Share of houses | Remark |");
    assert_eq!(tables[1][1], "| --- | ---: | ---: | --- |");
    assert_eq!(tables[1][3], "| open 10, naked 4 | not counted | – | does not exist |");
    assert_eq!(tables[1].len(), 6);
}

#[test]
fn no_cell_of_an_uneven_row_is_lost() {
    let mut document = sample::document();
    for block in &mut document.sections[1].blocks {
        if let Block::Table(table) = block {
            table.rows[0].push(Cell { text: "beyond".into(), sort: None, id: None });
        }
    }
    let markdown = to_markdown(&document);
    let tables = tables(&markdown);
    assert!(tables[1][2].ends_with("| beyond |"));
    assert!(tables[1].iter().all(|line| cells(line) == 5));
}

#[test]
fn texts_stay_texts_in_every_place() {
    let plain = to_markdown(&sample::saying("plain"));
    let fenced = 3; // code, the specimen's line and the command
    let places = plain.matches("plain").count() - fenced;
    for (hostile, escaped) in [
        ("<script>alert(1)</script>", "\\<script\\>alert(1)\\</script\\>"),
        ("\"><img src=x onerror=alert(1)>", "\"\\>\\<img src=x onerror=alert(1)\\>"),
        ("](javascript:x) `a|b`", "\\](javascript:x) \\`a\\|b\\`"),
        ("**a** ~~b~~ $c$ # d", "\\*\\*a\\*\\* \\~\\~b\\~\\~ \\$c\\$ \\# d"),
    ] {
        let markdown = to_markdown(&sample::saying(hostile));
        assert_eq!(markdown.matches(escaped).count(), places, "{hostile}");
        assert_eq!(markdown.replace(escaped, "plain").replace(hostile, "plain"), plain);
    }
}

#[test]
fn pictures_and_data_are_links_to_files() {
    let markdown = to_markdown(&sample::document());
    assert!(markdown.contains(
        "![Shapes that each rulebook misses, of 10,000 puzzles each. All values are in the CSV \
         file.](./figures/missed.svg)"
    ));
    assert!(markdown.contains("[Data as CSV](./tables/shapes.csv)"));
    assert!(markdown.contains("[CSV](./figures/hardest.csv)"));
    assert!(markdown.contains("\n[All numbers as CSV](./tables/all.csv)\n"));
    assert!(markdown.contains("](./specimens/1042.svg)"));
    assert!(!markdown.contains("<svg") && !markdown.contains("data:"));
}

#[test]
fn everything_the_page_says_is_there() {
    let markdown = to_markdown(&sample::document());
    for text in [
        "# Which subsets need to be looked for?",
        "Of 3 claims: 1 supported, 1 refuted, 1 undecided",
        "### Refuted: The naked side is never larger than the hidden side.",
        "- **Denominator:** 410 of 10,000 splits",
        "- **To decide it:** about 52,000 more puzzles",
        "\n- `5...........6.....3...8.......1.......7..4......9....2.......6......1....7..4....`\n",
        "| **Refuted** | [The naked side is never larger than the hidden side.](#small-side) | 4.1 % (",
        "<a id=\"specimen-8-4\"></a>\n\n### Six open cells: naked quad, hidden pair",
        "Puzzle 1042: r5c3",
        "**Table 1.** Proper subsets by shape",
        "**Figure 2.** The hardest look",
        "**Subsets:** Proper subsets of this shape; each split counts once.",
        "> **Warning.** Puzzles by random deletion",
        "```\nopen  naked  subsets\n   5      3     9120\n```",
        "Puzzle 1042 of 10,000 · one of 33 with this shape",
        "- **Collection:** 10,000 puzzles",
        "```\ntallyhouse report studies/naked-quadruples.toml --seed 20261\n```",
    ] {
        assert!(markdown.contains(text), "{text}");
    }
}
