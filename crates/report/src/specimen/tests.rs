use std::collections::{BTreeSet, HashSet};
use std::sync::atomic::{AtomicU64, Ordering};

use tallyhouse_board::{CellSet, HouseKind};
use tallyhouse_collection::{MinimalByDeletion, Progress, Source};
use tallyhouse_engine::{QuietPosition, Recorder, WalkOptions, unique_solution, walk};
use tallyhouse_figures::{CellContent, Figure, Theme, Width};

use super::*;
use crate::ReportError;

/// Counts what it is told.
#[derive(Default)]
struct Told(AtomicU64);

impl Progress for Told {
    fn advance(&self, rows: u64) {
        self.0.fetch_add(rows, Ordering::Relaxed);
    }

    fn expect(&self, _rows: u64) {}
}

fn digits(values: &[u8]) -> DigitSet {
    values.iter().copied().filter_map(Digit::new).collect()
}

fn cells(names: &[&str]) -> Vec<Cell> {
    names.iter().map(|name| name.parse().unwrap()).collect()
}

/// A board blank but for four givens of row 4 and the candidates of its open cells.
fn row_four(open: [(usize, &[u8]); 5], naked: &[usize]) -> Result<Specimen, ReportError> {
    let mut line = vec![b'.'; 81];
    let missing = open.iter().fold(DigitSet::EMPTY, |all, (_, values)| all | digits(values));
    let closed = (1..=9).filter(|column| open.iter().all(|(other, _)| other != column));
    for (column, digit) in closed.zip(missing.complement().iter()) {
        line[27 + column - 1] = digit.char() as u8;
    }
    let puzzle: Puzzle = std::str::from_utf8(&line).unwrap().parse().unwrap();
    let mut position = Position::new(&puzzle);
    for (column, values) in open {
        position.remove(Cell::at(3, column - 1), digits(values).complement());
    }
    let naked = naked.iter().map(|column| column - 1).collect();
    let origin = Origin { source: "by hand".to_owned(), ..Origin::default() };
    Specimen::of_split(origin, puzzle, 0, position, House::row(3), naked)
}

const PAIR_AND_TRIPLE: [(usize, &[u8]); 5] =
    [(2, &[3, 8]), (4, &[1, 6]), (5, &[1, 3, 6, 8, 9]), (7, &[3, 8]), (9, &[1, 6, 9])];

pub(crate) fn pair_and_triple() -> Specimen {
    row_four(PAIR_AND_TRIPLE, &[2, 7]).unwrap()
}

#[test]
fn a_split_is_described_from_both_sides() {
    let specimen = pair_and_triple();
    assert_eq!(
        specimen.description(),
        "Five cells of row 4 are open, and r4c2 and r4c7 hold only 3 and 8: a naked pair. So 3 and 8 \
         leave r4c5. Seen from the other side, 1, 6 and 9 have no place but r4c4, r4c5 and r4c9: a \
         hidden triple."
    );
    assert_eq!(
        specimen.clone().led_by(Some(Side::Hidden)).description(),
        "Five cells of row 4 are open, and 1, 6 and 9 have no place there but r4c4, r4c5 and r4c9: a \
         hidden triple. They fill these three cells, so 3 and 8 leave r4c5. Seen from the other side, \
         r4c2 and r4c7 hold only 3 and 8: a naked pair."
    );
    assert_eq!(specimen.follow_up(), None);
    assert_eq!(specimen.title(), "A naked pair in row 4");
    assert_eq!(specimen.split().eliminations, [("r4c5".parse().unwrap(), digits(&[3, 8]))]);
    assert_eq!(specimen.split().naked.iter().collect::<Vec<_>>(), cells(&["r4c2", "r4c7"]));
    assert_eq!(specimen.split().hidden_digits, digits(&[1, 6, 9]));
    let parts = ScoreParts {
        other_subsets: 0,
        eliminations: 2,
        candidates_to_read: 2 + 2 + 5 + 2 + 3,
        nothing_easier: true,
        leads_to_placement: false,
    };
    assert_eq!((specimen.parts, specimen.score()), (parts, 100 + 4 - 14 + 20));
}

