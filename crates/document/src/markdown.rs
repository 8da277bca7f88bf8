//! The report as Markdown, with the tables of GitHub's dialect.

use crate::link::relative;
use crate::model::{Group, NO_OTHERS, outcome_counts, populations, verdicts_in_all};
use crate::numbering::numbers;
use crate::{Block, Document, Extent, Illustration, Section, Span, Specimen, Table, Verdict};

/// Writes the report as Markdown. Pictures are links to their files.
#[must_use]
pub fn to_markdown(document: &Document) -> String {
    let numbers = numbers(document);
    let number = |id: &str| numbers.get(id).copied().unwrap_or_default();
    let mut parts = vec![format!("# {}", line(&document.title)), line(&document.subtitle)];
    let (before, after) = document.before_and_after();
    before.iter().for_each(|section| add_section(&mut parts, section, &number));
    parts.extend(findings(document));
    after.iter().for_each(|section| add_section(&mut parts, section, &number));
    if let Extent::Brief { whole } = &document.extent {
        let whole = relative(&format!("{whole}.md"));
        parts.push(format!(
            "All tables and figures, and how it was done: [the whole report]({whole})."
        ));
    } else {
        parts.push("## Provenance".to_string());
        parts.push(list(document.provenance.iter().map(|(name, value)| pair(name, value))));
    }
    if !document.command.is_empty() {
        parts.push("This command makes the report again:".to_string());
        parts.push(fenced(&document.command));
    }
    parts.retain(|part| !part.is_empty());
    parts.join("\n\n") + "\n"
}

/// Adds a section.
fn add_section<'a>(
    parts: &mut Vec<String>,
    section: &'a Section,
    number: &impl Fn(&'a str) -> usize,
) {
    parts.push(format!("{}## {}", anchor(&section.id), line(&section.title)));
    parts.push(line(&section.intro));
    for block in &section.blocks {
        match block {
            Block::Paragraph(text) => parts.push(line(text)),
            Block::Steps(steps) => {
                let numbered = (1..).zip(steps);
                let steps: Vec<String> = numbered
                    .map(|(number, step): (u32, _)| format!("{number}. {}", inline(step)))
                    .collect();
                parts.push(steps.join("\n"));
            }
            Block::Verdicts(verdicts) => parts.extend(verdicts.iter().flat_map(verdict)),
            Block::Table(content) => parts.extend(table(content, number(&content.id))),
            Block::Figure(content) => parts.extend(figure(content, number(&content.id))),
            Block::Code(text) => parts.push(fenced(text)),
            Block::Note(note) => {
                parts.push(format!("> **{}.** {}", note.kind.heading(), inline(&note.text)));
            }
            Block::Specimen(content) => parts.extend(specimen(content)),
            Block::Files(files) => parts.push(links(files)),
        }
    }
}

/// Returns what was found, one line per statement, as on the page.
fn findings(document: &Document) -> Vec<String> {
    let (findings, counted) = document.listed_and_counted();
    if findings.is_empty() {
        return Vec::new();
    }
    let counts = |groups: &[Group<'_>]| {
        let counts = outcome_counts(groups);
        counts.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join(", ")
    };
    let mut parts = vec![
        "## Verdicts".to_string(),
        format!("{}: {}", verdicts_in_all(&findings), counts(&findings)),
    ];
    let whole = match &document.extent {
        Extent::Whole => String::new(),
        Extent::Brief { whole } => relative(&format!("{whole}.md")),
    };
    let about = populations(&findings).join("; ");
    let several = findings.len() > 1;
    for (title, verdicts) in findings {
        if several {
            parts.push(format!("### {}", line(title)));
        }
        let rows = verdicts.iter().map(|verdict| {
            let place = anchor_name(&verdict.id);
            let link = format!("[{}]({whole}#{place})", inline(&verdict.statement));
            let interval = match verdict.interval.as_str() {
                "" => String::new(),
                interval => format!(" ({})", inline(interval)),
            };
            let word = capital(&verdict.verdict.word());
            let denominator = match verdict.denominator.as_str() {
                "" => String::new(),
                denominator => format!("; {}", inline(denominator)),
            };
            let evidence = match verdict.evidence.as_str() {
                "" => format!("{}{interval}{denominator}", inline(&verdict.estimate)),
                evidence => inline(evidence),
            };
            format!("| **{word}** | {link} | {evidence} |")
        });
        let head = ["| Verdict | Statement | Evidence |", "| --- | --- | --- |"].map(String::from);
        parts.push(head.into_iter().chain(rows).collect::<Vec<_>>().join("\n"));
    }
    if document.extent != Extent::Whole && !about.is_empty() {
        parts.push("## For whom it holds".to_string());
        parts.push(format!("{}. {}", line(&about), inline(NO_OTHERS)));
        let elsewhere = counted.iter().map(std::slice::from_ref);
        let elsewhere = elsewhere.map(|group| pair(&populations(group).join("; "), &counts(group)));
        parts.push(list(elsewhere));
    }
    parts
}

