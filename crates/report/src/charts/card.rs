//! The answer at a glance.

use std::path::Path;

use tallyhouse_analysis::{Card, CardShape};
use tallyhouse_figures::{AnswerCard, CardRow, Heading};
use tallyhouse_stats::Limits;
use tallyhouse_words::{
    Advice, about, counted, list, mid_sentence, number_range, number_word, over, sentence_start,
    set_name, set_names, share_and_ends,
};

use super::folder::{check, read_json};
use super::words::puzzles_in;
use crate::ReportError;
use crate::few::{FEW, star, star_note};

/// The file of a card's folder that the picture is drawn from.
pub const CARD_FILE: &str = "card.json";

/// Reads a card from the folder of the command.
///
/// # Errors
/// If the folder holds no whole card.
pub fn card_of_folder(folder: &Path) -> Result<Card, ReportError> {
    check(folder)?;
    read_json(folder, CARD_FILE)
}

/// Draws a card.
#[must_use]
pub fn answer_card(card: &Card) -> AnswerCard {
    let rows = card.shapes.iter().map(|shape| {
        // Fewer puzzles than enough leave the lower end of the share of houses open.
        let often = share(shape.often, FEW);
        let lost = share(shape.lost, shape.lost_puzzles);
        CardRow {
            open: shape.shape.open,
            sides: [shape.shape.naked, shape.shape.hidden].map(set_name),
            advice: shape.advice,
            often,
            price: price(shape),
            lost,
        }
    });
    let rows: Vec<CardRow> = rows.collect();
    let mut notes = vec![
        format!(
            "Houses: how many show it, at {} without singles.",
            counted(card.positions, "position", "positions"),
        ),
        format!(
            "Glances: for each find, looks in vain included, from the cheapest to the dearest of {}, in \
             every house or only where due.",
            counted(card.readers.len() as u64, "reader", "readers"),
        ),
        "Puzzles: how many end earlier without it.".to_owned(),
    ];
    if rows.iter().any(|row| row.often.ends_with('*') || row.lost.ends_with('*')) {
        notes.push(star_note());
    }
    AnswerCard {
        heading: Heading {
            title: title(card),
            subtitle: format!(
                "{}: {}.",
                sentence_start(&card.population),
                puzzles_in(card.puzzles, card.units),
            ),
            notes,
            alt: alt(card),
        },
        rows,
    }
}

/// The same as a Markdown table.
#[must_use]
pub fn card_markdown(card: &Card) -> String {
    let AnswerCard { heading, rows } = answer_card(card);
    let mut text = format!("# {}\n\n{}\n\n", heading.title, heading.subtitle);
    text += "| open | look for | houses | glances | puzzles |\n";
    text += "| ---: | --- | ---: | ---: | ---: |\n";
    for (row, shape) in rows.iter().zip(&card.shapes) {
        let CardRow { open, often, price, lost, .. } = row;
        text += &format!("| {open} | {} | {often} | {price} | {lost} |\n", look_for(shape));
    }
    let readers = list(card.readers.iter().map(String::as_str));
    let notes = heading.notes.join(" ");
    text + &format!("\n{notes} Readers: {readers}.\n")
}

/// What to look for, in words.
fn look_for(row: &CardShape) -> String {
    let [naked, hidden] = [row.shape.naked, row.shape.hidden].map(set_name);
    match row.advice {
        Advice::Naked => format!("naked {naked}"),
        Advice::Hidden => format!("hidden {hidden}"),
        Advice::Depends => format!("naked {naked} or hidden {hidden}: it depends on the reader"),
        Advice::Undecided => format!("naked {naked} or hidden {hidden}: too few data"),
        Advice::Neither => format!("neither naked {naked} nor hidden {hidden}: not worth it"),
    }
}

fn share(limits: Limits, puzzles: u64) -> String {
    let Limits { value, low, high } = limits;
    if value == Some(0.0) {
        return "none".to_owned();
    }
    match share_and_ends(value, low, high) {
        [Some(value), _] => value + star(puzzles, low),
        [None, _] => "–".to_owned(),
    }
}

/// Writes what a find costs, no more exactly than its intervals tell. Where they are missing, or the data
/// don't tell the sides apart, only a limit stands.
fn price(shape: &CardShape) -> String {
    let told = |limits: Limits| Some(limits.told()?.number_in_prose());
    let ends = shape.price.filter(|_| shape.advice != Advice::Undecided);
    match (ends.map(|ends| ends.map(told)), shape.price_above) {
        (Some([Some(least), Some(most)]), _) if least == most => least,
        (Some([Some(least), Some(most)]), _) => format!("{least}–{most}"),
        (_, Some(limit)) => over(limit),
        (_, None) => "–".to_owned(),
    }
}

