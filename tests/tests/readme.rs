//! The README keeps its word: its commands, its recipe and its rulebook run as they stand.

use std::fs;

use tallyhouse_tests::command::{quicker, run, run_line};
use tallyhouse_tests::simulated;

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

#[test]
fn its_commands_run_in_their_order() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let good = |line: &str| {
        let ran = run_line(folder.path(), line);
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
    };
    good("tallyhouse make --count 300 --seed 4 --out my-puzzles.txt");
    let puzzles = fs::read_to_string(at("my-puzzles.txt")).unwrap();
    let rows: Vec<&str> = puzzles.lines().filter(|line| !line.starts_with('#')).collect();
    fs::write(at("list.txt"), rows[..20].join("\n")).unwrap();
    fs::write(at("magazine.csv"), format!("puzzle\n{}\n", rows[20..40].join("\n"))).unwrap();
    good("gzip magazine.csv");
    let there = |name: &str| format!("notebooks-data/timings/simulated-{name}.csv");
    simulated::copy_to(folder.path(), &there("times"), &there("items"));
    fs::write(at("my-recipe.toml"), &blocks("toml")[0]).unwrap();
    let mut seen = 0;
    for line in blocks("").iter().flat_map(|block| block.lines()) {
        if line.starts_with("tallyhouse ") {
            let (command, _remark) = line.split_once(" #").unwrap_or((line, ""));
            good(&quicker(command.trim_end()));
            seen += 1;
        }
    }
    assert!(seen >= 12, "found only {seen} commands");
}

#[test]
fn the_recipe_runs_as_it_stands_and_with_all_that_can_be_asked() {
    let toml = blocks("toml");
    let [recipe, more, rulebook, captions] = &toml[..] else { panic!("{} blocks", toml.len()) };
    assert!(recipe.starts_with("# my-recipe.toml") && rulebook.starts_with("name = \"mine\""));
    assert!(captions.starts_with("specimen-1-board = "));
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    simulated::copy_to(folder.path(), "times.csv", "items.csv");
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
    let always =
        ["# What my puzzles need", "My collection", "## The answer at a glance", "## Specimens"];
    study(recipe, &always);
    // The search and the second collection would take a while; all else stands as it is.
    let mut smaller = format!("{recipe}\n{more}");
    for (large, small) in [
        ("\ncount = 10000", "\ncount = 200"),
        ("training_count = 3000", "training_count = 30"),
        ("held_out_count = 10000", "held_out_count = 30"),
        ("evaluations = 3000", "evaluations = 10"),
    ] {
        assert!(smaller.contains(large), "{large}");
        smaller = smaller.replace(large, small);
    }
    let with_own = smaller.replace("[\"short-list\"]", "[\"short-list\", \"my-rulebook.toml\"]");
    write("my-rulebook.toml", rulebook);
    let more = [
        "What I teach",
        "Quintets beside triples",
        "Minimal puzzles by random deletion",
        "## Rulebooks head to head",
        "The reader marking explains the times of 12 people best.",
        "Practice: naked pairs",
    ];
    study(&with_own, &[&always[..], &more].concat());
    assert!(folder.path().join("my-study/data/worksheet/worksheet.pdf").is_file());
}
