//! The README's commands, run as they are written.

use std::fs;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Output, Stdio};

use serde_json::Value;

use crate::binary::{self, build_folder, repository};
use crate::python::python;

/// Where the README has the demo listen.
const WRITTEN: &str = "127.0.0.1:8300";

/// The demo on a free port, as the README's first command leaves it running.
struct Demo {
    child: Child,
    address: String,
    printed: String,
}

impl Demo {
    fn start() -> Self {
        let mut command = Command::new(binary::path());
        command.args(["demo", "--listen", "127.0.0.1:0"]).env("RUST_LOG", "warn").stdout(Stdio::piped());
        let mut child = command.spawn().expect("the binary starts");
        let mut lines = BufReader::new(child.stdout.take().expect("standard output is piped")).lines();
        let mut printed = String::new();
        let address = loop {
            let line = lines.next().expect("the demo goes on to serve").expect("standard output can be read");
            if let Some(address) = line.strip_prefix("listening on http://") {
                break address.to_owned();
            }
            printed += &line;
            printed.push('\n');
        };
        Self { child, address, printed }
    }

    /// Runs a block of the README at a shell, against this demo.
    fn run(&self, block: &str) -> Output {
        let mut shell = Command::new("bash");
        shell.args(["-euo", "pipefail", "-c", &block.replace(WRITTEN, &self.address)]);
        shell.current_dir(repository()).output().expect("a shell starts")
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Text of the README.
fn readme() -> String {
    fs::read_to_string(repository().join("README.md")).expect("the README can be read")
}

/// The first fenced block after `heading`.
fn block_after(heading: &str) -> String {
    let readme = readme();
    let after = readme.split_once(heading).unwrap_or_else(|| panic!("no {heading:?} in the README")).1;
    let fenced = after.split_once("```").expect("a block").1;
    let (_, text) = fenced.split_once('\n').expect("a block's first line");
    text.split_once("```").expect("the block's end").0.to_owned()
}

/// Standard output of a block that succeeds.
fn succeed(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn the_sample_is_what_the_demo_prints() {
    let demo = Demo::start();
    let sample = block_after("What the first one prints");
    assert!(sample.lines().count() > 10);
    assert!(demo.printed.contains(&sample), "the demo prints:\n{}", demo.printed);
}

#[test]
fn curl_as_written_estimates_one_batch_and_streams_many() {
    let demo = Demo::start();
    let one: Value = serde_json::from_str(&succeed(&demo.run(&block_after("**curl.**")))).expect("JSON");
    assert_eq!(one["batch"], "pallet-2 spring");
    assert_eq!(one["windows"].as_array().map(Vec::len), Some(3));
    let many = succeed(&demo.run(&block_after("Any number of batches")));
    let lines: Vec<Value> = many.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert!(lines.len() >= 7 && lines.iter().all(|line| line["stage"].is_string()), "{many}");
}

#[test]
fn a_reading_appended_as_written_counts_in_the_estimate() {
    let demo = Demo::start();
    let printed = succeed(&demo.run(&block_after("**Records.**")));
    let mut answers = serde_json::Deserializer::from_str(&printed).into_iter::<Value>();
    let appended = answers.next().expect("an answer").expect("JSON");
    assert_eq!(appended["items"][0]["outcome"], "added");
    let estimate = answers.next().expect("an answer").expect("JSON");
    assert_eq!(estimate["as_of"], "2026-09-15");
    assert_eq!(estimate["bay"], "timber-2");
}

#[test]
fn a_webhook_made_as_written_has_a_secret() {
    let demo = Demo::start();
    let made: Value = serde_json::from_str(&succeed(&demo.run(&block_after("**Webhooks.**")))).expect("JSON");
    assert_eq!(made["webhook"]["kinds"].as_array().map(Vec::len), Some(3), "{made}");
    assert!(made["secret"].as_str().is_some_and(|secret| secret.starts_with("whsec_")));
}

#[test]
fn the_python_client_as_written_prints_a_window_a_use() {
    let demo = Demo::start();
    let written = block_after("**Python, gRPC.**");
    // The venv of the tests stands in for the one that the README makes; all else is as written.
    let stubs = build_folder().join("readme-client");
    fs::create_dir_all(&stubs).expect("a folder can be made");
    let kept: Vec<&str> = written
        .lines()
        .filter(|line| !line.starts_with("python3 -m venv") && !line.starts_with("pip install"))
        .collect();
    let python = python().display().to_string();
    let block = kept
        .join("\n")
        .replace("/tmp/baycast-client", &stubs.display().to_string())
        .replace("\npython -m", &format!("\n{python} -m"))
        .replace(" python - ", &format!(" {python} - "));
    let printed = succeed(&demo.run(&block));
    assert_eq!(printed.lines().count(), 3, "{printed}");
}

#[test]
fn a_feed_as_written_is_read_without_a_key() {
    let demo = Demo::start();
    // Until every batch is told of, which takes the demo a while after its start.
    let block = block_after("**Feeds.**");
    let tries = std::iter::repeat_with(|| demo.run(&block)).take(60);
    let mut told = tries.inspect(|_| std::thread::sleep(std::time::Duration::from_secs(1)));
    let whole =
        |output: &Output| String::from_utf8_lossy(&output.stdout).contains("timber-2 summer,bed_dressing,");
    let printed = succeed(&told.find(whole).expect("it is told within a minute"));
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines[0], "batch,use,opens_p10,opens_p50,opens_p90,volume_at_opening_m3");
    let [events, ready, core] = lines[lines.len() - 3..] else { panic!("{printed}") };
    assert!(events.parse::<u32>().is_ok_and(|events| events >= 7), "{printed}");
    let number = |line: &str| line.split(' ').next().and_then(|number| number.parse::<f64>().ok());
    assert!(number(ready).is_some_and(|m3| m3 > 0.5) && ready.ends_with(" m³ ready for beds"), "{printed}");
    assert!(number(core).is_some_and(|c| (40.0..70.0).contains(&c)), "{printed}");
}

#[test]
fn the_sheet_by_address_has_a_row_for_each_batch() {
    let demo = Demo::start();
    let address = block_after("**Spreadsheet.**");
    let address = address.split_whitespace().find(|word| word.starts_with("http")).expect("an address");
    let sheet = succeed(&demo.run(&format!("curl -sf {address}")));
    let mut rows = sheet.lines();
    let header = rows.next().expect("a header");
    assert!(header.starts_with("batch,as_of,bay,stage,"), "{header}");
    assert!(rows.count() >= 7);
}

#[test]
fn the_series_as_written_runs_from_the_command_line() {
    let demo = Demo::start();
    let built = binary::path().display().to_string();
    let block = block_after("**Command line.**").replace("cargo run --release --", &built);
    let printed = succeed(&demo.run(&block));
    assert!(printed.contains("wan2022_garden_and_food"), "{printed}");
}

#[test]
fn what_to_mix_as_written_is_told_at_a_shell() {
    let demo = Demo::start();
    let built = binary::path().display().to_string();
    let block = block_after("**What to mix.**").replace("cargo run --release --", &built);
    let printed = succeed(&demo.run(&block));
    for told in ["Horse manure with straw", "Start at latest", "Bear in mind"] {
        assert!(printed.contains(told), "{told}: {printed}");
    }
}

#[test]
fn a_season_as_written_is_planned_at_a_shell() {
    let demo = Demo::start();
    let built = binary::path().display().to_string();
    let block = block_after("**What to do when.**").replace("cargo run --release --", &built);
    let printed = succeed(&demo.run(&block));
    for told in ["15 Sep 2026 to 13 Sep 2027", "□ fill", "tunnel beds", "What does not fit", "Bear in mind"]
    {
        assert!(printed.contains(told), "{told}: {printed}");
    }
}

#[test]
fn the_configuration_as_written_sets_every_flag_of_serve() {
    let folder = build_folder().join("readme-configuration");
    fs::create_dir_all(&folder).expect("a folder can be made");
    fs::write(folder.join("baycast.toml"), block_after("## Configure it")).expect("a file can be written");
    let made = rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).expect("a certificate");
    fs::write(folder.join("tls.crt"), made.cert.pem()).expect("a file can be written");
    fs::write(folder.join("tls.key"), made.signing_key.serialize_pem()).expect("a file can be written");
    let mut command = Command::new(binary::path());
    command.args(["check-config", "--config", "baycast.toml"]).current_dir(&folder);
    let told = succeed(&command.env("BAYCAST_MQTT_PASSWORD", "three words long").output().expect("it runs"));
    assert!(!told.contains("three words"), "{told}");
    let from_file = |name: &str| {
        let found = told.split_once(&format!("{name} = ")).unwrap_or_else(|| panic!("no {name} in {told}")).1;
        found.lines().nth(1).is_some_and(|line| line.starts_with("    from baycast.toml, line "))
    };
    let help = succeed(&Command::new(binary::path()).args(["serve", "--help"]).output().expect("it runs"));
    let flags = help.lines().filter_map(|line| line.trim_start().strip_prefix("--"));
    let flags: Vec<String> = flags
        .filter_map(|line| Some(line.split_once(' ')?.0.replace('-', "_")))
        .filter(|it| it != "config")
        .collect();
    assert!(flags.len() >= 7, "{help}");
    for flag in flags {
        assert!(from_file(&flag), "{flag} is not set in the README's example:\n{told}");
    }
    assert!(from_file("mqtt.broker") && from_file("mqtt.subscription[1].payload"), "{told}");
}
