//! What stands in `deploy/`, each part held by the program that will read it.

mod build;
mod copies;
mod manifests;
mod proxy;
mod replicas;
mod units;
mod watched;

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

use crate::binary::{self, repository};

on_both! { deploying:
    copies { the_newest_are_kept_and_bring_everything_back, what_fails_costs_no_older_copy }
}

/// A file below `deploy/`.
fn deployed(path: &str) -> PathBuf {
    repository().join("deploy").join(path)
}

/// Runs to the end.
fn run(command: &mut Command) -> Output {
    command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"))
}

/// Standard output and error of a run, as one text.
fn said(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// Runs to the end, expects success, and hands back what was said.
fn succeed(command: &mut Command) -> String {
    let output = run(command);
    assert!(output.status.success(), "{command:?}: {}", said(&output));
    said(&output)
}

/// Runs to the end, expects a failure, and hands back what was said.
fn fail(command: &mut Command) -> String {
    let output = run(command);
    assert!(!output.status.success(), "{command:?}: {}", said(&output));
    said(&output)
}

#[test]
fn every_variable_is_one_that_the_service_reads() {
    let help = succeed(Command::new(binary::path()).args(["serve", "--help"]));
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut folders = vec![deployed("")];
    let mut found = 0;
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("a folder can be read") {
            let path = entry.expect("an entry can be read").path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = fs::read_to_string(&path).expect("text");
            for (at, _) in text.match_indices("BAYCAST_") {
                let name: String = text[at..]
                    .chars()
                    .take_while(|letter| letter.is_ascii_uppercase() || *letter == '_')
                    .collect();
                // What holds a secret may stand in a file of its own (`deploy/container/enter`).
                let read = name.strip_suffix("_FILE").unwrap_or(&name);
                let told = ["=", "]"].map(|end| format!("[env: {read}{end}"));
                assert!(told.iter().any(|told| help.contains(told)), "{name} in {}", path.display());
                found += 1;
            }
        }
    }
    assert!(found > 20, "only {found} variables");
}
