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
fn the_recipe_and_the_rulebook_run_as_they_stand() {
    let toml = blocks("toml");
    let [recipe, rulebook] = &toml[..] else { panic!("{} blocks", toml.len()) };
    assert!(recipe.starts_with("# my-recipe.toml") && rulebook.starts_with("name = \"mine\""));
    let folder = tempfile::tempdir().unwrap();
    // The search would take a while; all else stands as it is.
    let mut smaller = recipe.clone();
    for (large, small) in [
        ("training = 3000", "training = 30"),
        ("held_out = 10000", "held_out = 30"),
        ("evaluations = 2000", "evaluations = 10"),
    ] {
        assert!(smaller.contains(large), "{large}");
        smaller = smaller.replace(large, small);
    }
    fs::write(folder.path().join("my-recipe.toml"), smaller).unwrap();
    fs::write(folder.path().join("my-rulebook.toml"), rulebook).unwrap();
    let make = ["make", "--count", "300", "--seed", "4", "--out", "my-puzzles.txt"];
    assert_eq!(run(folder.path(), &make).code, Some(0));
    let study = run(folder.path(), &["study", "my-recipe.toml", "--out", "my-study"]);
    assert_eq!((study.code, study.err.as_str()), (Some(0), ""), "{study:?}");
    let report = fs::read_to_string(folder.path().join("my-study/report.md")).unwrap();
    for words in
        ["# What my puzzles need", "What I teach", "Quintets beside triples", "My collection"]
    {
        assert!(report.contains(words), "{words}");
    }
}
