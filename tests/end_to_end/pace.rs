//! How often one key, one feed and one address may call.

use baycast_grpc::proto::ListFarmsRequest;
use baycast_grpc::proto::records_service_client::RecordsServiceClient;
use serde_json::{Value, json};
use tonic::transport::Channel;
use tonic::{Code, Request, Status};
use tonic_types::StatusExt;

use crate::databases::Database;
use crate::http::{Answer, send};
use crate::server::Server;

/// A server on which one caller may make three requests at once and one every second.
fn server(database: &Database) -> Server {
    Server::with(&["--store", &database.url, "--requests-per-second", "1", "--burst", "3"])
}

/// A key from the command line, which is counted by nobody.
fn key(database: &Database, name: &str) -> String {
    let mut command = std::process::Command::new(crate::binary::path());
    let output = command
        .args(["keys", "create", name, "--store", &database.url, "--scope", "admin", "--all-farms"])
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{output:?}");
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    told.split_whitespace().find(|word| word.starts_with("bck_")).expect("a key").to_owned()
}

/// Asks for a path with a key, or without.
async fn ask(server: &Server, path: &str, key: Option<&str>) -> Answer {
    let bearer = key.map(|key| format!("Bearer {key}"));
    let headers: Vec<_> = bearer.iter().map(|bearer| ("authorization", bearer.as_str())).collect();
    send(server, "GET", path, &headers, axum::body::Body::empty()).await
}

/// How often a path is answered with another status than 429 when it is asked for ten times, and the answer to who asks too
/// often.
async fn answered(server: &Server, path: &str, key: Option<&str>) -> (usize, Option<Answer>) {
    let (mut answered, mut refused) = (0, None);
    for _ in 0..10 {
        let answer = ask(server, path, key).await;
        if answer.status == 429 { refused = Some(answer) } else { answered += 1 }
    }
    (answered, refused)
}

/// How many of ten requests at once are answered: three, and one for each second that they took.
fn few(answered: usize) -> bool {
    (3..9).contains(&answered)
}

#[tokio::test]
async fn each_key_has_its_own_share() {
    let database = Database::sqlite();
    let (first, second) = (key(&database, "first"), key(&database, "second"));
    let server = server(&database);
    let (count, refused) = answered(&server, "/v1/farms", Some(&first)).await;
    assert!(few(count), "{count}");
    let refused = refused.expect("who asks too often is told");
    assert_eq!(refused.header("retry-after"), "1");
    let problem = refused.json();
    assert_eq!(
        (&problem["type"], &problem["status"]),
        (&json!("urn:baycast:problem:too_often"), &json!(429))
    );
    assert_eq!(ask(&server, "/v1/farms", Some(&second)).await.status, 200, "another key has its own");
    assert_eq!(ask(&server, "/livez", Some(&first)).await.status, 200);
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    assert_eq!(ask(&server, "/v1/farms", Some(&first)).await.status, 200, "it is served when it comes back");
}

#[tokio::test]
async fn over_grpc_the_same_share_is_told_with_its_delay() {
    let database = Database::sqlite();
    let key = key(&database, "first");
    let server = server(&database);
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    let mut client = RecordsServiceClient::new(endpoint.connect().await.expect("a connection"));
    let mut call = async |key: Option<&str>| {
        let mut request = Request::new(ListFarmsRequest::default());
        if let Some(key) = key {
            let bearer = format!("Bearer {key}").parse().expect("ASCII");
            request.metadata_mut().insert("authorization", bearer);
        }
        client.list_farms(request).await.map(drop)
    };
    let is_refused = |answer: &Result<(), Status>| {
        answer.as_ref().is_err_and(|status| status.code() == Code::ResourceExhausted)
    };
    for (shown, otherwise) in [(Some(key.as_str()), None), (None, Some(Code::Unauthenticated))] {
        let mut answers = Vec::new();
        for _ in 0..10 {
            answers.push(call(shown).await);
        }
        let (refused, others): (Vec<_>, Vec<_>) = answers.into_iter().partition(is_refused);
        assert!(few(others.len()), "{}", others.len());
        assert!(
            others.iter().all(|answer| answer.as_ref().err().map(Status::code) == otherwise),
            "{others:?}"
        );
        let status = refused[0].as_ref().expect_err("it is refused");
        let delay = status.get_details_retry_info().expect("a hint").retry_delay;
        assert_eq!(delay, Some(std::time::Duration::from_secs(1)));
    }
}

#[tokio::test]
async fn who_shows_no_key_or_a_wrong_one_is_counted_by_address() {
    let database = Database::sqlite();
    let good = key(&database, "first");
    let server = server(&database);
    let (count, refused) = answered(&server, "/v1/feedstocks", None).await;
    assert!(few(count) && refused.is_some(), "{count}");
    let mut wrong = 0;
    for guess in 0..10 {
        let answer = ask(&server, "/v1/farms", Some(&format!("bck_{guess}"))).await;
        wrong += usize::from(answer.status == 401);
    }
    assert!(few(wrong), "{wrong} guesses were looked up");
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    assert_eq!(ask(&server, "/v1/farms", Some(&good)).await.status, 200);
    tokio::time::sleep(std::time::Duration::from_secs(4)).await;
    let mut tokens = 0;
    for guess in 0..10 {
        let answer = ask(&server, &format!("/feeds/guess-{guess}/readiness.csv"), None).await;
        tokens += usize::from(answer.status == 404);
    }
    assert!(few(tokens), "{tokens} guesses were looked up");
}

#[tokio::test]
async fn each_feed_has_its_own_share() {
    let database = Database::sqlite();
    let key = key(&database, "first");
    let planting = Server::on(&database);
    let bearer = format!("Bearer {key}");
    let headers = [("authorization", bearer.as_str()), ("content-type", "application/json")];
    let post = async |path: &str, body: Value| {
        let answer = send(&planting, "POST", path, &headers, body.to_string()).await;
        assert!(answer.status.is_success(), "{}", answer.json());
        answer.json()
    };
    post(
        "/v1/farms",
        json!({ "id": "home", "name": "Home", "site": { "latitude_deg": 52 }, "time_zone": "UTC" }),
    )
    .await;
    let mut path =
        async || post("/v1/farms/home/feeds", json!({})).await["path"].as_str().expect("a path").to_owned();
    let (first, second) = (path().await, path().await);
    drop(planting);
    let server = server(&database);
    let (count, refused) = answered(&server, &format!("{first}/readiness.csv"), None).await;
    assert!(few(count) && refused.is_some(), "{count}");
    assert_eq!(ask(&server, &format!("{second}/readiness.csv"), None).await.status, 200);
}

#[tokio::test]
async fn on_loopback_nobody_is_counted_unless_it_is_asked_for() {
    let server = Server::start();
    for _ in 0..300 {
        assert_eq!(ask(&server, "/v1/feedstocks/grass_mowings", None).await.status, 200);
    }
}
