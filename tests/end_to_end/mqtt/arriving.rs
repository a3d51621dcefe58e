//! What arrives, and what can't be used.

use jiff::{SignedDuration, Timestamp};
use serde_json::json;

use super::farm::{Farm, post, temperatures};
use crate::binary;

/// An instant this many seconds ago, in whole milliseconds.
fn ago(seconds: i64) -> Timestamp {
    let then = Timestamp::now() - SignedDuration::from_secs(seconds);
    Timestamp::from_millisecond(then.as_millisecond()).expect("a time")
}

#[tokio::test]
async fn readings_appear_in_their_batch_with_their_values() {
    let farm = Farm::new().await;
    let mut subscriber = farm.serve().subscribed().await;
    let (first, second) = (ago(3600), ago(60));
    farm.broker
        .publish("bay/home/east/edge", &json!({ "t": 140, "at": first, "air": { "c": 7.5 } }).to_string());
    let events = subscriber.arrived("heap", 1).await;
    assert_eq!(events[0]["event"]["at"], first.to_string());
    assert_eq!(events[0]["recorded_by"], "mqtt");
    let reading = json!({ "temperature_f": 140.0, "depth_m": 0.4, "zone": "edge", "ambient_c": 7.5 });
    assert_eq!(events[0]["event"]["reading"], reading);

    farm.broker.publish("timed/other/p1", &json!({ "t": "58.5", "ms": second.as_millisecond() }).to_string());
    farm.broker.publish("named/other", &json!({ "t": 61, "id": 17 }).to_string());
    let before = Timestamp::now();
    farm.broker.publish("plain/other/p2", "49.25");
    let events = subscriber.arrived("other", 3).await;
    assert_eq!(temperatures(&events), ["49.25", "58.5", "61.0"].map(str::to_owned).into());
    let timed =
        events.iter().find(|event| event["event"]["reading"]["temperature_c"] == 58.5).expect("timed");
    assert_eq!(timed["event"]["at"], second.to_string());
    let plain =
        events.iter().find(|event| event["event"]["reading"]["temperature_c"] == 49.25).expect("plain");
    let at: Timestamp = plain["event"]["at"].as_str().expect("a time").parse().expect("a time");
    assert!((before..=Timestamp::now()).contains(&at), "the time of arrival: {at}");

    // The same again, as by a probe that is not sure it was heard: the same readings.
    farm.broker.publish("timed/other/p1", &json!({ "t": "58.5", "ms": second.as_millisecond() }).to_string());
    farm.broker.publish("named/other", &json!({ "t": 61, "id": 17 }).to_string());
    // Just as warm a while later, which is another reading.
    farm.broker.publish("plain/other/p2", "49.25");
    assert_eq!(subscriber.arrived("other", 4).await.len(), 4);
    assert!(subscriber.stop().success());
    let tally = &subscriber.lines("probe messages since the start")[0];
    assert_eq!((&tally["recorded"], &tally["known"], &tally["unusable"]), (&5.into(), &2.into(), &0.into()));
    assert_eq!(farm.serve().subscribed().await.events("other").await.len(), 4, "nothing is sent again");
}

#[tokio::test]
async fn a_bays_reading_goes_to_the_batch_that_lay_there_when_it_was_taken() {
    let farm = Farm::new().await;
    let subscriber = farm.serve().subscribed().await;
    let moved = json!({ "at": ago(600), "move": { "to_bay": "west" } });
    let entries = json!({ "entries": [{ "event": moved }] });
    post(&subscriber.server, "/v1/farms/home/batches/heap/events", &entries).await;
    let fill = json!({ "at": ago(7200), "addition": { "feedstock": "grass_mowings", "mass_kg": 90 } });
    let entries = json!({ "entries": [{ "event": fill }] });
    post(&subscriber.server, "/v1/farms/home/batches/heap/events", &entries).await;

    let message = |seconds: i64| json!({ "t": 131, "at": ago(seconds), "air": { "c": 7 } }).to_string();
    farm.broker.publish("bay/home/east/core", &message(1200));
    assert_eq!(subscriber.arrived("heap", 3).await.len(), 3);
    farm.broker.publish("bay/home/east/core", &message(300));
    farm.broker.publish("bay/home/west/core", &message(300));
    assert_eq!(
        subscriber.arrived("heap", 4).await.len(),
        4,
        "it came to `west` after the batch that is there"
    );
    let told = subscriber.logged("a probe's message can't be used", 1).await;
    let reasons: Vec<&str> = told.iter().filter_map(|line| line["reason"].as_str()).collect();
    assert!(reasons[0].contains("no batch in bay `east`"), "{reasons:?}");
}

