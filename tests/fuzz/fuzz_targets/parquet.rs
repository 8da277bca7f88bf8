#![no_main]
//! A part of a dataset with any bytes in it is read or refused by its name.

use std::collections::BTreeSet;
use std::panic;
use std::sync::{LazyLock, Mutex, PoisonError};

use libfuzzer_sys::fuzz_target;
use tallyhouse_census::CensusError;
use tallyhouse_fuzz::dataset::{Forged, PARTS, read_all};

static FORGED: LazyLock<Forged> = LazyLock::new(Forged::new);
static TOLD: Mutex<BTreeSet<String>> = Mutex::new(BTreeSet::new());

fuzz_target!(
    init: {
        // The library of dataframes may panic, and is caught where it does; what is not caught ends the
        // run all the same. Each place is told once.
        panic::set_hook(Box::new(|panic| {
            let place = panic.location().map(ToString::to_string).unwrap_or_default();
            let mut told = TOLD.lock().unwrap_or_else(PoisonError::into_inner);
            if told.insert(place) {
                eprintln!("{panic}");
            }
        }));
    },
    |bytes: &[u8]| {
        let forged = &*FORGED;
        for part in PARTS {
            forged.put(part, bytes);
            match read_all(forged.folder()) {
                Ok(_) => {}
                Err(CensusError::Damaged { path, reason }) => {
                    assert!(path.starts_with(forged.folder()) && !reason.is_empty());
                }
                Err(error) => panic!("{part}: {error}"),
            }
        }
    }
);
