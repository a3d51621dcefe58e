//! The configuration file: what stands where, who is stronger, and what is refused.

use std::process::Output;

use super::{Folder, text};

/// Runs `check-config` on a file with this text.
fn check(text: &str, arguments: &[&str], environment: &[(&str, &str)]) -> Output {
    static COUNT: std::sync::atomic::AtomicU32 = std::sync::atomic::AtomicU32::new(0);
    let number = COUNT.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    let folder = Folder::new(&format!("configuration-{number}"));
    folder.write("baycast.toml", text);
    let mut command = std::process::Command::new(crate::binary::path());
    command.current_dir(&folder.0).args(["check-config", "--config", "baycast.toml"]).args(arguments);
    command.envs(environment.iter().copied()).output().expect("the binary starts")
}

/// The line of a setting and the one after it, which says where it comes from.
fn setting(output: &Output, name: &str) -> (String, String) {
    assert!(output.status.success(), "{}", text(&output.stderr));
    let told = text(&output.stdout);
    let mut lines = told.lines().skip_while(|line| !line.starts_with(&format!("{name} ")));
    let mut next = || lines.next().unwrap_or_else(|| panic!("no {name} in {told}")).trim().to_owned();
    (next(), next())
}

#[test]
fn flags_are_stronger_than_the_environment_and_that_than_the_file() {
    let file = "queue = 5\ntimeout_s = 6\nconcurrency = 7\ncors_origin = [\"https://a.example\", \"https://b.example\"]\npool = false\n";
    let environment = [("BAYCAST_QUEUE", "15"), ("BAYCAST_TIMEOUT_S", "16")];
    let output = check(file, &["--queue", "25"], &environment);
    for (name, line, origin) in [
        ("queue", "queue = 25", "from the flag --queue"),
        ("timeout_s", "timeout_s = 16", "from the environment, BAYCAST_TIMEOUT_S"),
        ("concurrency", "concurrency = 7", "from baycast.toml, line 3"),
        ("cors_origin", "cors_origin = https://a.example,https://b.example", "from baycast.toml, line 4"),
        ("pool", "pool = false", "from baycast.toml, line 5"),
        ("log", "log = text", "from the default"),
        ("webhook_retry_base_s", "webhook_retry_base_s = 10", "from the default"),
        ("config", "config = baycast.toml", "from the flag --config"),
    ] {
        assert_eq!(setting(&output, name), (line.to_owned(), origin.to_owned()));
    }
    assert_eq!(setting(&output, "store").0, "store is not set");
}

#[test]
fn the_file_may_be_named_by_the_environment_and_serves() {
    let folder = Folder::new("configuration-served");
    let taken = crate::server::Server::start();
    let path = folder.write("own.toml", format!("listen = \"{}\"\n", taken.address));
    let mut command = std::process::Command::new(crate::binary::path());
    let output = command.arg("serve").env("BAYCAST_CONFIG", path).output().expect("it runs");
    assert!(!output.status.success(), "the address of the file is taken");
    assert!(text(&output.stderr).contains("in use"), "{output:?}");
}

#[test]
fn secrets_are_never_shown() {
    let table = "[mqtt]\nbroker = \"mqtt://broker.example\"\nclient_id = \"one\"\nuser_name = \"probe\"\n\
                 password_env = \"PROBES\"\n[[mqtt.subscription]]\ntopic = \"a/{bay}\"\nfarm = \"home\"\n\
                 payload = \"number\"\n";
    let file = format!("store = \"postgres://baycast:whisper@db/records?sslpassword=whisper\"\n{table}");
    let output = check(&file, &[], &[("PROBES", "whisper")]);
    assert_eq!(setting(&output, "store").0, "store = postgres://baycast:***@db/records?***");
    assert_eq!(setting(&output, "mqtt.password_env").0, "mqtt.password_env = \"PROBES\"");
    assert_eq!(setting(&output, "mqtt.receive_maximum").1, "from the default");
    assert!(!text(&output.stdout).contains("whisper"));
    let missing = check(&file, &[], &[]);
    assert!(
        text(&missing.stderr).contains("`mqtt.password_env`: the variable `PROBES` is not set"),
        "{missing:?}"
    );
    for wrong in
        ["password = \"whisper\"", "broker = \"mqtt://me:whisper@x\"", "user_name = whisper", "x = whisper"]
    {
        let refused = check(&file.replace("user_name = \"probe\"", wrong), &[], &[("PROBES", "whisper")]);
        assert!(
            !refused.status.success() && !text(&refused.stderr).contains("whisper"),
            "{wrong}: {refused:?}"
        );
    }
}

#[test]
fn what_is_unknown_or_out_of_range_is_told_with_its_place() {
    let mqtt = "[mqtt]\nbroker = \"mqtt://b\"\nclient_id = \"a\"\n";
    for (file, told) in [
        (
            "queue = 1\nqeue = 1\n".to_owned(),
            "baycast.toml:2:1: `qeue` is no setting; these are: listen, store, ",
        ),
        ("config = \"x\"\n".to_owned(), "baycast.toml:1:1: `config` is no setting"),
        ("\n  queue = \"many\"\n".to_owned(), "baycast.toml:2:11: `queue`: invalid value 'many'"),
        ("timeout_s = 0\n".to_owned(), "baycast.toml:1:13: `timeout_s`: invalid value '0'"),
        (
            "webhook_allow_internal = [\"shed.lan\", \"10.0.0.0/33\"]\n".to_owned(),
            "`webhook_allow_internal`: invalid value '10.0.0.0/33'",
        ),
        ("log = \"loud\"\n".to_owned(), "[possible values: text, json]"),
        ("pool = \"perhaps\"\n".to_owned(), "`pool`: invalid value 'perhaps'"),
        ("timeout_s = true\n".to_owned(), "`timeout_s`: invalid value 'true'"),
        (
            "store = [\"a\"]\n".to_owned(),
            "`store`: of type array, where a text, a whole number, true or false is taken",
        ),
        ("cors_origin = \"a\"\n".to_owned(), "`cors_origin`: of type string, where a list is taken"),
        ("queue = \n".to_owned(), "baycast.toml:1:9: "),
        (format!("{mqtt}brokr = 1\n"), "baycast.toml:4:1: unknown field `brokr`, expected one of `broker`"),
        (mqtt.to_owned(), "baycast.toml:1: `mqtt.subscription`: none given"),
        (mqtt.replace("mqtt://", "http://"), "baycast.toml:2: `mqtt.broker`: "),
        (
            format!("{mqtt}receive_maximum = 0\n"),
            "baycast.toml:4: `mqtt.receive_maximum`: 0 given, 1 to 1000",
        ),
        (format!("{mqtt}user_name = \"x\"\n"), "`mqtt.user_name`: a user name and a password, or neither"),
        (format!("{mqtt}share_group = \"a/b\"\n"), "`mqtt.share_group`: "),
        (
            format!(
                "{mqtt}[[mqtt.subscription]]\ntopic = \"a/{{bay}}\"\nfarm = \"f\"\ntemperature = \"t\"\n"
            ),
            "baycast.toml:7: `mqtt.subscription[0].temperature`: t given, accepted: a JSON Pointer",
        ),
    ] {
        let output = check(&file, &[], &[]);
        let error = text(&output.stderr);
        assert_eq!((output.status.code(), text(&output.stdout).as_str()), (Some(1), ""), "{file}: {error}");
        assert!(error.starts_with("error: ") && error.contains(told), "{file}: {error}");
    }
}