#[test]
fn digits_that_leave_different_cells_and_what_follows_are_told_apart() {
    let open: [(usize, &[u8]); 5] =
        [(2, &[3, 8]), (4, &[3, 6]), (5, &[1, 3, 8, 9]), (7, &[3, 8]), (9, &[1, 6, 9])];
    let specimen = row_four(open, &[2, 7]).unwrap();
    let description = specimen.description();
    assert!(
        description.contains(": a naked pair. So 3 leaves r4c4 and r4c5, and 8 leaves r4c5. Seen"),
        "{description}"
    );
    assert_eq!(specimen.follow_up().as_deref(), Some("After that, r4c4 has only 6 left."));
    assert!(specimen.parts.leads_to_placement);
    let (single, naked) = specimen.next_single().unwrap();
    assert_eq!(
        (single.cell, single.digit, naked),
        (cells(&["r4c4"])[0], digits(&[6]).only().unwrap(), true)
    );
}

#[test]
fn one_cell_and_one_digit_take_the_singular() {
    let open: [(usize, &[u8]); 5] =
        [(2, &[3]), (4, &[1, 6]), (5, &[1, 3, 6]), (7, &[1, 6, 8, 9]), (9, &[1, 6, 8, 9])];
    let single = row_four(open, &[2]).unwrap().description();
    assert!(single.contains("r4c2 holds only 3: a naked single. So 3 leaves r4c5. "), "{single}");
    assert!(single.contains("have no place but r4c4, r4c5, r4c7 and r4c9: a hidden quad."));
    let open: [(usize, &[u8]); 5] =
        [(2, &[3, 8]), (4, &[3, 6]), (5, &[1, 3, 8, 9]), (7, &[6, 8, 9]), (9, &[3, 6, 9])];
    let hidden = row_four(open, &[2, 4, 7, 9]).unwrap();
    assert!(
        hidden.description().contains(
            "and 1 has no place there but r4c5: a hidden single. It fills this cell, so "
        )
    );
    assert!(!hidden.parts.nothing_easier, "there was a single already");
}

#[test]
fn what_is_no_split_is_refused_with_a_reason() {
    let error = row_four(PAIR_AND_TRIPLE, &[2, 4]).unwrap_err().to_string();
    assert!(error.starts_with("r4c2, r4c4 of row 4 make no split with eliminations: expected"));
    let specimen = row_four(PAIR_AND_TRIPLE, &[2, 7]).unwrap();
    let other = format!("5{}", ".".repeat(80)).parse().unwrap();
    let error = Specimen::of_split(
        Origin::default(),
        other,
        0,
        specimen.position,
        House::row(3),
        specimen.subset.cells,
    );
    assert_eq!(
        error.unwrap_err().to_string(),
        "the position does not go with the puzzle: expected the given 5 in r1c1"
    );
}

fn search_made(count: u64, wanted: &Wanted, most: usize) -> Found {
    find(&Puzzles::Made { seed: 11, count }, wanted, most, &Told::default()).unwrap()
}

/// The board states of the simple walk.
struct States(Vec<[u16; 81]>);

impl Recorder for States {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.0.push((position.states)());
    }
}

/// Checks a specimen from the definitions, and against the simple walk.
fn check_slowly(specimen: &Specimen) {
    let Specimen { position, puzzle, subset, .. } = specimen;
    let mut states = States(Vec::new());
    walk(puzzle, &WalkOptions::default(), &mut states);
    assert_eq!(position.states(), states.0[usize::from(specimen.quiet_position)]);

    let solution = unique_solution(puzzle).unwrap();
    for (cell, digit) in puzzle.givens() {
        assert_eq!(position.fixed(cell), Some(digit));
    }
    for cell in position.open_cells().iter() {
        assert!(position.candidates(cell).contains(solution.get(cell).unwrap()));
        let seen: DigitSet = cell.peers().iter().filter_map(|peer| position.fixed(peer)).collect();
        assert!((position.candidates(cell) & seen).is_empty());
    }

    let union = |cells: CellSet| {
        cells.iter().fold(DigitSet::EMPTY, |all, cell| all | position.candidates(cell))
    };
    let (naked, hidden) = (specimen.split().naked, specimen.split().hidden);
    assert_eq!(union(naked), specimen.split().naked_digits);
    assert_eq!(union(naked).len(), naked.len());
    assert_eq!(naked | hidden, position.open_cells() & specimen.house().cell_set());
    assert_eq!(specimen.split().hidden_digits.len(), hidden.len());
    let removed = specimen.split().eliminations;
    assert_eq!(
        removed.iter().map(|(_, digits)| digits.len()).sum::<usize>(),
        usize::from(specimen.parts.eliminations)
    );
    for &(cell, digits) in &removed {
        assert!(hidden.contains(cell));
        assert!(!digits.contains(solution.get(cell).unwrap()));
    }
    let mut after = position.clone();
    removed.iter().for_each(|&(cell, digits)| {
        after.remove(cell, digits);
    });
    assert!((union_of(&after, hidden) & specimen.split().naked_digits).is_empty());

    let by_hand = Specimen::of_split(
        specimen.origin.clone(),
        *puzzle,
        specimen.quiet_position,
        position.clone(),
        specimen.house(),
        subset.cells,
    );
    assert_eq!(&by_hand.unwrap(), specimen);
}

