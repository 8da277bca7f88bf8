//! Studies from recipes: what is asked for is there, and nothing else.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use tallyhouse_tests::command::{Ran, command, run};

fn good(folder: &Path, arguments: &[&str]) -> Ran {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
    ran
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// A recipe with every table in it.
const RECIPE: &str = r#"
name = "everything"
title = "Everything at once"
rulebooks = ["short-list", "mine.toml"]
claims = ["common-claims"]
leave_out_shapes = true

[[collection]]
name = "made"
title = "Made ones"
count = 300
seed = 1

[[collection]]
name = "families"
title = "Weighted ones"
method = "splitting"
population = 50
count = 20
seed = 1

[[collection]]
name = "read"
title = "Read ones"
files = ["own.txt"]

[walk]
intersections = true

[charts]
themes = ["print", "light"]
widths = ["column"]
narrowing = [[5, 2]]

[effort]
collection = "read"
shapes = [[5, 2]]

[yields]
rulebook = "mine.toml"
readers = ["unmarked", "marking"]

[specimens]

[[specimens.show]]
title = "Triples"
open = "5..6"
naked = 3
most = 2

[order]
start = "mine.toml"
seed = 1
training_count = 20
held_out_count = 20
evaluations = 5
"#;

const MINE: &str = r#"
name = "mine"
title = "What I teach"
source = "me"

[[look]]
find = "naked 1"

[[look]]
find = "hidden 1"

[[look]]
find = "naked 2"
"#;

fn prepare(folder: &Path) {
    fs::write(folder.join("recipe.toml"), RECIPE).unwrap();
    fs::write(folder.join("mine.toml"), MINE).unwrap();
    good(folder, &["make", "--count", "100", "--seed", "2", "--out", "own.txt"]);
    let text = fs::read_to_string(folder.join("own.txt")).unwrap();
    fs::write(folder.join("own.txt"), text + "too short\n").unwrap();
}

#[test]
fn every_table_of_a_recipe_is_obeyed() {
    let folder = tempfile::tempdir().unwrap();
    prepare(folder.path());
    let ran = good(folder.path(), &["study", "recipe.toml", "--out", "study", "--json"]);
    let told = json(&ran.out);
    assert_eq!(told["study"], "everything");
    assert_eq!(told["warnings"][0], "Read ones: 1 of 101 rows rejected (1 wrong length)");
    assert!(ran.err.contains("warning: Read ones: 1 of 101 rows rejected"), "{}", ran.err);
    for collection in ["made", "families", "read"] {
        let verdicts = told["verdicts"][collection].as_array().unwrap();
        assert_eq!(verdicts.len(), 10, "{collection}");
    }
    let study = folder.path().join("study");
    let report = fs::read_to_string(study.join("report.md")).unwrap();
    assert!(report.contains("naked 2, hidden 2, intersections, naked 3"), "the walk is told");
    for words in [
        "Triples: wanted open 5 to 6; naked 3; proper on one side at least",
        "1 of 101 rows rejected (1 wrong length)",
        "**Rulebook mine:** data/inputs/rulebook-mine.toml, BLAKE3 ",
        "**Claims common-claims:** data/inputs/claims-common-claims.toml, BLAKE3 ",
        "the one-by-one walk of naked 1, hidden 1, naked 2 comes to them",
        "| open | look | made | finds | yield | price, unmarked | price, marking |",
        "What each shape matters for: Weighted ones",
        "How to look, by ",
        "\n1. Look for ",
        "| rulebook | marking | sharing | remembering | unmarked | robust |",
        "| 8 open: naked 5 \\| hidden 3 |",
        "read from own.txt; 101 rows, 1 rejected; BLAKE3 of the rows ",
    ] {
        assert!(report.contains(words), "{words}");
    }
    // What the report says of the rows is what the scan says.
    let manifest = fs::read_to_string(study.join("work/census-read/dataset/manifest.json"));
    let digest = json(&manifest.unwrap())["collection"]["blake3"].as_str().unwrap().to_owned();
    assert!(report.contains(&digest));
    assert_eq!(fs::read_to_string(study.join("data/inputs/rulebook-mine.toml")).unwrap(), MINE);
    let rejects = fs::read_to_string(study.join("data/occurrence-read/rejects.csv")).unwrap();
    assert!(rejects.contains("own.txt,") && rejects.contains("too short"), "{rejects}");
    assert!(study.join("data/occurrence-families/looks.csv").is_file());
    let figures = names(&study.join("figures"));
    let charts: BTreeSet<&str> = figures
        .iter()
        .filter_map(|name| name.strip_suffix(".svg"))
        .filter(|name| !name.contains("specimen"))
        .collect();
    for chart in [
        "occurrence-made-rates",
        "occurrence-made-narrowing",
        "comparison-compare-4-7-open",
        "comparison-compare-8-9-open",
        "comparison-first",
        "comparison-hardest",
        "trial-made-missed",
        "effort-5-open-naked-2",
        "yields-prices-4-open",
        "order-frontier",
        "collection-families-clues",
    ] {
        assert!(charts.contains(format!("{chart}-column").as_str()), "{chart}: {charts:?}");
        assert!(charts.contains(format!("{chart}-column-print").as_str()), "{chart}");
        assert!(!charts.contains(chart) && !charts.contains(format!("{chart}-print").as_str()));
    }
    assert!(!charts.iter().any(|chart| chart.starts_with("occurrence-families-narrowing")));
    assert!(figures.iter().any(|name| name.starts_with("specimen-1-1-board")), "{figures:?}");
}

#[test]
fn a_study_draws_only_the_charts_it_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let recipe = |charts: &str| {
        let text = format!(
            "name = \"few\"\ntitle = \"Few\"\n[[collection]]\nname = \"made\"\ntitle = \"Made\"\n\
             count = 200\nseed = 1\n[charts]\n{charts}"
        );
        fs::write(folder.path().join("recipe.toml"), text).unwrap();
    };
    recipe("kinds = [\"first\", \"clues\"]\n");
    let study = ["study", "recipe.toml", "--out", "study"];
    good(folder.path(), &study);
    let figures = || names(&folder.path().join("study/figures"));
    let stems: BTreeSet<String> =
        figures().iter().map(|name| name.split('.').next().unwrap().to_owned()).collect();
    // The card belongs to each study.
    let expected = ["answer-card", "collection-made-clues", "occurrence-made-first"];
    let columns = expected.map(|name| format!("{name}-column"));
    assert_eq!(stems, expected.map(str::to_owned).into_iter().chain(columns).collect());
    // Charts alone change: nothing is made or scanned again. What an ended run left goes.
    let left = folder.path().join("study/.tallyhouse-aaaaaa");
    fs::create_dir(&left).unwrap();
    fs::write(left.join("half"), "half").unwrap();
    recipe("kinds = [\"first\"]\n");
    let changed = good(folder.path(), &study);
    assert!(
        changed.out.contains("Done: answer-shown, occurrence-made-shown, collection-made-shown\n"),
        "{}",
        changed.out
    );
    let kept = ["answer-card", "occurrence-made-first"];
    assert!(figures().iter().all(|name| kept.iter().any(|kept| name.starts_with(kept))));
    assert!(!left.exists());
}

