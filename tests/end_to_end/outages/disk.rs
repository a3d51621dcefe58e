//! A small disk of a server's own: a file system in memory that only it sees.
//!
//! Root mounts it in a name space of mounts; anyone else in one of users too, which the system must allow.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::Command;

use crate::binary;
use crate::server::Server;

/// Mounts a disk of a size at a place, prepares it as told, and becomes the server there.
const SCRIPT: &str = "place=$1 size=$2 prepare=$3 && shift 3 && mount -t tmpfs -o size=\"$size\" none \"$place\" \
                      && eval \"$prepare\" && exec \"$@\"";

/// Name of the file that fills it.
const BALLAST: &str = "ballast";

/// The command that serves from records on such a disk, mounted at `place`; `prepare` is run in a shell before.
pub fn serving(place: &str, size: &str, prepare: &str) -> Command {
    let mut command = Command::new("unshare");
    command.args([if is_root() { "-m" } else { "-rm" }, "sh", "-c", SCRIPT, "sh", place, size, prepare]);
    command.arg(binary::path()).args(["serve", "--listen", "127.0.0.1:0", "--log", "json"]);
    command.args(["--store", &format!("sqlite:{place}/records.db")]);
    command.env("BINARY", binary::path());
    command
}

fn is_root() -> bool {
    rustix::process::geteuid().is_root()
}

/// The disk of a server, as seen from outside.
pub struct Disk {
    process: u32,
    place: String,
}

impl Disk {
    /// That of a server, which is mounted at `place`.
    pub fn of(server: &Server, place: &str) -> Self {
        Self { process: server.child.id(), place: place.to_owned() }
    }

    /// Path of a file on it.
    pub fn path(&self, name: &str) -> PathBuf {
        PathBuf::from(format!("/proc/{}/root{}", self.process, self.place)).join(name)
    }

    /// Mounts it anew, in another way.
    pub fn remount(&self, option: &str) {
        let mut command = Command::new("nsenter");
        command.args(["-t", &self.process.to_string(), "-m"]);
        if !is_root() {
            command.args(["-U", "--preserve-credentials"]);
        }
        let status = command.args(["mount", "-o", &format!("remount,{option}"), &self.place]).status();
        assert!(status.expect("util-linux is installed").success());
    }

    /// Fills it to the last byte.
    pub fn fill(&self) {
        let mut ballast = File::create(self.path(BALLAST)).expect("a file can be made");
        for size in [1 << 16, 1 << 12, 1] {
            let block = vec![0; size];
            let full = std::iter::repeat_with(|| ballast.write_all(&block)).find_map(Result::err);
            assert_eq!(full.expect("it ends").kind(), io::ErrorKind::StorageFull);
        }
    }

    /// Makes room again.
    pub fn free(&self) {
        fs::remove_file(self.path(BALLAST)).expect("it was filled");
    }
}
