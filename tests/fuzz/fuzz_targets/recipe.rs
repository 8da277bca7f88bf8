#![no_main]
//! A recipe speaks of no collection but its own, and what it asks to be made can be made.

use std::collections::BTreeSet;
use std::path::Path;

use libfuzzer_sys::fuzz_target;
use tallyhouse_fuzz::text::{NAME, told};
use tallyhouse_report::study::{Origin, StudyRecipe};

fuzz_target!(|text: &str| {
    let Some(recipe) = told(text, StudyRecipe::parse(NAME, text)) else { return };
    let names: BTreeSet<&str> = recipe.collections.iter().map(|one| one.name.as_str()).collect();
    assert!(!names.is_empty());
    assert_eq!(names.len(), recipe.collections.len());
    for collection in &recipe.collections {
        let origin = &collection.origin;
        assert!(matches!(origin, Origin::Read { .. }) != origin.make_recipe().is_some());
    }
    let asked = [
        recipe.effort.as_ref().map(|effort| effort.collection),
        recipe.yields.as_ref().map(|yields| yields.collection),
        recipe.compare.as_ref().map(|compare| compare.collection),
        recipe.specimens.as_ref().map(|specimens| specimens.collection),
    ];
    assert!(asked.into_iter().flatten().all(|index| index < names.len()));
    let weights = recipe.glance_weights();
    assert_eq!([weights.cell(), weights.place(), weights.try_()], recipe.weights);
    // A comment at the end changes nothing.
    let again = StudyRecipe::parse(NAME, &format!("{text}\n#")).expect("it reads without it");
    assert_eq!(again, recipe);
    drop(again.beside(Path::new("folder/recipe.toml")));
});
