//! What stands in `deploy/`, each part held by the program that will read it.

mod build;
mod copies;
mod manifests;
mod proxy;
mod replicas;
mod units;
mod watched;

use std::path::PathBuf;
use std::process::{Command, Output};

use crate::binary::repository;

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