fn verdict(verdict: &Verdict) -> [String; 4] {
    let word = verdict.verdict.word();
    let heading =
        format!("{}### {}: {}", anchor(&verdict.id), capital(&word), line(&verdict.statement));
    let values = verdict.values().into_iter().filter(|(_, value)| !value.is_empty());
    let values = list(values.map(|(name, value)| pair(name, value)));
    if verdict.counterexamples.is_empty() {
        return [heading, values, String::new(), String::new()];
    }
    let cases = list(verdict.counterexamples.iter().map(|case| running(case)));
    [heading, values, "Counterexamples:".to_string(), cases]
}

fn table(table: &Table, number: usize) -> [String; 4] {
    let caption = format!("{}**Table {number}.** {}", anchor(&table.id), inline(&table.caption));
    // A row too long is no reason to lose its end.
    let width = table.rows.iter().map(Vec::len).chain([table.columns.len()]).max().unwrap_or(0);
    let row = |cells: Vec<String>| {
        let padding = width - cells.len();
        let cells = cells.into_iter().chain(std::iter::repeat_n(String::new(), padding));
        format!("| {} |", cells.collect::<Vec<_>>().join(" | "))
    };
    let rule = |numeric: bool| if numeric { "---:" } else { "---" }.to_string();
    let mut rules: Vec<_> = table.columns.iter().map(|column| rule(column.numeric)).collect();
    rules.resize(width, rule(false));
    let mut rows =
        vec![row(table.columns.iter().map(|column| inline(&column.title)).collect()), row(rules)];
    rows.extend(
        (table.rows.iter()).map(|cells| row(cells.iter().map(|cell| inline(&cell.text)).collect())),
    );
    let helped = table.columns.iter().filter(|column| !column.help.is_empty());
    let help = helped.map(|column| pair(&column.title, &column.help));
    let help = help.collect::<Vec<_>>().join(" · ");
    let file = table.file.as_ref().map(|path| format!("[Data as CSV]({})", relative(path)));
    [caption, rows.join("\n"), help, file.unwrap_or_default()]
}

fn figure(figure: &Illustration, number: usize) -> [String; 3] {
    let anchor = anchor(&figure.id);
    let caption = format!("**Figure {number}.** {}", inline(&figure.caption));
    [
        format!("{anchor}{}", image(&figure.files, &figure.picture.light.alt)),
        caption,
        links(&figure.files),
    ]
}

fn specimen(specimen: &Specimen) -> [String; 6] {
    let anchor = if specimen.id.is_empty() { String::new() } else { anchor(&specimen.id) };
    let heading = match specimen.title.as_str() {
        "" => anchor.trim_end().to_string(),
        title => format!("{anchor}### {}", line(title)),
    };
    let origin = [&specimen.origin, &specimen.score].map(|text| inline(text));
    let origin: Vec<_> = origin.into_iter().filter(|text| !text.is_empty()).collect();
    [
        heading,
        image(&specimen.files, &specimen.board.light.alt),
        line(&specimen.description),
        fenced(&specimen.line),
        origin.join(" · "),
        links(&specimen.files),
    ]
}

/// Returns the first file that is a picture, or the description alone.
fn image(files: &[(String, String)], alt: &str) -> String {
    let is_picture = |path: &str| [".svg", ".png"].iter().any(|ending| path.ends_with(ending));
    match files.iter().find(|(_, path)| is_picture(path)) {
        Some((_, path)) => format!("![{}]({})", inline(alt), relative(path)),
        None => line(alt),
    }
}

fn links(files: &[(String, String)]) -> String {
    let link =
        |(label, path): &(String, String)| format!("[{}]({})", inline(label), relative(path));
    files.iter().map(link).collect::<Vec<_>>().join(" · ")
}

fn list(items: impl Iterator<Item = String>) -> String {
    items.map(|item| format!("- {item}")).collect::<Vec<_>>().join("\n")
}

fn pair(name: &str, value: &str) -> String {
    format!("**{}:** {}", inline(name), inline(value))
}