/// The looks that are worth it for two open counts or more, those for the most open counts first.
fn title(card: &Card) -> String {
    let mut runs: Vec<([u8; 2], Vec<String>)> = Vec::new();
    for look in looks() {
        let Some(run) = longest_run(|open| is_advised(card, look, open)) else { continue };
        match runs.iter_mut().find(|(other, _)| *other == run) {
            Some((_, names)) => names.push(plural_name(look)),
            None => runs.push((run, vec![plural_name(look)])),
        }
    }
    runs.sort_by_key(|&([from, to], _)| (from, std::cmp::Reverse(to)));
    let words = |[from, to]: [u8; 2]| match (from, to) {
        (from, 9) => format!("from {} open cells on", number_word(from)),
        (from, to) => format!("with {} open cells", number_range(from, to)),
    };
    let mut runs = runs.iter();
    let first = match runs.next() {
        None => return "Which side to look for?".to_owned(),
        Some(([4, 9], names)) if runs.len() == 0 => {
            format!("Look for {}, however many cells are open", list(names))
        }
        Some(([4, 9], names)) => format!("Look for {}", list(names)),
        Some((run, names)) => {
            format!("{}, look for {}", sentence_start(&words(*run)), list(names))
        }
    };
    let more = runs.map(|(run, names)| format!("; {}, also for {}", words(*run), list(names)));
    first + &more.collect::<String>()
}

/// A side with its size.
type LookFor = (Advice, u8);

/// All looks, naked ones first.
fn looks() -> impl Iterator<Item = LookFor> {
    [Advice::Naked, Advice::Hidden]
        .into_iter()
        .flat_map(|side| (2..=7).map(move |size| (side, size)))
}

/// Returns what a row of the card advises to look for, if that is one side.
fn advised(row: &CardShape) -> Option<LookFor> {
    match row.advice {
        Advice::Naked => Some((row.advice, row.shape.naked)),
        Advice::Hidden => Some((row.advice, row.shape.hidden)),
        _ => None,
    }
}

fn is_advised(card: &Card, look: LookFor, open: u8) -> bool {
    card.shapes.iter().any(|row| row.shape.open == open && advised(row) == Some(look))
}

fn plural_name((side, size): LookFor) -> String {
    let side = if side == Advice::Naked { "naked" } else { "hidden" };
    format!("{side} {}", set_names(size))
}

/// The ends of the longest run of open counts for which something holds; none shorter than two.
fn longest_run(holds: impl Fn(u8) -> bool) -> Option<[u8; 2]> {
    let ends = (4..=9u8).flat_map(|from| (from + 1..=9).map(move |to| [from, to]));
    let runs = ends.filter(|&[from, to]| (from..=to).all(&holds));
    runs.max_by_key(|&[from, to]| (to - from, to))
}

/// What a card says, as clauses.
#[must_use]
pub fn card_findings(card: &Card) -> Vec<String> {
    let with = |advice: Advice| -> Vec<&CardShape> {
        card.shapes.iter().filter(|row| row.advice == advice).collect()
    };
    let mut clauses = Vec::new();
    let title = title(card);
    if !title.ends_with('?') {
        let [population, advice] = [&card.population, &title].map(|words| mid_sentence(words));
        clauses.push(format!("in {population}, {advice}"));
    }
    let [depends, undecided] =
        [Advice::Depends, Advice::Undecided].map(|advice| with(advice).len());
    let of = card.shapes.len();
    let puzzles = puzzles_in(card.puzzles, card.units);
    let too_few =
        format!("{puzzles} {} too few to tell", if card.puzzles == 1 { "is" } else { "are" });
    match (depends, undecided) {
        (0, 0) => {}
        (0, undecided) if undecided == of => {
            clauses.push(format!("{too_few} for any shape which side costs less"));
        }
        (0, undecided) => clauses.push(format!("for {undecided} of {of} shapes {too_few}")),
        (depends, undecided) => {
            let rest = if undecided > 0 {
                format!("; for {undecided} more, {too_few}")
            } else {
                String::new()
            };
            clauses.push(format!(
                "for {depends} of {of} shapes, which side costs less depends on the reader{rest}"
            ));
        }
    }
    let neither = with(Advice::Neither);
    if !neither.is_empty() {
        let names = neither.iter().map(|row| {
            let (open, sides) = (row.shape.open, [row.shape.naked, row.shape.hidden].map(set_name));
            let [naked, hidden] = sides;
            format!("a naked {naked} or hidden {hidden} with {} open cells", number_word(open))
        });
        clauses.push(format!(
            "not worth a look, at more than {} glances a find for every reader: {}",
            about(card.limit as u64),
            list(names)
        ));
    }
    clauses
}

