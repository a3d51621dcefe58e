//! The sheet of `tests/clients`, opened by LibreOffice: it imports the CSV by address and adds up what is ready.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::heaps::{Heaps, days_ago};
use crate::binary::repository;

/// What the file says, and the test puts its own in the place of.
const ADDRESS: &str = "http://127.0.0.1:8300/feeds/bcf_token/readiness.csv";
const DAY: &str = "2026-10-01";

/// A profile of its own for the office, in which links of files in `folder` are updated without asking, and a macro that
/// opens a file as a person would. The sheet itself has none.
fn profile(folder: &Path) {
    let own = repository().join("tests/end_to_end/feeds/office");
    let user = folder.join("profile/user");
    let library = user.join("basic/Standard");
    fs::create_dir_all(&library).expect("folders are made");
    let text = |name: &str| fs::read_to_string(own.join(name)).expect("a file of the profile");
    let trusted = text("registrymodifications.xcu").replace("FOLDER", &folder.display().to_string());
    fs::write(user.join("registrymodifications.xcu"), trusted).expect("a file is written");
    fs::write(user.join("basic/script.xlc"), text("script.xlc")).expect("a file is written");
    for name in ["script.xlb", "Reader.xba"] {
        fs::write(library.join(name), text(name)).expect("a file is written");
    }
}

#[tokio::test]
async fn a_sheet_that_imports_the_csv_by_address_adds_up_what_the_service_does() {
    let heaps = Heaps::new().await;
    let folder = heaps.yard.database.folder.path();
    profile(folder);
    let written = fs::read_to_string(repository().join("tests/clients/ready.fods")).expect("the sheet");
    assert_eq!((written.matches(ADDRESS).count(), written.matches(DAY).count()), (1, 1));
    let by = days_ago(-120);
    let address = format!("http://{}{}/readiness.csv", heaps.yard.server.address, heaps.path);
    fs::write(folder.join("ready.fods"), written.replace(ADDRESS, &address).replace(DAY, &by.to_string()))
        .expect("a file is written");
    let at = |name: &str| format!("file://{}", folder.join(name).display());
    let mut office = Command::new("soffice");
    office.arg(format!("-env:UserInstallation={}", at("profile"))).args([
        "--headless",
        "--norestore",
        "--nologo",
    ]);
    office.arg(format!("macro:///Standard.Reader.Follow(\"{}\",\"{}\")", at("ready.fods"), at("ready.csv")));
    let output = tokio::task::spawn_blocking(move || office.output().expect("LibreOffice is installed"))
        .await
        .expect("it ends");
    let saved = fs::read_to_string(folder.join("ready.csv"))
        .unwrap_or_else(|error| panic!("{error}: {}", String::from_utf8_lossy(&output.stderr)));
    let cells: Vec<Vec<&str>> = saved.lines().map(|line| line.split(',').collect()).collect();
    let mut most: f64 = 0.0;
    for (row, for_use) in [(1, "mulch"), (2, "bed_dressing"), (3, "potting")] {
        let cell: f64 = cells[row][cells[row].len() - 1].parse().unwrap_or_else(|_| panic!("{saved}"));
        let told = heaps.text(&format!("ready_m3?use={for_use}&by={by}")).await;
        let ready_m3: f64 = told.parse().expect("a number");
        assert!((cell - ready_m3).abs() < 5e-4, "{for_use}: {cell} in the sheet, {ready_m3} of the service");
        most = most.max(ready_m3);
    }
    assert!(most > 0.5, "something is ready: {saved}");
}