#[tokio::test]
async fn what_cannot_be_used_is_told_counted_and_not_sent_again() {
    let farm = Farm::new().await;
    let mut subscriber = farm.serve().subscribed().await;
    let timed = |t: f64, at: Timestamp| json!({ "t": t, "ms": at.as_millisecond() }).to_string();
    let bad = [
        ("timed/heap/p", "no JSON".to_owned(), "not JSON"),
        ("timed/heap/p", json!({ "ms": 1 }).to_string(), "nothing at `/t`"),
        ("timed/heap/p", timed(300.0, ago(1)), "/reading/temperature_c"),
        ("timed/heap/p", timed(50.0, Timestamp::UNIX_EPOCH), "366 days"),
        ("timed/heap/p", timed(50.0, ago(-200_000)), "366 days"),
        ("timed/none/p", timed(50.0, ago(1)), "no batch `none`"),
        ("bay/hill/east/core", json!({ "t": 50, "at": ago(1) }).to_string(), "`hill` is not among those"),
        ("bay/home/east/top", json!({ "t": 50, "at": ago(1), "air": { "c": 1 } }).to_string(), "core, edge"),
        ("plain/heap/p", "warm".to_owned(), "no number"),
    ];
    for (count, (topic, message, reason)) in bad.iter().enumerate() {
        farm.broker.publish(topic, message);
        let told = subscriber.logged("a probe's message can't be used", count + 1).await.remove(count);
        assert!(told["reason"].as_str().is_some_and(|told| told.contains(reason)), "{told}");
        assert_eq!((&told["topic"], &told["unusable"]), (&(*topic).into(), &(count + 1).into()));
    }
    farm.broker.publish("plain/heap/p", "50");
    assert_eq!(subscriber.arrived("heap", 1).await.len(), 1, "the good one is taken");
    assert!(subscriber.stop().success());
    let again = farm.serve().subscribed().await;
    farm.broker.publish("plain/heap/p", "51");
    again.arrived("heap", 2).await;
    assert_eq!(again.lines("a probe's message can't be used").len(), 0, "none of them is sent again");
}

#[tokio::test]
async fn a_farm_that_is_not_there_or_a_store_that_is_missing_is_told_at_the_start() {
    let farm = Farm::new().await;
    let write = |name: &str, text: &str| {
        let path = farm.folder.join(name);
        std::fs::write(&path, text).expect("a file can be written");
        path
    };
    let table = "[mqtt]\nbroker = \"mqtt://127.0.0.1:1\"\nclient_id = \"x\"\n[[mqtt.subscription]]\n\
                 topic = \"a/{bay}\"\nfarm = \"nowhere\"\npayload = \"number\"\n";
    let store = format!("store = \"sqlite:{}\"\n", farm.folder.join("records.db").display());
    for (file, reason) in [
        (write("farm.toml", &format!("listen = \"127.0.0.1:0\"\n{store}{table}")), "no farm `nowhere`"),
        (write("store.toml", &format!("listen = \"127.0.0.1:0\"\n{table}")), "set `store`"),
    ] {
        let output =
            std::process::Command::new(binary::path()).args(["serve", "--config"]).arg(file).output();
        let output = output.expect("it runs");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(!output.status.success() && told.contains(reason), "{told}");
    }
}
