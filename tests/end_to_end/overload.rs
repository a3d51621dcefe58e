//! More than the service can take in: some are turned away at once with a time to come back, the rest served.

use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use futures::future::join_all;
use serde_json::{Value, json};

use crate::histories::full;
use crate::http::estimate;
use crate::server::Server;

/// A history that takes a while.
fn slow() -> Value {
    let mut history = full();
    let events = history["events"].as_array_mut().expect("events");
    for day in 1..=28 {
        events.push(json!({ "at": format!("2026-06-{day:02}T06:00:00Z"), "watering": { "litres": 1 } }));
    }
    history["horizon_days"] = 730.into();
    history["forecast_step_days"] = 1.into();
    history
}

#[tokio::test]
async fn a_full_queue_turns_away_and_serves_again() {
    let server = Server::with(&["--concurrency", "1", "--queue", "1"]);
    let history = slow();
    let answers = join_all((0..12).map(|_| estimate(&server, &history))).await;
    let (mut served, mut turned_away) = (0, 0);
    for answer in answers {
        match answer.status.as_u16() {
            200 => served += 1,
            503 => {
                turned_away += 1;
                assert_eq!(answer.header("retry-after"), "1");
                assert_eq!(answer.json()["type"], "urn:baycast:problem:busy");
            }
            other => panic!("{other}: {}", answer.json()),
        }
    }
    assert!(served >= 2, "one at work and one waiting: {served} served, {turned_away} turned away");
    assert!(turned_away >= 1, "{served} served, {turned_away} turned away");
    assert_eq!(estimate(&server, &history).await.status, 200);
}

#[tokio::test]
async fn the_same_over_grpc() {
    use baycast_grpc::proto::{EstimateMaturityRequest, History};
    use tonic_types::StatusExt;

    use crate::messages::{addition, event, pallet};

    let server = Server::with(&["--concurrency", "1", "--queue", "0"]);
    let events =
        (1..=30).map(|day| event(&format!("2026-04-{day:02}"), addition("grass_mowings", 20.0))).collect();
    let history = History { horizon_days: Some(730), ..pallet("slow", "2026-09-30", events) };
    let endpoint = tonic::transport::Channel::from_shared(format!("http://{}", server.address));
    let channel = endpoint.expect("an address").connect().await.expect("the server takes connections");
    let answers = join_all((0..8).map(|_| {
        let mut client = MaturityServiceClient::new(channel.clone());
        let request = EstimateMaturityRequest { history: Some(history.clone()) };
        async move { client.estimate_maturity(request).await }
    }))
    .await;
    let (served, turned_away): (Vec<_>, Vec<_>) = answers.into_iter().partition(Result::is_ok);
    assert!(!served.is_empty() && !turned_away.is_empty(), "{} of 8 served", served.len());
    for status in turned_away.into_iter().filter_map(Result::err) {
        assert_eq!(status.code(), tonic::Code::ResourceExhausted, "{status}");
        let delay = status.get_details_retry_info().expect("a hint").retry_delay;
        assert_eq!(delay, Some(std::time::Duration::from_secs(1)));
    }
}
