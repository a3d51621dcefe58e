//! A Python with the packages of `tests/python/requirements.txt`.

use std::fs::{self, File};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

use crate::binary::{build_folder, repository};

/// Path of the interpreter of `target/python-venv`, made on first use and made anew when a requirement changes.
///
/// Safe to call from any number of tests and processes at once.
pub fn python() -> PathBuf {
    let requirements = repository().join("tests/python/requirements.txt");
    let wanted = {
        let mut hasher = DefaultHasher::new();
        fs::read(&requirements).expect("the requirements can be read").hash(&mut hasher);
        format!("{:016x}", hasher.finish())
    };
    let target = build_folder().parent().expect("a profile's folder lies in the target folder").to_owned();
    let (venv, made) = (target.join("python-venv"), target.join("python-venv/requirements.hash"));
    let python = venv.join("bin/python");

    let lock = File::create(target.join("python-venv.lock")).expect("the lock file can be made");
    lock.lock().expect("the lock can be taken");
    if fs::read_to_string(&made).is_ok_and(|made| made == wanted) {
        return python;
    }
    let _ = fs::remove_dir_all(&venv);
    run(Command::new("python3").args(["-m", "venv"]).arg(&venv));
    let mut install = Command::new(&python);
    install.args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"]).arg(&requirements);
    run(&mut install);
    fs::write(&made, wanted).expect("the mark can be written");
    python
}

/// Runs one script of `tests/python` on `input`; its standard output and standard error.
pub fn ask(script: &str, input: &str) -> (String, String) {
    let mut child = Command::new(python())
        .arg("-B")
        .arg(repository().join("tests/python").join(script))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("Python runs");
    let mut writer = child.stdin.take().expect("standard input is piped");
    let output = std::thread::scope(|scope| {
        scope.spawn(move || writer.write_all(input.as_bytes()).expect("Python reads its input"));
        child.wait_with_output().expect("Python ends")
    });
    let (told, complaints) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{script}: {complaints}");
    (told.into_owned(), complaints.into_owned())
}

/// Runs to the end and expects success.
fn run(command: &mut Command) {
    let status = command.status().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    assert!(status.success(), "{command:?}: {status}");
}
