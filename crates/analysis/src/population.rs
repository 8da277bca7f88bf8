//! What a collection is a sample of, as far as its notes tell.

use tallyhouse_collection::{Likeness, Recipe, Sampling, SamplingMethod};
use tallyhouse_words::list;

/// Names the population of a collection: that of the method its notes name, with what was wished, or
/// the puzzles of its files as given.
#[must_use]
pub fn population(notes: &[String], sources: &[String]) -> String {
    let mut named: Vec<String> = Vec::new();
    for (number, note) in notes.iter().enumerate() {
        let Some(method) = note.strip_prefix("method: ") else { continue };
        let end = notes[number + 1..].iter().position(|note| note.starts_with("method: "));
        let own = &notes[number + 1..end.map_or(notes.len(), |end| number + 1 + end)];
        let population = of_method(method, own);
        if !named.contains(&population) {
            named.push(population);
        }
    }
    match named.as_slice() {
        [] => format!("the puzzles of {}, as given", list(sources)),
        [population] => population.clone(),
        _ => format!("{} together", list(named)),
    }
}

fn of_method(method: &str, notes: &[String]) -> String {
    let weighted = [SamplingMethod::Splitting, SamplingMethod::ControlledBias];
    let is_weighted =
        |kind: &SamplingMethod| method.ends_with(Sampling::of(*kind, Sampling::POPULATION).name());
    let mut words = if weighted.iter().any(is_weighted) {
        "all minimal puzzles, by weight".to_owned()
    } else {
        method.to_owned()
    };
    if let (Some(like), Some(by)) = (likeness(notes), method.strip_prefix("puzzles by ")) {
        return format!("{}, by {by}", like.population());
    }
    for note in notes {
        if let Some(clues) = note.strip_prefix("clues: ") {
            let (range, stop) = clues.split_once(", ").map_or((clues, ""), |(range, stop)| {
                (range, if stop.is_empty() { "" } else { ", some of them redundant" })
            });
            let range = match range.split_once("..") {
                Some((low, high)) if low == high => low.to_owned(),
                Some((low, high)) => format!("{low} to {high}"),
                None => range.to_owned(),
            };
            words += &format!(", with {range} clues{stop}");
        } else if let Some(symmetry) = note.strip_prefix("symmetry of givens: ") {
            let name = symmetry.split(';').next().unwrap_or(symmetry);
            words += &format!(", {name} symmetry");
        } else if let Some(wanted) = note.strip_prefix("wanted: ") {
            words += &format!(", only those where {wanted}");
        }
    }
    words
}

/// What the puzzles are like, if their wishes are just those.
fn likeness(notes: &[String]) -> Option<Likeness> {
    let wishes = |notes: &[String]| -> Vec<String> {
        let names = ["clues: ", "symmetry of givens: ", "wanted: "];
        let is_wish = |note: &&String| names.iter().any(|name| note.starts_with(name));
        notes.iter().filter(is_wish).cloned().collect()
    };
    let own = wishes(notes);
    let is_like = |like: &Likeness| {
        Recipe::new(Sampling::Deletion, like.wishes(), 0)
            .is_ok_and(|recipe| wishes(&recipe.notes()) == own)
    };
    Likeness::ALL.iter().copied().find(is_like)
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::{GivensSymmetry, Wishes};

    use super::*;

    #[test]
    fn made_collections_name_what_they_are_drawn_from() {
        let of = |recipe: Recipe| population(&recipe.notes(), &["x.txt".to_owned()]);
        let plain = |sampling| of(Recipe::plain(sampling, 1));
        assert_eq!(plain(Sampling::Deletion), "minimal puzzles by random deletion");
        let splitting = Sampling::Splitting { population: 1000 };
        assert_eq!(plain(splitting), "all minimal puzzles, by weight");
        assert_eq!(plain(Sampling::ControlledBias), "all minimal puzzles, by weight");
        let wishes = Wishes {
            clues: Some(26..=32),
            redundant: true,
            symmetry: Some(GivensSymmetry::HalfTurn),
            ..Wishes::default()
        };
        assert_eq!(
            of(Recipe::new(Sampling::Deletion, wishes.clone(), 1).unwrap()),
            "puzzles like those in print, by random deletion"
        );
        let fewer = Wishes { clues: Some(26..=30), ..wishes };
        assert_eq!(
            of(Recipe::new(Sampling::Deletion, fewer, 1).unwrap()),
            "puzzles by random deletion, with 26 to 30 clues, some of them redundant, half-turn \
             symmetry"
        );
    }

    #[test]
    fn files_without_a_method_speak_for_themselves() {
        let names = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>();
        assert_eq!(population(&[], &names(&["a.txt"])), "the puzzles of a.txt, as given");
        let notes = names(&["seed: 3", "method: one", "seed: 1", "method: two", "method: one"]);
        assert_eq!(population(&notes, &names(&["a", "b"])), "one and two together");
    }
}
