//! A broker that is ended and started again and again while probes publish: each reading arrives, once.

use std::time::Duration;

use jiff::Timestamp;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::Packet;
use rumqttc::v5::{AsyncClient, Event, MqttOptions};
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

use super::farm::{Farm, temperatures};
use crate::http::get;

/// Probes that publish at the same time, readings of each, and the time between two.
const PROBES: usize = 4;
const READINGS: usize = 120;
const PAUSE: Duration = Duration::from_millis(25);
/// How often the broker is ended, how long it is there, and how long it is away.
const ENDS: usize = 3;
const THERE: Duration = Duration::from_millis(400);
const AWAY: Duration = Duration::from_millis(300);
/// How long a probe may take until all of its readings are taken.
const PATIENCE: Duration = Duration::from_mins(1);

/// A reading's temperature: no other has the same.
fn temperature(probe: usize, reading: usize) -> String {
    format!("{}.{reading:03}5", 20 + probe)
}

/// A probe that measures, whoever listens, and keeps what was not acknowledged; it ends once all is.
fn probe(port: u16, number: usize, began_ms: u64) -> JoinHandle<()> {
    let mut options = MqttOptions::new(format!("probe-{number}"), "127.0.0.1", port);
    options.set_clean_start(false).set_session_expiry_interval(Some(3600));
    let (client, mut events) = AsyncClient::new(options, READINGS);
    let measuring = async move {
        for reading in 0..READINGS {
            let (t, ms) = (temperature(number, reading), began_ms + reading as u64);
            let message = format!("{{\"t\": {t}, \"ms\": {ms}}}");
            let topic = format!("timed/heap/p{number}");
            client.publish(topic, QoS::AtLeastOnce, false, message).await.expect("the probe runs");
            sleep(PAUSE).await;
        }
        // The session is kept by whoever speaks.
        client
    };
    let speaking = async move {
        let mut acknowledged = 0;
        while acknowledged < READINGS {
            match events.poll().await {
                Ok(Event::Incoming(Packet::PubAck(_))) => acknowledged += 1,
                Ok(_) => {}
                Err(_) => sleep(Duration::from_millis(50)).await,
            }
        }
    };
    tokio::spawn(async move {
        let both = timeout(PATIENCE, async { tokio::join!(measuring, speaking) }).await;
        drop(both.expect("every reading is acknowledged in the end"));
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_broker_ended_again_and_again_loses_and_doubles_no_reading() {
    let mut farm = Farm::new().await;
    let mut subscriber = farm.serve().subscribed().await;
    let began_ms = Timestamp::now().as_millisecond().unsigned_abs();
    let probes: Vec<_> = (0..PROBES).map(|number| probe(farm.broker.port, number, began_ms)).collect();
    for end in 1..=ENDS {
        sleep(THERE).await;
        farm.broker.stop();
        sleep(AWAY).await;
        assert_eq!(get(&subscriber.server, "/readyz").await.status, 200, "it serves all the same");
        farm.broker.restart();
        subscriber.logged("connected to the MQTT broker", end + 1).await;
    }
    for probe in probes {
        probe.await.expect("no probe fails");
    }
    let events = subscriber.arrived("heap", PROBES * READINGS).await;
    let expected =
        (0..PROBES).flat_map(|probe| (0..READINGS).map(move |reading| temperature(probe, reading)));
    assert_eq!(temperatures(&events), expected.collect());
    let told = subscriber.lines("no connection to the MQTT broker").len();
    assert!((ENDS..=2 * ENDS).contains(&told), "once for each reason: {}", subscriber.text());
    assert!(subscriber.stop().success());
    println!("after {ENDS} ends: {}", subscriber.lines("probe messages since the start")[0]);
    assert_eq!(farm.serve().subscribed().await.events("heap").await.len(), PROBES * READINGS);
}
