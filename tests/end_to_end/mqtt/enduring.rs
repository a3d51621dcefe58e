//! Servers that are killed, brokers that go, stores that are away: nothing is lost and nothing is there twice.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use jiff::Timestamp;
use serde_json::json;

use super::farm::{Farm, Subscriber, temperatures};

/// How often the server is killed.
const KILLS: u64 = 10;
/// Probes that publish at the same time: half of them say when they measured, half say nothing but a number.
const PROBES: usize = 8;
/// Messages of each.
const MESSAGES: usize = 250;

/// A message's temperature: no other message has the same.
fn temperature(probe: usize, message: usize) -> String {
    format!("{}.{message:03}5", 20 + probe)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_killed_again_and_again_loses_and_doubles_nothing() {
    let farm = Farm::new().await;
    let mut subscriber = farm.serve().subscribed().await;
    let begun = Timestamp::now().as_millisecond().unsigned_abs() as usize;
    let publishers: Vec<_> = (0..PROBES)
        .map(|probe| {
            let topic = if probe % 2 == 0 { "timed" } else { "plain" };
            let mut publisher = farm.broker.publisher(&format!("{topic}/heap/p{probe}"));
            std::thread::spawn(move || {
                for message in 0..MESSAGES {
                    let t = temperature(probe, message);
                    match probe % 2 {
                        0 => publisher.send(&format!("{{\"t\": {t}, \"ms\": {}}}", begun + message)),
                        _ => publisher.send(&t),
                    }
                    std::thread::sleep(Duration::from_millis(20));
                }
                publisher.finish();
            })
        })
        .collect();
    for kill in 0..KILLS {
        // Somewhere between the first messages and the last, a different moment each time.
        tokio::time::sleep(Duration::from_millis(150 + 37 * kill)).await;
        subscriber.signal("KILL");
        subscriber.server.child.wait().expect("the process is ours");
        subscriber = farm.serve();
    }
    for publisher in publishers {
        publisher.join().expect("everything is published");
    }
    let events = subscriber.arrived("heap", PROBES * MESSAGES).await;
    // What were to come twice would have come by now.
    assert!(subscriber.stop().success());
    let last = subscriber.lines("probe messages since the start")[0].clone();
    println!("after {KILLS} kills the last server ended with {last}");
    assert_eq!(last["unusable"], 0);
    let expected =
        (0..PROBES).flat_map(|probe| (0..MESSAGES).map(move |message| temperature(probe, message)));
    assert_eq!(temperatures(&events), expected.collect());
    assert_eq!(farm.serve().subscribed().await.events("heap").await.len(), PROBES * MESSAGES);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_sent_while_the_server_or_the_broker_is_away_arrives() {
    let mut farm = Farm::new().await;
    let mut subscriber = farm.serve().subscribed().await;
    assert!(subscriber.stop().success());
    let log = farm.broker.log();
    assert!(log.contains("Client baycast-test disconnected."), "it says goodbye: {log}");
    farm.broker.publish("plain/heap/p", "50");
    farm.broker.restart();
    farm.broker.publish("plain/heap/p", "51");
    let mut subscriber = farm.serve();
    assert_eq!(
        temperatures(&subscriber.arrived("heap", 2).await),
        ["50.0", "51.0"].map(str::to_owned).into()
    );

    farm.broker.restart();
    subscriber.logged("connected to the MQTT broker", 2).await;
    assert_eq!(subscriber.lines("connected to the MQTT broker")[1]["session_kept"], true);
    farm.broker.publish("plain/heap/p", "52");
    assert_eq!(subscriber.arrived("heap", 3).await.len(), 3);
    farm.broker.stop();
    subscriber.logged("no connection to the MQTT broker", 2).await;
    assert_eq!(subscriber.events("heap").await.len(), 3, "it goes on to serve");
    assert!(subscriber.stop().success(), "and stops without a broker");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flood_is_taken_and_every_message_of_it_acknowledged() {
    let farm = Farm::new().await;
    let mut subscriber = farm.serve_with("baycast-test", "receive_maximum = 20").subscribed().await;
    for probe in 0..PROBES {
        let mut publisher = farm.broker.publisher(&format!("plain/heap/p{probe}"));
        for message in 0..MESSAGES {
            // A few that can't be used, which are acknowledged in their turn.
            let bad = message % 50 == 49;
            publisher.send(&if bad { "warm".to_owned() } else { temperature(probe, message) });
        }
        publisher.finish();
    }
    let good = PROBES * (MESSAGES - MESSAGES / 50);
    assert_eq!(temperatures(&subscriber.arrived("heap", good).await).len(), good);
    subscriber.logged("a probe's message can't be used", PROBES * MESSAGES / 50).await;
    assert!(subscriber.stop().success());
    let mut again = farm.serve().subscribed().await;
    assert!(again.stop().success());
    let tally = &again.lines("probe messages since the start")[0];
    assert_eq!((&tally["recorded"], &tally["known"], &tally["unusable"]), (&0.into(), &0.into(), &0.into()));
}

/// Keeps a write lock on the store until dropped.
struct Lock(std::process::Child);

impl Lock {
    fn take(farm: &Farm) -> Self {
        let script = "import sqlite3, sys\n\
                      store = sqlite3.connect(sys.argv[1], isolation_level=None)\n\
                      store.execute('BEGIN IMMEDIATE')\nprint('locked', flush=True)\nsys.stdin.readline()\n";
        let mut child = Command::new("python3")
            .args(["-c", script])
            .arg(farm.folder.join("records.db"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("Python runs");
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().expect("its output")).read_line(&mut line).expect("it is read");
        assert_eq!(line, "locked\n");
        Self(child)
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        let _ = self.0.stdin.take().map(|mut input| input.write_all(b"\n"));
        let _ = self.0.wait();
    }
}

/// Publishes more messages than may be on their way at once.
fn publish_many(farm: &Farm, count: usize) {
    let mut publisher = farm.broker.publisher("plain/heap/p");
    for message in 0..count {
        publisher.send(&temperature(1, message));
    }
    publisher.finish();
}

/// Waits until the server has met a store that is away.
async fn postponed(subscriber: &Subscriber) {
    subscriber.logged("probes' readings wait", 1).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn while_the_store_is_away_the_broker_keeps_the_messages() {
    const MANY: usize = 30;
    let farm = Farm::new().await;
    let mut subscriber = farm.serve_with("baycast-test", "receive_maximum = 10").subscribed().await;
    let lock = Lock::take(&farm);
    publish_many(&farm, MANY);
    postponed(&subscriber).await;
    // Told to stop it does not wait for the store, and leaves the messages with the broker.
    assert!(subscriber.stop().success());
    let tally = &subscriber.lines("probe messages since the start")[0];
    assert_eq!((&tally["recorded"], &tally["unusable"]), (&0.into(), &0.into()));
    drop(lock);

    let subscriber = farm.serve_with("baycast-test", "receive_maximum = 10");
    assert_eq!(temperatures(&subscriber.arrived("heap", MANY).await).len(), MANY);
    let lock = Lock::take(&farm);
    farm.broker
        .publish("timed/other/p", &json!({ "t": 40, "ms": Timestamp::now().as_millisecond() }).to_string());
    postponed(&subscriber).await;
    drop(lock);
    assert_eq!(subscriber.arrived("other", 1).await.len(), 1, "it tries again by itself");
}
