//! Alert rules and the dashboard, held by Prometheus' own tool and to the figures that the service tells.

use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

use serde_json::Value;

use super::{deployed, fail, succeed};
use crate::databases::{Database, Folder};
use crate::metrics::{free, told};
use crate::server::Server;

fn promtool(words: &[&str]) -> Command {
    let mut command = Command::new("promtool");
    command.args(words).current_dir(deployed("prometheus"));
    command
}

/// What the dashboard asks.
fn queries() -> Vec<String> {
    let text = fs::read_to_string(deployed("prometheus/dashboard.json")).expect("the dashboard");
    let dashboard: Value = serde_json::from_str(&text).expect("JSON");
    let panels = dashboard["panels"].as_array().expect("panels");
    let targets = panels.iter().flat_map(|panel| panel["targets"].as_array().expect("targets"));
    targets.map(|target| target["expr"].as_str().expect("a query").to_owned()).collect()
}

#[test]
fn each_alert_is_raised_by_what_it_is_for_and_none_on_a_quiet_day() {
    assert!(succeed(&mut promtool(&["check", "rules", "alerts.yaml"])).contains("8 rules found"));
    succeed(&mut promtool(&["test", "rules", "alerts_test.yaml"]));
    let folder = Folder::new("baycast-alerts");
    let rules = fs::read_to_string(deployed("prometheus/alerts.yaml")).expect("the rules");
    for name in ["alerts.yaml", "alerts_test.yaml"] {
        fs::copy(deployed("prometheus").join(name), folder.path().join(name)).expect("a copy");
    }
    fs::write(folder.path().join("alerts.yaml"), rules.replace("== 0\n", "== 2\n")).expect("other rules");
    assert!(
        fail(promtool(&["test", "rules", "alerts_test.yaml"]).current_dir(folder.path()))
            .contains("BaycastAway")
    );
}

#[test]
fn every_query_of_the_dashboard_can_be_read() {
    let queries = queries();
    assert!(queries.len() > 12, "{queries:?}");
    let folder = Folder::new("baycast-dashboard");
    let rule = |(number, query): (usize, &String)| {
        let query = serde_json::to_string(query).expect("a text");
        format!("      - {{record: 'q{number}', expr: {query}}}\n")
    };
    let rules: String = queries.iter().enumerate().map(rule).collect();
    let file = folder.path().join("rules.yaml");
    fs::write(&file, format!("groups:\n  - name: dashboard\n    rules:\n{rules}")).expect("rules");
    succeed(&mut promtool(&["check", "rules", file.to_str().expect("a path")]));
}

#[tokio::test]
async fn what_is_asked_for_is_told() {
    let (database, address) = (Database::sqlite(), free());
    let server = Server::with(&["--metrics-listen", &address, "--store", &database.url]);
    crate::http::get(&server, "/livez").await;
    let told = told(&address);
    let rules = fs::read_to_string(deployed("prometheus/alerts.yaml")).expect("the rules");
    let all = format!("{rules}\n{}", queries().join("\n"));
    let names: BTreeSet<&str> = all
        .split(|c: char| !c.is_ascii_alphanumeric() && c != '_')
        .filter(|word| word.starts_with("baycast_"))
        .collect();
    assert!(names.len() > 8, "{names:?}");
    for name in names {
        // Those of probes are told where there is a broker alone.
        let known = told.contains(&format!("\n{name}")) || name == "baycast_probe_messages_total";
        assert!(known, "{name} in {told}");
    }
}
