//! The README keeps its word: its commands parse, and its recipe and rulebook run as they stand.

use std::fs;

use tallyhouse_tests::command::run;

const README: &str = include_str!("../../README.md");

/// Returns the fenced blocks of a language, without their fences.
fn blocks(language: &str) -> Vec<String> {
    let mut blocks = Vec::new();
    let mut open: Option<(bool, String)> = None;
    for line in README.lines() {
        match (&mut open, line.strip_prefix("```")) {
            (None, Some(named)) => open = Some((named == language, String::new())),
            (Some(_), Some(_)) => blocks.extend(open.take().filter(|(ours, _)| *ours)),
            (Some((_, text)), None) => *text += &format!("{line}\n"),
            (None, None) => {}
        }
    }
    blocks.into_iter().map(|(_, text)| text).collect()
}

/// Splits a command line at blanks outside double quotes; a comment ends it.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            '#' if !quoted => break,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[test]
fn commands_are_spelt_as_the_program_reads_them() {
    let folder = tempfile::tempdir().unwrap();
    let mut seen = 0;
    for line in blocks("").iter().flat_map(|block| block.lines()) {
        let Some(arguments) = line.strip_prefix("tallyhouse ") else { continue };
        let arguments = words(arguments);
        // Help comes only when all before it could be read.
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).chain(["--help"]).collect();
        let ran = run(folder.path(), &arguments);
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
        seen += 1;
    }
    assert!(seen >= 12, "found only {seen} commands");
    assert_eq!(run(folder.path(), &["study", "--cuont", "5", "--help"]).code, Some(2));
}

#[test]
fn the_recipe_runs_as_it_stands_and_with_all_that_can_be_asked() {
    let toml = blocks("toml");
    let [recipe, more, rulebook] = &toml[..] else { panic!("{} blocks", toml.len()) };
    assert!(recipe.starts_with("# my-recipe.toml") && rulebook.starts_with("name = \"mine\""));
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    let make = ["make", "--count", "300", "--seed", "4", "--out", "my-puzzles.txt"];
    assert_eq!(run(folder.path(), &make).code, Some(0));
    let study = |recipe: &str, title: &[&str]| {
        write("my-recipe.toml", recipe);
        let study = run(folder.path(), &["study", "my-recipe.toml", "--out", "my-study"]);
        assert_eq!((study.code, study.err.as_str()), (Some(0), ""), "{study:?}");
        let report = fs::read_to_string(folder.path().join("my-study/report.md")).unwrap();
        for words in title {
            assert!(report.contains(words), "{words}");
        }
    };
    let always = ["# What my puzzles need", "My collection", "## In short", "## Specimens"];
    study(recipe, &always);
    // The search and the second collection would take a while; all else stands as it is.
    let mut smaller = format!("{recipe}\n{more}");
    for (large, small) in [
        ("count = 10000", "count = 200"),
        ("training = 3000", "training = 30"),
        ("held_out = 10000", "held_out = 30"),
        ("evaluations = 2000", "evaluations = 10"),
    ] {
        assert!(smaller.contains(large), "{large}");
        smaller = smaller.replace(large, small);
    }
    let with_own = smaller.replace("[\"short-list\"]", "[\"short-list\", \"my-rulebook.toml\"]");
    write("my-rulebook.toml", rulebook);
    let more = ["What I teach", "Quintets beside triples", "Minimal puzzles by random deletion"];
    study(&with_own, &[&always[..], &more].concat());
}
