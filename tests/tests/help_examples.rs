//! The examples in the help of each command run as they stand, in the order in which they stand.

use std::fs;
use std::path::Path;

use tallyhouse_tests::command::{COMMANDS, quicker, run, run_line};
use tallyhouse_tests::simulated;

const RULEBOOK: &str = "name = \"mine\"\ntitle = \"Mine\"\nsource = \"me\"\n[[look]]\nfind = \"naked 1\"\n\
     [[look]]\nfind = \"hidden 1\"\n[[look]]\nfind = \"naked 2\"\n";

const RECIPE: &str = "name = \"mine\"\ntitle = \"Mine\"\n[[collection]]\nname = \"own\"\n\
                      title = \"Own\"\nfiles = [\"puzzles.txt\"]\n[charts]\nkinds = [\"rates\"]\n";

/// Prepares what the examples read, but for what they write themselves.
fn prepare(folder: &Path, examples: &[String]) {
    let writes = |name: &str| {
        let ends = ["--out", "-o"].map(|option| format!("{option} {name}"));
        examples
            .iter()
            .any(|line| ends.iter().any(|end| format!("{line} ").contains(&format!("{end} "))))
    };
    let good = |line: &str| {
        let ran = run_line(folder, line);
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
    };
    let at = |name: &str| folder.join(name);
    if writes("puzzles.txt") {
        return;
    }
    // Each has a quiet position.
    good("tallyhouse make --count 100 --seed 4 --needs-subset -o puzzles.txt");
    for name in ["magazine.txt", "a.txt"] {
        fs::copy(at("puzzles.txt"), at(name)).unwrap();
    }
    good("tallyhouse make --count 20 --seed 5 -o b.txt");
    let puzzles = fs::read_to_string(at("puzzles.txt")).unwrap();
    let rows: Vec<&str> = puzzles.lines().filter(|line| !line.starts_with('#')).collect();
    fs::write(at("list.csv"), format!("grid\n{}\n", rows.join("\n"))).unwrap();
    good("gzip < list.csv > forum.csv.gz");
    fs::write(at("my-rulebook.toml"), RULEBOOK).unwrap();
    fs::write(at("my-recipe.toml"), RECIPE).unwrap();
    if !writes("worksheet") {
        simulated::copy_to(folder, "times.csv", "worksheet/items.csv");
    }
    fs::create_dir_all(at(".local/share/bash-completion/completions")).unwrap();
    for (name, line) in [
        ("collection", "tallyhouse -q collect puzzles.txt -o collection"),
        ("census", "tallyhouse -q census puzzles.txt -o census"),
        ("other-census", "tallyhouse -q census puzzles.txt --intersections -o other-census"),
        ("yields", "tallyhouse -q yields puzzles.txt -o yields"),
        ("card", "tallyhouse -q card puzzles.txt -o card"),
        ("trial", "tallyhouse -q judge puzzles.txt --rulebook short-list -o trial"),
    ] {
        if !writes(name) {
            good(line);
        }
    }
}

#[test]
fn every_example_runs() {
    let folder = tempfile::tempdir().unwrap();
    let all = run(folder.path(), &["--help"]).out;
    let listed = all.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed: Vec<&str> = listed
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert_eq!(listed, COMMANDS);
    for command in COMMANDS {
        let folder = tempfile::tempdir().unwrap();
        let help = run(folder.path(), &[command, "--help"]).out;
        let examples = help.lines().map(str::trim).filter(|line| line.starts_with("tallyhouse "));
        let examples: Vec<String> = examples.map(quicker).collect();
        assert!(!examples.is_empty(), "{command} has no example");
        prepare(folder.path(), &examples);
        for example in &examples {
            let ran = run_line(folder.path(), example);
            assert_eq!(ran.code, Some(0), "{example}: {ran:?}");
        }
    }
}
