//! The same history over REST with curl, by a `grpcio` client built from `proto/` and by one built by reflection.

use std::process::Command;

use crate::binary::{build_folder, repository};
use crate::histories;
use crate::python::python;
use crate::server::Server;

#[test]
fn every_number_is_the_same_to_the_last_digit() {
    let server = Server::start();
    let history = build_folder().join("python-client-history.json");
    std::fs::write(&history, histories::full().to_string()).expect("the history can be written");
    let mut client = Command::new(python());
    client.arg(repository().join("tests/python/grpc_client.py")).arg(&server.address);
    let output = client.arg(repository().join("proto")).arg(&history).output().expect("the client runs");
    let (told, complaints) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{complaints}");
    let compared: usize = told.split(' ').next().and_then(|count| count.parse().ok()).unwrap_or_default();
    assert!(compared > 100, "only {told}");
}
