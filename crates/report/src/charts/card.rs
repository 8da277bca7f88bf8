//! The answer at a glance.

use std::path::Path;

use tallyhouse_analysis::{Card, CardShape};
use tallyhouse_figures::{AnswerCard, CardRow, Heading};
use tallyhouse_stats::Limits;
use tallyhouse_words::{
    Advice, about, counted, list, number_word, sentence_start, set_name, share_and_ends,
};

use super::folder::check;
use crate::ReportError;
use crate::error::io_error;
use crate::shapes::in_prose;

/// The file of a card's folder that the picture is drawn from.
pub const CARD_FILE: &str = "card.json";

/// Reads a card from the folder of the command.
///
/// # Errors
/// If the folder holds no whole card.
pub fn card_of_folder(folder: &Path) -> Result<Card, ReportError> {
    check(folder)?;
    let path = folder.join(CARD_FILE);
    let text = std::fs::read_to_string(&path).map_err(io_error(&path))?;
    Ok(serde_json::from_str(&text)?)
}

/// Draws a card.
#[must_use]
pub fn answer_card(card: &Card) -> AnswerCard {
    let rows = card.shapes.iter().map(|shape| {
        let [often, lost] = [shape.often, shape.lost].map(share);
        CardRow {
            open: shape.shape.open,
            sides: [shape.shape.naked, shape.shape.hidden].map(set_name),
            advice: shape.advice,
            often,
            price: price(shape),
            lost,
        }
    });
    AnswerCard {
        heading: Heading {
            title: title(card),
            subtitle: format!(
                "{}: {}.",
                sentence_start(&card.population),
                counted(card.puzzles, "puzzle", "puzzles"),
            ),
            notes: vec![
                format!(
                    "Houses: how many show it, at {} without singles.",
                    counted(card.positions, "position", "positions"),
                ),
                format!(
                    "Glances: for each find, looks in vain included, from the cheapest to the dearest of \
                     {}.",
                    counted(card.readers.len() as u64, "reader", "readers"),
                ),
                "Puzzles: in how many the full ladder reaches less without it.".to_owned(),
            ],
            alt: alt(card),
        },
        rows: rows.collect(),
    }
}

/// The same as a Markdown table.
#[must_use]
pub fn card_markdown(card: &Card) -> String {
    let AnswerCard { heading, rows } = answer_card(card);
    let mut text = format!("# {}\n\n{}\n\n", heading.title, heading.subtitle);
    text += "| open | look for | houses | glances | puzzles |\n";
    text += "| ---: | --- | ---: | ---: | ---: |\n";
    for row in rows {
        let CardRow { open, often, price, lost, .. } = &row;
        text += &format!("| {open} | {} | {often} | {price} | {lost} |\n", look_for(&row));
    }
    let readers = list(card.readers.iter().map(String::as_str));
    let notes = heading.notes.join(" ");
    text + &format!("\n{notes} Readers: {readers}, in every house and where the look is due.\n")
}

/// What to look for, in words.
fn look_for(row: &CardRow) -> String {
    let [naked, hidden] = &row.sides;
    match row.advice {
        Advice::Naked => format!("naked {naked}"),
        Advice::Hidden => format!("hidden {hidden}"),
        Advice::Depends => format!("naked {naked} or hidden {hidden}: it depends on the reader"),
        Advice::Undecided => format!("naked {naked} or hidden {hidden}: too few data"),
        Advice::Neither => format!("neither naked {naked} nor hidden {hidden}: not worth it"),
    }
}

fn share(limits: Limits) -> String {
    let Limits { value, low, high } = limits;
    match share_and_ends(value, low, high) {
        [Some(value), _] => value,
        [None, _] => "–".to_owned(),
    }
}

fn price(shape: &CardShape) -> String {
    shape.price.map_or_else(
        || "–".to_owned(),
        |[least, most]| format!("{}–{}", about(least as u64), about(most as u64)),
    )
}

/// The advice on pairs, which are the commonest of all: it is the finding if it is clear.
fn title(card: &Card) -> String {
    let is = |naked: bool, open: u8, advice: Advice| {
        card.shapes.iter().any(|row| {
            let size = if naked { row.shape.naked } else { row.shape.hidden };
            (row.shape.open, size, row.advice) == (open, 2, advice)
        })
    };
    let naked = (4..=9).all(|open| is(true, open, Advice::Naked));
    let from = (4..=9).find(|&first| (first..=9).all(|open| is(false, open, Advice::Hidden)));
    match (naked, from) {
        (true, Some(from)) => format!(
            "Look for naked pairs; from {} open cells on, for hidden pairs too",
            number_word(from)
        ),
        (true, None) => "Look for naked pairs, however many cells are open".to_owned(),
        (false, Some(from)) => {
            format!("From {} open cells on, look for hidden pairs", number_word(from))
        }
        (false, None) => "Which side to look for?".to_owned(),
    }
}

/// What a card says, as clauses.
#[must_use]
pub fn card_findings(card: &Card) -> Vec<String> {
    let with = |advice: Advice| -> Vec<&CardShape> {
        card.shapes.iter().filter(|row| row.advice == advice).collect()
    };
    let mut clauses = vec![title(card)];
    let depends = with(Advice::Depends);
    if !depends.is_empty() {
        clauses.push(format!(
            "for {} of {} shapes it depends on who reads which side costs less",
            depends.len(),
            card.shapes.len()
        ));
    }
    let neither = with(Advice::Neither);
    if !neither.is_empty() {
        let names = neither.iter().map(|row| in_prose(row.shape.open, row.shape.naked));
        clauses.push(format!(
            "not worth looking for, at more than {} glances a find for every reader: {}",
            about(card.limit as u64),
            names.collect::<Vec<_>>().join("; ")
        ));
    }
    let undecided = with(Advice::Undecided).len();
    if undecided > 0 {
        clauses.push(format!(
            "{} {} too few to tell for {undecided} of {} shapes",
            counted(card.puzzles, "puzzle", "puzzles"),
            if card.puzzles == 1 { "is" } else { "are" },
            card.shapes.len()
        ));
    }
    clauses
}

fn alt(card: &Card) -> String {
    let figure = card.shapes.chunk_by(|a, b| a.shape.open == b.shape.open).map(|group| {
        let shapes = group.iter().map(|row| {
            let [naked, hidden] = [row.shape.naked, row.shape.hidden].map(set_name);
            match row.advice {
                Advice::Naked => format!("naked {naked}"),
                Advice::Hidden => format!("hidden {hidden}"),
                Advice::Depends => format!("naked {naked} or hidden {hidden}"),
                Advice::Undecided => format!("naked {naked} or hidden {hidden}, undecided"),
                Advice::Neither => format!("not naked {naked}, not hidden {hidden}"),
            }
        });
        format!("{} open: {}", group[0].shape.open, shapes.collect::<Vec<_>>().join(", "))
    });
    format!("What to look for, the commonest first. {}.", figure.collect::<Vec<_>>().join("; "))
}
