//! Texts that the fuzzer begins with, and those that it once found fault with, put to what it puts them to.

use std::fs;
use std::panic::catch_unwind;

use crate::binary::repository;
use crate::fuzzed::TARGETS;

#[test]
fn every_seed_is_read_or_refused_and_nothing_worse() {
    let folder = repository().join("tests/fuzz");
    let mut counts = Vec::new();
    for (target, ask) in TARGETS {
        let mut count = 0;
        for seed in fs::read_dir(folder.join("seeds").join(target)).expect("a folder of seeds") {
            let path = seed.expect("a seed").path();
            let text = fs::read(&path).expect("a seed can be read");
            assert!(catch_unwind(|| ask(&text)).is_ok(), "{}", path.display());
            count += 1;
        }
        counts.push((target, count));
    }
    assert!(counts.iter().all(|(_, count)| *count >= 5), "{counts:?}");
}

#[test]
fn every_target_is_fuzzed_and_has_seeds() {
    let folder = repository().join("tests/fuzz");
    let names = |below: &str| {
        let files = fs::read_dir(folder.join(below)).expect("a folder");
        let stem = |path: std::path::PathBuf| path.file_stem().map(|own| own.to_string_lossy().into_owned());
        let mut names: Vec<String> = files.filter_map(|file| stem(file.expect("a file").path())).collect();
        names.sort();
        names
    };
    let known = TARGETS.map(|(target, _)| target);
    assert_eq!(names("fuzz_targets"), known);
    assert_eq!(names("seeds"), known);
}