fn union_of(position: &Position, cells: CellSet) -> DigitSet {
    cells.iter().fold(DigitSet::EMPTY, |all, cell| all | position.candidates(cell))
}

#[test]
fn every_specimen_stands_up_to_a_slow_check() {
    let found = search_made(300, &Wanted::default(), 400);
    assert_eq!((found.specimens.len(), found.examined.puzzles), (400, 300));
    found.specimens.iter().for_each(check_slowly);
    let by_score = found.specimens.iter().map(|s| (-s.score(), s.origin.number, s.quiet_position));
    assert!(by_score.is_sorted());
}

/// All splits of a collection that fit, straight from the simple walk.
fn counted_by_walking(count: u64, wanted: &Wanted) -> usize {
    struct Fitting<'a>(&'a Wanted, usize);
    impl Recorder for Fitting<'_> {
        fn quiet_position(&mut self, position: &QuietPosition<'_>) {
            let fits = |subset: &&Subset| self.0.fits(position.number, subset);
            self.1 += position.subsets.iter().filter(fits).count();
        }
    }
    let mut fitting = Fitting(wanted, 0);
    for puzzle in (MinimalByDeletion { seed: 11 }).puzzles(0..count) {
        walk(&puzzle, &WalkOptions::default(), &mut fitting);
    }
    fitting.1
}

#[test]
fn all_that_fits_is_found_and_nothing_else() {
    let wishes = [
        Wanted { proper: ProperSide::Hidden, ..Wanted::default() },
        Wanted { open: Some(7..=9), least_eliminations: 6, ..Wanted::default() },
        Wanted { nothing_easier: true, quiet_position: Some(0), ..Wanted::default() },
        Wanted { hidden: Some(2..=2), live_open: Some(5..=6), ..Wanted::default() },
    ];
    for wanted in wishes {
        let found = search_made(300, &wanted, 100_000).specimens;
        assert!(!found.is_empty());
        assert!(found.iter().all(|s| wanted.fits(s.quiet_position, &s.subset)), "{wanted}");
        assert_eq!(found.len(), counted_by_walking(300, &wanted), "{wanted}");
        let first: Vec<_> = search_made(300, &wanted, 3).specimens;
        assert_eq!(first, found[..3], "the best stay the best");
    }
}

#[test]
fn nothing_easier_means_that_no_earlier_look_finds_anything() {
    let found = search_made(100, &Wanted::default(), 100_000).specimens;
    let ladder = Order::ladder();
    let mut seen = HashSet::new();
    for specimen in &found {
        let own = ladder.looks().iter().position(|look| look.finds(&specimen.subset));
        let nothing = own.is_some_and(|own| {
            House::all().all(|house| {
                let splits = HouseSplits::of_house(&specimen.position, house).unwrap();
                let found = splits
                    .subsets(house)
                    .any(|subset| ladder.looks()[..own].iter().any(|look| look.finds(&subset)));
                !found
            })
        });
        assert_eq!(specimen.parts.nothing_easier, nothing);
        seen.insert(nothing);
    }
    assert_eq!(seen.len(), 2);
}

fn lines(count: u64) -> String {
    let puzzles = MinimalByDeletion { seed: 11 }.puzzles(0..count);
    puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect()
}

