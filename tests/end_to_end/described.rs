//! Requests made up from the description by Schemathesis, put to a server with records and keys: what is answered is what is
//! described, what the description forbids is refused, and nothing fails.

use std::env;
use std::process::{Command, Output};

use serde_json::Value;

use crate::binary::{self, repository};
use crate::http;
use crate::python::python;
use crate::server::Server;

/// With this seed the same requests are made up.
const SEED: &str = "20260915";

/// From so many on, every bound and every word of the description is tried as well.
const ALL_BOUNDS: usize = 10_000;

/// About as many requests those are.
const OF_BOUNDS: usize = 9_500;

/// About as many requests come of one example for each operation: of what takes parameters or a body there are two, one that
/// is described and one that is not, and some go on from what another has answered.
const OF_EXAMPLE: usize = 90;

#[tokio::test]
async fn what_is_answered_is_described_and_what_is_described_is_answered() {
    let cases = env::var("BAYCAST_CASES").map_or(1000, |cases| cases.parse().expect("a number of cases"));
    let folder = tempfile::tempdir().expect("a folder can be made");
    let store = format!("sqlite:{}", folder.path().join("larkfield.db").display());
    run(Command::new(binary::path()).args(["demo", "--once", "--store", &store]));
    let create = ["keys", "create", "--scope", "admin", "--all-farms", "--store", &store, "schemathesis"];
    let created = run(Command::new(binary::path()).args(create));
    let key = String::from_utf8(created.stdout).expect("a key is text");
    let told = String::from_utf8(created.stderr).expect("what is told is text");
    let id = told.split_whitespace().find(|word| word.starts_with("key_")).expect("the key's id").to_owned();
    // No request is put off for being slow on a slow machine.
    let server = Server::with(&["--store", &store, "--timeout-s", "120"]);

    let phases =
        if cases >= ALL_BOUNDS { "examples,coverage,fuzzing,stateful" } else { "examples,fuzzing,stateful" };
    let each = cases.saturating_sub(if cases >= ALL_BOUNDS { OF_BOUNDS } else { 0 }).div_ceil(OF_EXAMPLE);
    let described = repository().join("tests/python/described");
    let mut schemathesis = Command::new(python().with_file_name("schemathesis"));
    schemathesis
        .current_dir(folder.path())
        .env("PYTHONPATH", &described)
        .env("SCHEMATHESIS_HOOKS", "hooks")
        .env("BAYCAST_KEY_ID", id)
        .arg("--config-file")
        .arg(described.join("schemathesis.toml"))
        .args(["run", &format!("http://{}/openapi.json", server.address)])
        .args(["--header", &format!("Authorization: Bearer {}", key.trim())])
        .args(["--checks", "all", "--continue-on-failure", "--phases", phases])
        .args(["--max-examples", &each.to_string(), "--seed", SEED, "--request-timeout", "150"])
        .args(["--max-response-time", "120", "--suppress-health-check", "all", "--no-color"]);
    let output = schemathesis.output().expect("Schemathesis runs");
    let said = String::from_utf8_lossy(&output.stdout);
    let summary = said.split("== SUMMARY ==").last().unwrap_or_default();
    println!("{summary}");
    assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
    let generated =
        summary.lines().find_map(|line| line.trim().split_once(" generated,")).map(|(count, _)| count);
    let generated: usize = generated.and_then(|count| count.parse().ok()).expect("a number of requests");
    assert!(generated * 4 >= cases * 3, "only {generated} of {cases} requests");
    let still: Value = http::get(&server, "/openapi.json").await.json();
    assert_eq!(still["info"]["title"], "baycast");
}

/// Runs to the end and expects success.
fn run(command: &mut Command) -> Output {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    assert!(output.status.success(), "{command:?}: {}", String::from_utf8_lossy(&output.stderr));
    output
}
