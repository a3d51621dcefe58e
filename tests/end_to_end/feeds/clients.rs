//! The small clients in `tests/clients`, each against the real service.

use std::process::Command;

use super::heaps::Heaps;
use crate::binary::repository;

/// Runs a client on a heap and checks its one line, and that what it read was recorded.
async fn run(interpreter: &str, client: &str, temperature_c: f64) {
    let heaps = Heaps::new().await;
    let yard = &heaps.yard;
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let (_, writer) = yard.key(Some(&admin), "write", &["home"]).await;
    let mut command = Command::new(interpreter);
    command.arg(repository().join("tests/clients").join(client)).env("BAYCAST_KEY", &writer);
    command.arg(format!("http://{}", yard.server.address)).arg(&heaps.path);
    let core_before = heaps.text("batches/heap-1/core_c").await;
    let output = command.args(["home", "heap-1", &temperature_c.to_string()]).output();
    let output = output.unwrap_or_else(|error| panic!("{interpreter}: {error}"));
    let (told, complaints) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{complaints}");

    heaps.settled().await;
    let recorded = yard.good("GET", "/v1/farms/home/batches/heap-1/events", Some(&admin), None).await;
    let readings: Vec<_> = recorded["items"].as_array().expect("events").iter().collect();
    let own = readings.iter().filter(|event| event["event"]["reading"]["temperature_c"] == temperature_c);
    assert_eq!(own.count(), 1, "recorded once: {recorded}");
    let (stage, core) = (heaps.text("batches/heap-1/stage").await, heaps.text("batches/heap-1/core_c").await);
    let beds = heaps.text("batches/heap-1/opens?use=bed_dressing").await;
    let beds = if beds.is_empty() { "beyond the horizon".to_owned() } else { beds };
    assert_eq!(told, format!("heap-1: {stage}, core {core_before} to {core} °C, beds from {beds}\n"));
    assert_ne!(core_before, core, "the reading counts in what is told");
}

#[tokio::test]
async fn python_with_its_own_library() {
    run("python3", "reading.py", 48.25).await;
}

#[tokio::test]
async fn a_shell_with_curl() {
    run("sh", "reading.sh", 47.25).await;
}

#[tokio::test]
async fn javascript_in_node() {
    run("node", "reading.mjs", 46.25).await;
}
