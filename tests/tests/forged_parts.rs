//! Parts of a dataset with other bytes than were written, and seals as if they had been. A process of its
//! own, as it counts panics.

use std::fs;
use std::panic;
use std::sync::atomic::{AtomicUsize, Ordering};

use tallyhouse_census::{Dataset, Settings};
use tallyhouse_collection::{MinimalByDeletion, Silent, Source};
use tallyhouse_tests::forged::seal;

static PANICS: AtomicUsize = AtomicUsize::new(0);

/// The library for Parquet panics at some of them; whoever reads a dataset hears of an error alone.
#[test]
fn parts_with_other_bytes_are_read_or_refused_without_a_panic() {
    panic::set_hook(Box::new(|panic| {
        PANICS.fetch_add(1, Ordering::Relaxed);
        eprintln!("{panic}");
    }));
    let folder = tempfile::tempdir().unwrap();
    let puzzles = MinimalByDeletion { seed: 3 }.puzzles(0..40);
    let text: String = puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect();
    let source = vec![Source::memory("in.txt", text.into_bytes())];
    let out = folder.path().join("census");
    tallyhouse_census::run(&Settings::new(source, out.clone()), &Silent).unwrap();
    let part = out.join("subsets/part-00000000.parquet");
    let good = fs::read(&part).unwrap();
    let (mut read, mut refused, mut caught) = (0, 0, 0);
    for at in 0..good.len() {
        let mut bytes = good.clone();
        bytes[at] ^= 0xff;
        fs::write(&part, bytes).unwrap();
        seal(&out, &part).unwrap();
        match Dataset::open(&out).and_then(|dataset| dataset.each_puzzle(0, &mut |_| ())) {
            Ok(()) => read += 1,
            Err(error) => {
                let error = error.to_string();
                assert!(error.contains("subsets/part-00000000.parquet"), "{at}: {error}");
                refused += 1;
                caught += usize::from(error.contains("it is no Parquet file"));
            }
        }
    }
    assert_eq!(PANICS.load(Ordering::Relaxed), 0);
    assert!(read > 0 && refused > 0 && caught > 0, "{read} {refused} {caught}");
}
