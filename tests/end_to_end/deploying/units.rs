//! systemd's units, held by systemd's own reader.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::{deployed, fail, succeed};
use crate::binary;
use crate::databases::Folder;

const UNITS: [&str; 3] = ["baycast.service", "baycast-backup.service", "baycast-backup.timer"];
/// Most exposure that systemd may find, in tenths: 0 is none, 100 is all of it.
const MOST_EXPOSED: &str = "--threshold=11";

/// A machine's files with the units in their places, and what they start.
fn installed() -> Folder {
    let root = Folder::new("baycast-units");
    let within = |path: &str| root.path().join(path);
    let folders =
        ["bin", "usr/lib/systemd/system", "etc/systemd/system", "usr/local/bin", "usr/local/lib/baycast"];
    for folder in folders {
        fs::create_dir_all(within(folder)).expect("a folder");
    }
    let own = ["/usr/lib/systemd/system", "/lib/systemd/system"];
    let own = own.iter().find(|path| Path::new(path).join("sysinit.target").exists());
    for entry in fs::read_dir(own.expect("systemd is installed")).expect("its units").flatten() {
        if entry.path().is_file() {
            fs::copy(entry.path(), within("usr/lib/systemd/system").join(entry.file_name())).expect("a unit");
        }
    }
    for unit in UNITS {
        fs::copy(deployed("systemd").join(unit), within("etc/systemd/system").join(unit)).expect("a unit");
    }
    fs::copy("/bin/sh", within("bin/sh")).expect("a shell");
    fs::copy(binary::path(), within("usr/local/bin/baycast")).expect("the binary");
    fs::copy(deployed("backup"), within("usr/local/lib/baycast/backup")).expect("the script");
    root
}

fn analyze(root: &Folder, arguments: &[&str]) -> Command {
    let mut command = Command::new("systemd-analyze");
    command.args(arguments).arg(format!("--root={}", root.path().display()));
    command
}

#[test]
fn systemd_takes_every_line_of_them() {
    let root = installed();
    let verify = |root: &Folder| {
        let mut command = analyze(root, &["verify", "--man=no"]);
        command.args(UNITS);
        command
    };
    assert_eq!(succeed(&mut verify(&root)), "", "nothing to complain of");

    // And would say so if it did not.
    let unit = root.path().join("etc/systemd/system/baycast.service");
    let text = fs::read_to_string(&unit).expect("the unit");
    fs::write(&unit, text.replace("ProtectHome=yes", "ProtectHomes=yes")).expect("the unit");
    assert!(succeed(&mut verify(&root)).contains("Unknown key"));
    fs::write(&unit, text).expect("the unit");
    fs::remove_file(root.path().join("usr/local/bin/baycast")).expect("the binary");
    assert!(fail(&mut verify(&root)).contains("/usr/local/bin/baycast"));
}

#[test]
fn they_are_shut_in() {
    let root = installed();
    for unit in UNITS.iter().filter(|unit| unit.ends_with(".service")) {
        succeed(&mut analyze(&root, &["security", "--offline=true", MOST_EXPOSED, unit]));
        let path = root.path().join("etc/systemd/system").join(unit);
        let text = fs::read_to_string(&path).expect("the unit");
        fs::write(&path, text.replace("SystemCallFilter=", "#")).expect("the unit");
        fail(&mut analyze(&root, &["security", "--offline=true", MOST_EXPOSED, unit]));
    }
}