fn alt(card: &Card) -> String {
    let figure = card.shapes.chunk_by(|a, b| a.shape.open == b.shape.open).map(|group| {
        let shapes = group.iter().map(look_for);
        format!("{} open: {}", group[0].shape.open, shapes.collect::<Vec<_>>().join("; "))
    });
    format!("What to look for, the commonest first. {}.", figure.collect::<Vec<_>>().join(". "))
}

#[cfg(test)]
mod tests {
    use tallyhouse_analysis::ShapeSizes;
    use tallyhouse_stats::Level;

    use super::*;

    fn within(value: f64, half: f64) -> Limits {
        Limits { value: Some(value), low: Some(value - half), high: Some(value + half) }
    }

    /// A card on which pairs have this advice by open count from 4: naked pairs, hidden pairs.
    fn card(naked: [Advice; 6], hidden: [Advice; 6]) -> Card {
        let shape = |open: u8, naked: u8, advice| CardShape {
            shape: ShapeSizes { open, naked, hidden: open - naked },
            advice,
            often: within(0.05, 0.01),
            price: Some([within(22.3, 2.0), within(1234.0, 60.0)]),
            price_above: (advice == Advice::Undecided).then_some(297.0),
            lost: within(0.003, 0.001),
            lost_puzzles: if naked == 3 { 3 } else { 30 },
        };
        let shapes =
            (4..=9).zip(naked.into_iter().zip(hidden)).flat_map(|(open, (naked, hidden))| {
                [shape(open, 2, naked), shape(open, open - 2, hidden)]
            });
        Card {
            population: "puzzles by hand".to_owned(),
            puzzles: 1000,
            units: 500,
            positions: 1200,
            readers: vec!["marking".to_owned(), "sharing".to_owned()],
            level: Level::default(),
            limit: 1000.0,
            shapes: shapes.skip(1).collect(),
        }
    }

    #[test]
    fn the_title_names_what_is_worth_looking_for() {
        use Advice::{Depends as D, Hidden as H, Naked as N, Undecided as U};
        let titles = [
            ([N; 6], [U, D, D, H, H, H]),
            ([N; 6], [U; 6]),
            ([N, N, N, N, N, U], [U, D, D, H, H, U]),
            ([U; 6], [U, U, H, H, H, H]),
            ([U; 6], [U, U, U, U, U, H]),
        ]
        .map(|(naked, hidden)| title(&card(naked, hidden)));
        // With four open cells both sides are pairs: its first row is left out above.
        assert_eq!(
            titles,
            [
                "From five open cells on, look for naked pairs; from seven open cells on, also for hidden pairs",
                "From five open cells on, look for naked pairs",
                "With five to eight open cells, look for naked pairs; with seven or eight open cells, also for \
                 hidden pairs",
                "From six open cells on, look for hidden pairs",
                "Which side to look for?",
            ]
        );
        let mut with_triples = card([N; 6], [U, D, D, H, H, H]);
        for open in 7..=9 {
            let mut row = with_triples.shapes[0];
            (row.shape, row.advice) = (ShapeSizes { open, naked: 3, hidden: open - 3 }, N);
            with_triples.shapes.push(row);
        }
        assert_eq!(
            title(&with_triples),
            "From five open cells on, look for naked pairs; from seven open cells on, also for naked \
             triples and hidden pairs"
        );
    }

    #[test]
    fn what_a_card_says_is_told_in_clauses_and_as_a_table() {
        use Advice::{Depends as D, Hidden as H, Naked as N, Neither, Undecided as U};
        let card = card([N, N, N, N, N, N], [N, D, U, H, H, Neither]);
        let clauses = card_findings(&card);
        assert_eq!(
            clauses,
            [
                "in puzzles by hand, look for naked pairs; with seven or eight open cells, also for \
                 hidden pairs",
                "for 1 of 11 shapes, which side costs less depends on the reader; for 1 more, 1,000 \
                 puzzles in 500 families are too few to tell",
                "not worth a look, at more than 1,000 glances a find for every reader: a naked set of \
                 seven or hidden pair with nine open cells",
            ]
        );
        let table = card_markdown(&card);
        assert!(table.contains("| 4 | naked pair | 5 % | 22–1,200 | 0.3 % |\n"), "{table}");
        assert!(table.contains("| 5 | naked triple or hidden pair: it depends on the reader |"));
        assert!(table.contains("too few data | 5 % | over 290 | 0.3 % |\n"), "{table}");
        assert!(table.contains("Readers: marking and sharing."), "{table}");
        let few = |line: &&str| line.ends_with("| 0.3 %* |");
        assert!(table.lines().filter(few).all(|line| line.starts_with("| 5 |")), "{table}");
        assert!(table.contains("Fewer than 30 puzzles") && table.lines().any(|line| few(&line)));
    }
}
