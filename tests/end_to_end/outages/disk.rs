//! A small disk of a server's own: a file system in memory that only it sees.
//!
//! Root mounts it in a name space of mounts; anyone else in one of users too, which the system must allow.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::Command;

use crate::binary;
use crate::databases::Folder;
use crate::server::Server;

/// Mounts a disk of a size at a place, prepares it as told, and becomes the command that follows. After `chroot` the root is
/// no mount, and can't be made private.
const SCRIPT: &str = "place=$1 size=$2 prepare=$3 && shift 3 && { mount --make-rprivate / 2>/dev/null || true; } \
                      && mount -t tmpfs -o size=\"$size\" none \"$place\" && eval \"$prepare\" && exec \"$@\"";

/// A folder for disks to be mounted at.
pub struct Place(Folder);

impl Place {
    /// One with a name, where this machine lets disks be mounted. Where it refuses to, says so.
    pub fn new(name: &str) -> Option<Self> {
        let place = Self(Folder::new(name));
        let output = place.mounted("4k", "true").arg("true").output().expect("util-linux is installed");
        if output.status.success() {
            return Some(place);
        }
        let why = String::from_utf8_lossy(&output.stderr);
        assert!(["not permitted", "denied"].iter().any(|refused| why.contains(refused)), "no disk: {why}");
        // Not by a macro, whose words are kept back while all goes well.
        let _ = writeln!(io::stderr(), "LEFT OUT: {name} needs a disk, and none can be mounted here: {why}");
        None
    }

    /// Where it is.
    pub fn path(&self) -> &str {
        self.0.path().to_str().expect("a path in UTF-8")
    }

    /// The command that serves from records on a disk of its own; `prepare` is run in a shell before.
    pub fn serving(&self, size: &str, prepare: &str) -> Command {
        let mut command = self.mounted(size, prepare);
        command.arg(binary::path()).args(["serve", "--listen", "127.0.0.1:0", "--log", "json"]);
        command.args(["--store", &format!("sqlite:{}/records.db", self.path())]);
        command.env("BINARY", binary::path());
        command
    }

    /// What becomes the command that is added to it, with a disk.
    fn mounted(&self, size: &str, prepare: &str) -> Command {
        let mut command = Command::new("unshare");
        command.env("LC_ALL", "C");
        command.args(if is_root() { &["-m", "--propagation", "unchanged"][..] } else { &["-rm"] });
        command.args(["sh", "-c", SCRIPT, "sh", self.path(), size, prepare]);
        command
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        // After `chroot` disks can be seen from outside, and stay.
        let unmounted =
            || Command::new("umount").arg(self.path()).output().is_ok_and(|out| out.status.success());
        while unmounted() {}
    }
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
    pub fn of(server: &Server, place: &Place) -> Self {
        Self { process: server.child.id(), place: place.path().to_owned() }
    }

    fn ballast(&self) -> PathBuf {
        PathBuf::from(format!("/proc/{}/root{}/ballast", self.process, self.place))
    }

    /// What SQLite says of the soundness of a file on it, looked at from within: by a path of `/proc` it would find another.
    pub fn integrity(&self, name: &str) -> String {
        let mut command = Command::new("nsenter");
        command.args(["-t", &self.process.to_string(), "-m", "-r"]);
        if !is_root() {
            command.args(["-U", "--preserve-credentials"]);
        }
        let script = "import sqlite3, sys\n\
                      print(sqlite3.connect(sys.argv[1]).execute('PRAGMA integrity_check').fetchone()[0])";
        command.args(["python3", "-c", script, &format!("{}/{name}", self.place)]);
        let output = command.output().expect("util-linux is installed");
        String::from_utf8(output.stdout).expect("text").trim().to_owned()
    }

    /// Fills it to the last byte.
    pub fn fill(&self) {
        let mut ballast = File::create(self.ballast()).expect("a file can be made");
        for size in [1 << 16, 1 << 12, 1] {
            let block = vec![0; size];
            let full = std::iter::repeat_with(|| ballast.write_all(&block)).find_map(Result::err);
            assert_eq!(full.expect("it ends").kind(), io::ErrorKind::StorageFull);
        }
    }

    /// Makes room again.
    pub fn free(&self) {
        fs::remove_file(self.ballast()).expect("it was filled");
    }
}