/// An id is escaped too: here nobody has checked it.
fn anchor(id: &str) -> String {
    format!("<a id=\"{}\"></a>\n\n", minijinja::HtmlEscape(id))
}

/// Returns an id as the address of a link.
fn anchor_name(id: &str) -> String {
    relative(id).trim_start_matches("./").to_string()
}

fn capital(word: &str) -> String {
    let (first, rest) = word.split_at(1);
    first.to_ascii_uppercase() + rest
}

/// Returns a fence that no line of the text can close (CommonMark 0.31, section 4.5).
fn fenced(text: &str) -> String {
    let longest = text.split(|c| c != '`').map(str::len).max().unwrap_or(0);
    let fence = "`".repeat(3.max(longest + 1));
    format!("{fence}\n{}\n{fence}", text.trim_end_matches('\n'))
}

/// Returns the text on one line with every mark of Markdown and HTML taken literally (CommonMark 0.31,
/// section 2.4; GitHub adds `|`, `~` and `$`).
fn inline(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for (index, word) in text.split_whitespace().enumerate() {
        if index > 0 {
            escaped.push(' ');
        }
        for c in word.chars() {
            if "\\`*_[]<>&|~$#".contains(c) {
                escaped.push('\\');
            }
            escaped.push(c);
        }
    }
    escaped
}

/// Returns running text, its puzzle lines as code.
fn running(spans: &[Span]) -> String {
    let pieces = spans.iter().enumerate().map(|(index, span)| match span {
        Span::Puzzle(text) if text.chars().all(|c| c == '.' || c.is_ascii_digit()) => {
            format!("`{text}`")
        }
        Span::Puzzle(text) | Span::Words(text) => {
            let escaped = if index == 0 { line(text) } else { inline(text) };
            // The spaces around a puzzle line belong to the text.
            let space = |there: bool| if there { " " } else { "" };
            let before = space(index > 0 && text.starts_with(char::is_whitespace));
            let after = space(!escaped.is_empty() && text.ends_with(char::is_whitespace));
            format!("{before}{escaped}{after}")
        }
    });
    pieces.collect::<String>().trim_end().to_string()
}

/// Like [`inline`] for a text that begins a line, where a list, a rule or a heading could begin.
fn line(text: &str) -> String {
    let escaped = inline(text);
    let after_digits = escaped.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = escaped.len() - after_digits.len();
    let first_word = after_digits.split(' ').next().unwrap_or_default();
    if digits > 0 && [".", ")"].contains(&first_word) {
        format!("{}\\{after_digits}", &escaped[..digits])
    } else if escaped.starts_with(['-', '+', '=']) {
        format!("\\{escaped}")
    } else {
        escaped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_taken_literally() {
        assert_eq!(
            inline("a|b <i>`x`</i>\n *c* _d_ [e](f) &amp;"),
            "a\\|b \\<i\\>\\`x\\`\\</i\\> \\*c\\* \\_d\\_ \\[e\\](f) \\&amp;"
        );
        assert_eq!(inline("![x](y)"), "!\\[x\\](y)");
    }

    #[test]
    fn a_line_begins_no_list_rule_or_heading() {
        for (text, escaped) in [
            ("1. x", "1\\. x"),
            ("12) x", "12\\) x"),
            ("- x", "\\- x"),
            ("+ x", "\\+ x"),
            ("--- x", "\\--- x"),
            ("=== x", "\\=== x"),
            ("# x", "\\# x"),
            ("> x", "\\> x"),
            ("12 x", "12 x"),
            ("5..3", "5..3"),
            ("7.", "7\\."),
            ("", ""),
        ] {
            assert_eq!(line(text), escaped);
        }
    }

    #[test]
    fn puzzle_lines_are_code() {
        let words = |text: &str| Span::Words(text.to_string());
        let puzzle = Span::Puzzle("1".repeat(81));
        let code = format!("`{}`", "1".repeat(81));
        let spans =
            [words("1. <x> "), puzzle.clone(), words(", a "), puzzle.clone(), words(" "), puzzle];
        assert_eq!(running(&spans), format!("1\\. \\<x\\> {code}, a {code} {code}"));
        assert_eq!(running(&spans[1..2]), code);
        assert_eq!(running(&[words("- a")]), "\\- a");
        assert_eq!(running(&[Span::Puzzle("a`".into())]), "a\\`");
    }

    #[test]
    fn fences_are_longer_than_what_they_hold() {
        assert_eq!(fenced("a\n"), "```\na\n```");
        assert_eq!(fenced("a ```` b"), "`````\na ```` b\n`````");
    }
}
