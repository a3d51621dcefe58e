//! Starting where it may and stopping without losing work in hand.

use std::process::Command;
use std::time::{Duration, Instant};

use crate::binary;
use crate::histories::full;
use crate::http::estimate;
use crate::server::Server;

#[test]
fn an_address_that_others_reach_is_refused_with_its_reason() {
    for address in ["0.0.0.0:0", "192.0.2.1:8300", "[::]:0"] {
        let output =
            Command::new(binary::path()).args(["serve", "--listen", address]).output().expect("it runs");
        assert!(!output.status.success());
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(told.contains("keys") && told.contains("TLS") && told.contains(address), "{told}");
    }
}

#[tokio::test]
async fn the_address_may_come_from_the_environment() {
    let taken = Server::start();
    let output = Command::new(binary::path()).arg("serve").env("BAYCAST_LISTEN", &taken.address).output();
    let output = output.expect("it runs");
    assert!(!output.status.success(), "the port is taken");
    assert!(String::from_utf8_lossy(&output.stderr).contains("in use"), "{output:?}");
}

#[tokio::test]
async fn work_in_hand_is_finished_before_it_ends() {
    for signal in ["TERM", "INT"] {
        let mut server = Server::start();
        let process = server.child.id().to_string();
        let (history, started) = (full(), Instant::now());
        let stop = async {
            tokio::time::sleep(Duration::from_millis(30)).await;
            // The shell's own: a machine with only Rust has no kill program.
            let kill = format!("kill -s {signal} {process}");
            let told = Command::new("sh").args(["-c", &kill]).status().expect("a shell runs");
            assert!(told.success());
        };
        let (answer, ()) = tokio::join!(estimate(&server, &history), stop);
        assert_eq!(answer.status, 200, "SIG{signal}");
        let ended = loop {
            if let Some(status) = server.child.try_wait().expect("the process is ours") {
                break status;
            }
            assert!(started.elapsed() < Duration::from_secs(20), "still there after SIG{signal}");
            tokio::time::sleep(Duration::from_millis(20)).await;
        };
        assert!(ended.success(), "{ended}");
    }
}

#[test]
fn it_may_be_told_to_stop_as_soon_as_its_address_is_known() {
    for _ in 0..5 {
        let mut server = Server::spawn(&[]);
        let kill = format!("read -r _ && kill -s TERM {}", server.id());
        let address = server.stdout.take().expect("standard output is piped");
        let told = Command::new("sh").args(["-c", &kill]).stdin(address).status().expect("a shell runs");
        assert!(told.success());
        let ended = server.wait().expect("the process is ours");
        assert!(ended.success(), "{ended}");
    }
}
