//! Long inputs and short readers.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

use super::{Folder, estimates, history, spring, text};

#[test]
fn memory_does_not_grow_with_the_number_of_lines() {
    let folder = Folder::new("memory");
    let mut child = Command::new(crate::binary::path())
        .args(["estimate", "-", "--from", "ndjson", "--to", "ndjson"])
        .current_dir(&folder.0)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut pipe = child.stdin.take().unwrap();
    // Each line is a megabyte of a history whose name is too long; the last ones are longer than any that is taken.
    let line = history(&"x".repeat(1 << 20), &spring()).to_string() + "\n";
    for _ in 0..400 {
        pipe.write_all(line.as_bytes()).unwrap();
    }
    for _ in 0..4 {
        pipe.write_all("x".repeat(40 << 20).as_bytes()).unwrap();
        pipe.write_all(b"\n").unwrap();
    }
    let peak_kib: u64 = fs::read_to_string(status)
        .unwrap()
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .and_then(|rest| rest.trim().trim_end_matches(" kB").parse().ok())
        .unwrap();
    drop(pipe);
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(peak_kib < 128 << 10, "{peak_kib} KiB");
}

#[test]
fn output_into_a_closed_pipe_is_no_fault() {
    let folder = Folder::new("closed-pipe");
    let line = history("spring", &spring()).to_string() + "\n";
    folder.write("many.ndjson", line.repeat(20));
    let mut child = Command::new(crate::binary::path())
        .args(["estimate", "many.ndjson", "--to", "ndjson"])
        .current_dir(&folder.0)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), text(&output.stderr).as_str()), (Some(0), ""));
    assert_eq!(estimates(&first).len(), 1);
}