/// Each claim gets a verdict in each population and on each walk, and each verdict names both.
#[test]
fn a_panel_asks_the_same_claims_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let claims = "name = \"two\"\ntitle = \"Two\"\nsource = \"own\"\n\
        [[claim]]\nid = \"pairs-are-rare\"\nkind = \"rare\"\nstatement = \"Pairs are rare.\"\n\
        shapes = [\"naked 2\"]\nper = \"puzzle\"\nbelow = 0.01\n\
        [[claim]]\nid = \"pairs-pay\"\nkind = \"pays\"\nstatement = \"Naked pairs pay.\"\n\
        look = \"naked 2 open 5\"\nframes = [\"every\"]\nreaders = [\"marking\"]\n";
    fs::write(folder.path().join("two.toml"), claims).unwrap();
    let recipe = "name = \"panel\"\ntitle = \"Panel\"\n\
        [[collection]]\nname = \"made\"\ntitle = \"Made ones\"\ncount = 300\nseed = 1\n\
        [[collection]]\nname = \"print\"\ntitle = \"Printed ones\"\nlike = \"in-print\"\ncount = 200\n\
        seed = 2\n[charts]\nkinds = [\"verdicts\"]\nwidths = [\"column\"]\n\
        [[panel]]\ntitle = \"Everywhere\"\nclaims = [\"two.toml\"]\n";
    fs::write(folder.path().join("recipe.toml"), recipe).unwrap();
    good(folder.path(), &["study", "recipe.toml", "--out", "out"]);
    let read = |name: &str| fs::read_to_string(folder.path().join("out").join(name)).unwrap();
    let csv = read("data/panel-1/verdicts.csv");
    let printed = "puzzles like those in print, by random deletion";
    let populations = [("made", "minimal puzzles by random deletion"), ("print", printed)];
    for (collection, population) in populations {
        for walk in ["together", "one-by-one", "with-intersections"] {
            for claim in ["pairs-are-rare", "pairs-pay"] {
                let quoted = [format!("\"{population}\""), population.to_owned()];
                let is_it = |row: &str| {
                    let begins = |population: &String| {
                        row.starts_with(&format!("{collection},{population},{walk},two,{claim},"))
                    };
                    quoted.iter().any(begins)
                };
                assert_eq!(csv.lines().filter(|row| is_it(row)).count(), 1, "{csv}");
            }
        }
    }
    assert_eq!(csv.lines().count(), 1 + 2 * 3 * 2);
    let report = read("report.md");
    assert!(report.contains("| Pairs are rare. | refuted | refuted | "), "{report}");
    for asked in [
        "Verdicts by walk: 300 puzzles (minimal puzzles by random deletion)",
        "Verdicts by walk: 200 puzzles (puzzles like those in print, by random deletion)",
    ] {
        assert!(report.contains(asked), "{asked}");
    }
    for name in ["made", "print"] {
        let chart = read(&format!("figures/panel-1-verdicts-{name}.csv"));
        assert!(
            chart.starts_with("claim,asked,verdict\nPairs are rare.,together,refuted\n"),
            "{chart}"
        );
    }
    assert_eq!(read("data/inputs/claims-two.toml"), claims);
}

