//! Scripts of `tests/browser`, each in a Chromium of its own.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;

use super::yard::{BATCH, FARM, Yard};
use crate::binary::{build_folder, repository};

/// A script about to run against a server.
pub struct Run<'a> {
    yard: &'a Yard,
}

impl<'a> Run<'a> {
    /// Against this one.
    pub fn of(yard: &'a Yard) -> Self {
        Self { yard }
    }

    /// Runs a script to its end; what it finds wrong is told with what it printed.
    pub fn script(&self, name: &str) {
        let target =
            build_folder().parent().expect("a profile's folder lies in the target folder").to_owned();
        let mut node = Command::new("node");
        node.arg(repository().join("tests/browser").join(name));
        node.env("BOARD_MODULES", modules(&target))
            .env("BOARD_PICTURES", target.join("board"))
            .env("BOARD_CHROMIUM", chromium())
            .env("BOARD_ORIGIN", format!("http://{}", self.yard.server.address))
            .env("BOARD_FARM", FARM)
            .env("BOARD_BATCH", BATCH)
            .env("BOARD_EMPTY_FARM", "bare")
            .env("BOARD_FEED", &self.yard.feed)
            .env("BOARD_BATCHES", self.yard.standing.to_string());
        let output = node.output().expect("Node is installed");
        let told = |text: &[u8]| String::from_utf8_lossy(text).into_owned();
        println!("{}", told(&output.stdout));
        assert!(output.status.success(), "{name}: {}{}", told(&output.stdout), told(&output.stderr));
    }
}

/// Where Chromium is.
fn chromium() -> PathBuf {
    let path = std::env::var_os("PATH").expect("there is a PATH");
    let folders = std::env::split_paths(&path);
    let mut found = folders.map(|folder| folder.join("chromium")).filter(|path| path.exists());
    found.next().expect("Chromium is installed")
}

/// A folder with the packages of `tests/browser/package.json`, made on first use and made anew when that changes.
fn modules(target: &Path) -> PathBuf {
    let wanted = fs::read_to_string(repository().join("tests/browser/package.json")).expect("it can be read");
    let folder = target.join("browser");
    let (list, made) = (folder.join("package.json"), folder.join("node_modules/made"));
    let lock = File::create(target.join("browser.lock")).expect("the lock file can be made");
    lock.lock().expect("the lock can be taken");
    if made.exists() && fs::read_to_string(&list).is_ok_and(|list| list == wanted) {
        return folder;
    }
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("the folder can be made");
    fs::write(&list, wanted).expect("the list can be written");
    let mut install = Command::new("npm");
    install.current_dir(&folder).args(["install", "--no-audit", "--no-fund", "--package-lock=false"]);
    install.arg("--ignore-scripts");
    assert!(install.status().expect("npm is installed").success(), "the packages can be installed");
    fs::write(made, "").expect("the mark can be written");
    folder
}
