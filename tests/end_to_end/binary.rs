//! The real binary, built once.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The folder of the repository.
pub fn repository() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests' folder has a parent")
}

/// The folder that this test was built into, `target/debug` or `target/release`.
pub fn build_folder() -> PathBuf {
    let test = std::env::current_exe().expect("a test has a path");
    test.ancestors().nth(2).expect("a test lies two folders deep").to_owned()
}

/// Path of the binary, built with this test's own profile into the same target folder.
pub fn path() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(|| {
        let folder = build_folder();
        let mut build = Command::new(env!("CARGO"));
        build.current_dir(repository()).args(["build", "--quiet", "--package", "baycast", "--target-dir"]);
        build.arg(folder.parent().expect("a profile's folder lies in the target folder"));
        if folder.ends_with("release") {
            build.arg("--release");
        }
        // Packages that ask for what Cargo says of the tests' own would be built again, each time.
        for (name, _) in std::env::vars() {
            if ["CARGO_PKG_", "CARGO_MANIFEST_"].iter().any(|own| name.starts_with(own)) {
                build.env_remove(name);
            }
        }
        assert!(build.status().expect("cargo runs").success(), "the binary does not build");
        folder.join("baycast")
    })
}