#[test]
fn another_title_or_theme_shows_again_and_measures_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let study = |title: &str, theme: &str| {
        let text = format!(
            "name = \"same\"\ntitle = \"Same\"\nrulebooks = [\"short-list\"]\n\
             claims = [\"common-claims\"]\n[[collection]]\nname = \"made\"\ntitle = \"{title}\"\n\
             count = 200\nseed = 1\n[charts]\nthemes = [\"{theme}\"]\nwidths = [\"column\"]\n\
             [effort]\nshapes = [[6, 2]]\n"
        );
        fs::write(folder.path().join("recipe.toml"), text).unwrap();
        let ran = good(folder.path(), &["study", "recipe.toml", "--out", "study"]);
        let done = ran.out.lines().find_map(|line| line.strip_prefix("Done: "));
        let done: Vec<String> = done.unwrap_or_default().split(", ").map(str::to_owned).collect();
        (done, fs::read_to_string(folder.path().join("study/report.md")).unwrap())
    };
    let (_, first) = study("Easy ones", "light");
    for (title, theme) in [("Hard ones", "light"), ("Hard ones", "dark")] {
        let (done, report) = study(title, theme);
        assert!(done.len() > 3 && done.iter().all(|stage| stage.ends_with("-shown")), "{done:?}");
        assert!(report.contains("Verdicts: Hard ones") && !report.contains("Easy ones"));
    }
    // Back again, all is as it was.
    assert_eq!(study("Easy ones", "light").1, first);
}

#[test]
fn a_check_reads_the_report_too() {
    let folder = tempfile::tempdir().unwrap();
    let study = ["study", "--count", "100", "--out", "study"];
    good(folder.path(), &study);
    let check = [&study[..], &["--check"]].concat();
    good(folder.path(), &check);
    let report = folder.path().join("study/report.md");
    let text = fs::read_to_string(&report).unwrap();
    fs::write(&report, text.replacen("100 puzzles", "101 puzzles", 1)).unwrap();
    let checked = run(folder.path(), &check);
    assert_eq!(checked.code, Some(1), "{checked:?}");
    assert!(checked.err.contains("report.md differs"), "{checked:?}");
}

