//! A broker that speaks TLS and asks for a password.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::broker::Broker;
use super::farm::Farm;

/// A broker with a certificate of its own making, and one user.
fn guarded(folder: &Path) -> Broker {
    let made =
        rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).expect("a certificate can be made");
    let place = |name: &str| folder.join(name).display().to_string();
    fs::write(place("certificate.pem"), made.cert.pem()).expect("a file can be written");
    fs::write(place("key.pem"), made.signing_key.serialize_pem()).expect("a file can be written");
    let mut command = Command::new("mosquitto_passwd");
    let made = command.args(["-c", "-b", &place("users"), "probe", "three words long"]).status();
    assert!(made.expect("it comes with Mosquitto").success());
    let lines = format!(
        "certfile {}\nkeyfile {}\nallow_anonymous false\npassword_file {}\n",
        place("certificate.pem"),
        place("key.pem"),
        place("users")
    );
    let arguments = ["--cafile", &place("certificate.pem"), "-u", "probe", "-P", "three words long"];
    Broker::with(folder, &lines, arguments.map(str::to_owned).to_vec())
}

#[tokio::test]
async fn readings_arrive_over_tls_with_a_password_that_is_never_told() {
    let farm = Farm::with(guarded).await;
    let url = farm.broker.url().replace("mqtt://", "mqtts://");
    let authority = format!("ca_file = \"{}\"", farm.folder.join("certificate.pem").display());
    let user = "user_name = \"probe\"\npassword_env = \"BAYCAST_TEST_PASSWORD\"";
    let mut subscriber =
        farm.serve_on(&url, "baycast-test", &format!("{authority}\n{user}")).subscribed().await;
    farm.broker.publish("plain/heap/p", "50");
    subscriber.arrived("heap", 1).await;
    assert!(subscriber.stop().success());
    assert!(!subscriber.text().contains("three words"));

    let elsewhere = farm.folder.join("other-password");
    fs::write(&elsewhere, "not this one\n").expect("a file can be written");
    let wrong = format!("{authority}\nuser_name = \"probe\"\npassword_file = \"{}\"", elsewhere.display());
    let stranger =
        rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).expect("a certificate can be made");
    let other = farm.folder.join("other.pem");
    fs::write(&other, stranger.cert.pem()).expect("a file can be written");
    let unknown = format!("ca_file = \"{}\"\n{user}", other.display());
    for (lines, reason) in [(wrong, "NotAuthorized"), (unknown, "certificate")] {
        let mut refused = farm.serve_on(&url, "baycast-test", &lines);
        let told = refused.logged("no connection to the MQTT broker", 1).await;
        let error = told[0]["error"].as_str().expect("a text");
        assert!(error.contains(reason), "{error}");
        assert!(!refused.text().contains("not this one"));
        assert_eq!(refused.events("heap").await.len(), 1, "it serves all the same");
        assert!(refused.stop().success());
    }
}