#[test]
fn threads_do_not_matter_and_read_puzzles_give_what_made_ones_give() {
    let wanted = Wanted { proper: ProperSide::Either, ..Wanted::default() };
    let on_threads = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let puzzles = Puzzles::Made { seed: 11, count: 1500 };
            let gallery = gallery(&puzzles, &wanted, &Told::default()).unwrap();
            (search_made(1500, &wanted, 20), page(&gallery))
        })
    };
    let (found, page) = on_threads(1);
    for threads in [2, 5] {
        assert!(on_threads(threads) == (found.clone(), page.clone()), "{threads} threads");
    }
    let told = Told::default();
    let source = Source::memory("made.txt", lines(1500).into_bytes());
    let read = find(&Puzzles::Sources(vec![source]), &wanted, 20, &told).unwrap();
    assert_eq!((read.examined.puzzles, told.0.into_inner()), (1500, 1500));
    for (read, made) in read.specimens.iter().zip(&found.specimens) {
        assert_eq!(read.origin.line, Some(made.origin.number + 1));
        assert_eq!(&Specimen { origin: made.origin.clone(), ..read.clone() }, made);
    }
}

#[test]
fn making_stops_when_enough_is_found_or_at_the_limit() {
    let told = Told::default();
    let common = Wanted::shape(Shape::new(6, 2).unwrap());
    let found = find_by_making(11, &common, 5, 50_000, &told).unwrap();
    assert_eq!((found.specimens.len(), found.examined.puzzles), (5, 4096));
    assert_eq!(told.0.into_inner(), 4096);
    assert_eq!(found.specimens, search_made(4096, &common, 5).specimens);
    let eager = Wanted { least_eliminations: 60, ..Wanted::default() };
    let found = find_by_making(11, &eager, 5, 5000, &Told::default()).unwrap();
    assert_eq!((found.specimens.len(), found.examined.puzzles), (0, 5000));
}

#[test]
fn repeats_show_once_and_bad_rows_are_told() {
    let text = format!("{}not a puzzle\n{}{}\n", lines(3), lines(3), ".".repeat(81));
    let source = Source::memory("twice.txt", text.into_bytes());
    let all = Wanted::default();
    let folder = tempfile::tempdir().unwrap();
    let told = Told::default();
    let hearing = Hearing { progress: &told, rejects: Some(folder.path()) };
    let found = find(&Puzzles::Sources(vec![source]), &all, 1000, hearing).unwrap();
    let rejects = std::fs::read_to_string(folder.path().join("rejects.csv")).unwrap();
    let rejects: Vec<&str> = rejects.lines().collect();
    assert_eq!((rejects.len(), rejects[0]), (3, "file,line,text,reason"));
    assert!(rejects[1].starts_with("twice.txt,4,not a puzzle,"), "{rejects:?}");
    assert!(rejects[2].ends_with("several solutions: expected exactly one"), "{rejects:?}");
    assert_eq!((found.examined.puzzles, found.examined.rejected), (6, 2));
    let first = found.examined.first_reject.unwrap();
    assert!(first.starts_with("twice.txt, line 4: "), "{first}");
    assert_eq!(found.examined.walk, "the full ladder, all finds of a look together");
    assert_eq!(found.specimens.len(), counted_by_walking(3, &all));
    assert!(found.specimens.iter().all(|s| s.origin.number < 3));

    let bad = Source::memory("bad.txt", &b"nothing\n"[..]);
    let error = find(&Puzzles::Sources(vec![bad]), &all, 1, &Told::default()).unwrap_err();
    let error = error.to_string();
    assert!(error.starts_with("none of the 1 rows is a valid puzzle; the first: bad.txt, line 1"));
    let empty = Source::memory("empty.txt", &b""[..]);
    let error = find(&Puzzles::Sources(vec![empty]), &all, 1, &Told::default()).unwrap_err();
    assert!(error.to_string().starts_with("no puzzles in empty.txt"), "{error}");
}

#[test]
fn figures_show_the_split_and_tell_givens_from_placed_digits() {
    let wanted = Wanted { house_kind: Some(HouseKind::Box), ..Wanted::default() };
    let specimen = &search_made(200, &wanted, 1).specimens[0];
    let diagram = specimen.diagram();
    for cell in Cell::all() {
        let content = diagram.cells[cell.index()];
        match specimen.puzzle.get(cell) {
            Some(digit) => assert_eq!(content, CellContent::Given(digit)),
            None if specimen.position.open_cells().contains(cell) => {
                assert_eq!(content, CellContent::Marks(specimen.position.candidates(cell)));
            }
            None => assert!(matches!(content, CellContent::Placed(_))),
        }
    }
    for &width in Width::ALL {
        assert!(diagram.draw(Theme::Light, width).unwrap().svg.contains(&specimen.title()));
        assert!(specimen.strip().draw(Theme::Light, width).is_ok());
    }
    assert!(specimen.strip().alt.starts_with("The open cells of box "));
}

