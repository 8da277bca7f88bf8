//! The card against the verdicts that it goes by.

use tallyhouse_analysis::{Card, JudgeReport, NOT_WORTH_IT, ReaderFile, judge};
use tallyhouse_census::HouseRate;
use tallyhouse_collection::{MinimalByDeletion, Silent, Source};
use tallyhouse_engine::Shape;
use tallyhouse_stats::{Decision, Level};
use tallyhouse_tests::command::run;
use tallyhouse_words::Advice;

fn puzzles(count: u64) -> String {
    let lines = |index| MinimalByDeletion { seed: 71 }.puzzle(index).to_string() + "\n";
    (0..count).map(lines).collect()
}

fn trial(count: u64) -> JudgeReport {
    let text = puzzles(count);
    let readers = ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap()).collect();
    let folder = tempfile::tempdir().unwrap();
    let sources = vec![Source::memory("memory", text.into_bytes())];
    let out = folder.path().join("trial");
    judge(&Card::trial(sources, readers, Level::default(), out).unwrap(), &Silent).unwrap()
}

#[test]
fn a_card_says_what_the_jury_says() {
    let report = trial(1500);
    let card = Card::of(&report, NOT_WORTH_IT);
    assert_eq!((card.puzzles, card.shapes.len()), (1500, 21));
    let all: Vec<Shape> = Shape::all_quiet().collect();
    let mut advised = [0; 5];
    for row in &card.shapes {
        let (open, naked) = (row.shape.open, row.shape.naked);
        assert!(all.iter().any(|shape| (shape.open(), shape.naked()) == (open, naked)));
        let verdict = report.verdicts.iter();
        let verdict =
            verdict.clone().find(|v| v.claim == format!("{open}-open-naked-{naked}")).unwrap();
        let prices = verdict.jury.iter().map(|juror| {
            let looks = juror.prices[0].looks.iter().map(|look| look.price);
            let cheaper =
                looks.clone().filter_map(|price| price.value).fold(f64::INFINITY, f64::min);
            (cheaper, looks.map(|price| price.low.unwrap_or(0.0)).fold(f64::INFINITY, f64::min))
        });
        let prices: Vec<(f64, f64)> = prices.collect();
        assert_eq!(prices.len(), 7, "three readers in every house, four where the look is due");
        let expected = match verdict.decision {
            _ if prices.iter().all(|(_, low)| *low > NOT_WORTH_IT) => Advice::Neither,
            Decision::Supported | Decision::Certain(true) => Advice::Naked,
            Decision::Refuted | Decision::Certain(false) => Advice::Hidden,
            Decision::Depends => Advice::Depends,
            _ => Advice::Undecided,
        };
        assert_eq!(row.advice, expected, "{open} {naked}");
        advised[expected as usize] += 1;
        if let Some([least, most]) = row.price {
            let has = |end: f64| prices.iter().any(|(price, _)| *price == end);
            let [least, most] = [least, most].map(|price| price.value.unwrap());
            assert!(has(least) && has(most));
            assert!(prices.iter().all(|(price, _)| (least..=most).contains(price)));
        }
        let above = prices.iter().map(|(_, low)| *low).fold(f64::INFINITY, f64::min);
        assert_eq!(row.price_above.unwrap_or(0.0), above, "{open} {naked}");
        let lost = report.left_out.iter().find(|s| (s.open, s.naked) == (open, naked)).unwrap();
        assert_eq!(row.lost.value, lost.short_share.map(|share| share.value));
    }
    assert!(advised[..3].iter().all(|count| *count > 0), "{advised:?}");
    // Within one open count the commonest comes first.
    let open_and_share = card.shapes.windows(2).all(|pair| {
        let [a, b] = [&pair[0], &pair[1]].map(|row| (row.shape.open, row.often.value.unwrap()));
        a.0 < b.0 || a.0 == b.0 && a.1 >= b.1
    });
    assert!(open_and_share);
}

/// How often a shape is there is said by one number, wherever it is said.
#[test]
fn a_card_counts_houses_as_a_census_does() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("in.txt"), puzzles(1500)).unwrap();
    let ran = run(folder.path(), &["census", "in.txt", "-o", "census", "--quiet"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let rates = HouseRate::of_dataset(&folder.path().join("census")).unwrap();
    for row in Card::of(&trial(1500), NOT_WORTH_IT).shapes {
        let rate = HouseRate::overall(&rates, row.shape.open, row.shape.naked).unwrap();
        assert_eq!(row.often, rate.share, "{:?}", row.shape);
    }
}

#[test]
fn few_puzzles_decide_little() {
    let card = Card::of(&trial(20), NOT_WORTH_IT);
    let undecided = card.shapes.iter().filter(|row| row.advice == Advice::Undecided).count();
    assert!(undecided > 10, "{undecided}");
}

#[test]
fn what_is_said_of_rejected_rows_lies_where_it_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let write = |text: &str| std::fs::write(folder.path().join("in.txt"), text).unwrap();
    let listed = |words: &str| {
        let (_, path) = words.trim_end().rsplit_once(' ').unwrap();
        folder.path().join(path.trim_end_matches('.')).is_file()
    };
    write("too short\n");
    let none = run(folder.path(), &["card", "in.txt", "-o", "none"]);
    assert_eq!(none.code, Some(1), "{none:?}");
    assert!(none.err.contains("all are listed in none/rejects.csv"), "{none:?}");
    assert!(listed(&none.err), "{none:?}");
    write(&(MinimalByDeletion { seed: 72 }.puzzle(0).to_string() + "\ntoo short\n"));
    let some = run(folder.path(), &["card", "in.txt", "-o", "some"]);
    assert_eq!(some.code, Some(0), "{some:?}");
    assert!(some.err.contains("some/rejects.csv"), "{some:?}");
    assert!(folder.path().join("some/rejects.csv").is_file());
}