#[test]
fn scans_and_charts_answer_in_json() {
    let folder = tempfile::tempdir().unwrap();
    good(folder.path(), &["make", "--count", "200", "--seed", "2", "--out", "own.txt"]);
    let whole = good(folder.path(), &["census", "own.txt", "--out", "whole", "--json"]);
    let whole = json(&whole.out);
    assert_eq!(whole["manifest"]["totals"]["puzzles"], 200);
    let shapes = whole["shapes"].as_array().unwrap();
    // 2 to 9 open cells with 1 to open − 1 naked ones.
    assert_eq!(shapes.len(), 36);
    let counts = fs::read_to_string(folder.path().join("whole/counts.csv")).unwrap();
    for (line, shape) in counts.lines().skip(1).zip(shapes) {
        let keys =
            ["open", "naked", "hidden", "subsets", "proper", "applied", "positions", "puzzles"];
        let told: Vec<String> = keys.iter().map(|key| shape[key].to_string()).collect();
        assert_eq!(line, told.join(","));
        let share = shape["puzzles"].as_f64().unwrap() / 200.0;
        assert_eq!(shape["share"]["value"].as_f64(), Some(share));
    }
    let planned = good(folder.path(), &["census", "own.txt", "--plan", "--out", "parts", "--json"]);
    assert_eq!(json(&planned.out)["parts"], 1);
    let done = good(folder.path(), &["census", "--parts", "0", "--out", "parts"]);
    assert_eq!(done.out, "{\"parts\":1,\"done\":1,\"skipped\":0,\"rows\":200}\n");
    let joined = good(folder.path(), &["census", "--finish", "--out", "parts", "--json"]);
    let merged = json(&joined.out);
    assert_eq!(merged["shapes"], whole["shapes"]);
    let chart = good(folder.path(), &["chart", "rates", "whole", "--out", "charts", "--json"]);
    for (kind, file) in json(&chart.out).as_object().unwrap() {
        assert!(folder.path().join(file.as_str().unwrap()).is_file(), "{kind}: {file}");
    }
}

#[test]
fn colours_are_for_terminals_that_want_them() {
    let folder = tempfile::tempdir().unwrap();
    good(folder.path(), &["make", "--count", "60", "--seed", "2", "--out", "own.txt"]);
    let text = fs::read_to_string(folder.path().join("own.txt")).unwrap();
    fs::write(folder.path().join("own.txt"), text + "too short\n").unwrap();
    let judge = |out: &str, variables: &[(&str, &str)]| {
        let arguments = ["judge", "own.txt", "--claims", "common-claims", "--out", out];
        let mut command = command(folder.path());
        command.args(arguments).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE");
        let output = command.envs(variables.iter().copied()).output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        let text = |bytes| String::from_utf8(bytes).unwrap().replace(out, "OUT");
        (text(output.stdout), text(output.stderr))
    };
    let coloured = |text: &str| text.contains("\u{1b}[");
    // A pipe is no terminal; CLICOLOR_FORCE (a convention of terminals) makes it one.
    let (plain, warning) = judge("trial-one", &[]);
    assert!(!coloured(&plain) && !coloured(&warning) && warning.starts_with("warning: "));
    let (out, err) = judge("trial-two", &[("CLICOLOR_FORCE", "1")]);
    assert!(coloured(&out) && coloured(&err), "{out}{err}");
    let (out, err) = judge("trial-three", &[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")]);
    assert_eq!((out, err), (plain, warning));
}

/// The first screen of a study of few puzzles says that they are few, and nothing that they can't bear.
#[test]
fn few_puzzles_read_as_few_data() {
    let folder = tempfile::tempdir().unwrap();
    let out = good(folder.path(), &["study", "--count", "300", "--out", "study"]).out;
    let (story, verdicts) = out.split_once("\n\n").unwrap();
    assert!(story.contains("300 puzzles are too few to tell"), "{story}");
    // Which subset is the commonest needs intervals that are clear of each other.
    assert!(!story.contains("commonest"), "{story}");
    let verdicts: Vec<&str> = verdicts.lines().collect();
    let mut few = 0;
    for lines in verdicts.windows(2) {
        let (_, units) = lines[1].split_once("rests on only ").unwrap_or_default();
        let is_few = units.split(' ').next().unwrap().parse::<u32>().is_ok_and(|units| units < 60);
        if is_few || lines[1].trim() == "Too little was found to go by" {
            assert!(lines[0].starts_with("UNDECIDED"), "{lines:?}");
            few += 1;
        }
    }
    assert!(few >= 5, "{out}");
    let word = |word: &str| verdicts.iter().filter(|line| line.starts_with(word)).count();
    assert!(word("UNDECIDED") > word("SUPPORTED") + word("REFUTED") + word("DEPENDS"), "{out}");
    let markdown = fs::read_to_string(folder.path().join("study/report.md")).unwrap();
    for sentence in story.lines() {
        assert!(markdown.contains(sentence), "{sentence}");
    }
}