/// Returns the page of a gallery.
fn page(gallery: &Gallery) -> String {
    let folder = tempfile::tempdir().unwrap();
    gallery.write(folder.path(), &Drawing::default(), &Told::default()).unwrap();
    std::fs::read_to_string(folder.path().join("gallery.html")).unwrap()
}

/// The values of an attribute in a page.
fn attributes<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let start = format!(" {name}=\"");
    page.split(&start).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

#[test]
fn a_gallery_has_one_of_each_shape_and_its_links_lead_somewhere() {
    let puzzles = Puzzles::Made { seed: 11, count: 400 };
    let all = gallery(&puzzles, &Wanted::default(), &Told::default()).unwrap();
    let found = search_made(400, &Wanted::default(), 100_000).specimens;
    let shapes: BTreeSet<Shape> = found.iter().map(Specimen::shape).collect();
    assert_eq!(
        all.specimens.iter().map(Specimen::shape).collect::<Vec<_>>(),
        Vec::from_iter(shapes)
    );
    for specimen in &all.specimens {
        assert_eq!(found.iter().find(|s| s.shape() == specimen.shape()), Some(specimen));
    }
    assert_eq!(all.missing().len() + all.specimens.len(), Shape::all_quiet().count());

    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("gallery");
    all.write(&folder, &Drawing::default(), &Told::default()).unwrap();
    let page = std::fs::read_to_string(folder.join("gallery.html")).unwrap();
    let ids = attributes(&page, "id");
    let unique: HashSet<_> = ids.iter().collect();
    assert_eq!(unique.len(), ids.len(), "an id stands twice");
    let links = attributes(&page, "href");
    // To the content, the four parts of the page and two tables; each specimen from the contents, and
    // its eight files.
    assert_eq!(links.len(), 5 + 2 + 9 * all.specimens.len());
    for link in links {
        match link.strip_prefix('#') {
            Some(id) => assert!(unique.contains(&id), "{link}"),
            None => assert!(folder.join(link).is_file(), "{link}"),
        }
    }
    let markdown = std::fs::read_to_string(folder.join("gallery.md")).unwrap();
    let links: Vec<_> =
        markdown.split("](./").skip(1).filter_map(|rest| rest.split(')').next()).collect();
    // The board of each is shown besides.
    assert_eq!(links.len(), 2 + 9 * all.specimens.len());
    assert!(links.iter().all(|link| folder.join(link).is_file()), "{links:?}");
    let figures = std::fs::read_dir(folder.join("figures")).unwrap();
    assert_eq!(figures.count(), 8 * all.specimens.len());

    let mut table = csv::Reader::from_path(folder.join("specimens.csv")).unwrap();
    let header = table.headers().unwrap().clone();
    let line = header.iter().position(|name| name == "line").unwrap();
    let rows: Vec<String> = table.records().map(|row| row.unwrap()[line].to_owned()).collect();
    assert_eq!(rows, all.specimens.iter().map(|s| s.puzzle.to_string()).collect::<Vec<_>>());
    let json = std::fs::read(folder.join("specimens.json")).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(json["examined"]["puzzles"], 400);
    for (record, specimen) in json["specimens"].as_array().unwrap().iter().zip(&all.specimens) {
        assert_eq!(record["score"], specimen.score());
        assert_eq!(record.as_object().unwrap().len(), header.len());
    }
}

#[test]
fn labels_and_names_with_markup_stay_text() {
    let text: String =
        lines(60).lines().map(|line| format!("{line} <b onclick='x'>&\"\n")).collect();
    let source = Source::memory("<script>alert(1)</script>", text.into_bytes());
    let puzzles = Puzzles::Sources(vec![source]);
    let page = gallery(&puzzles, &Wanted::default(), &Told::default()).unwrap();
    let page = self::page(&page);
    assert!(!page.contains("<script>alert") && !page.contains("<b onclick"), "markup came through");
    assert!(page.contains("&lt;script&gt;alert(1)&lt;") && page.contains("&lt;b onclick="));
    assert_eq!(page.matches("<figure ").count(), page.matches("</figure>").count());
}
