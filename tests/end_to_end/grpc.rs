//! gRPC: both kinds of call, errors with their details, deadlines, health, on the port that REST has.

use std::sync::Arc;
use std::time::Duration;

use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use baycast_grpc::proto::stream_estimates_response::Outcome;
use baycast_grpc::proto::{
    Addition, Belief, Construction, Cover, EstimateMaturityRequest, Event, GetFeedstockRequest, History,
    Layer, Lesson, ListFeedstocksRequest, Reading, Site, Stage, StreamEstimatesRequest, Turn, Unknown, Wall,
    event::Detail,
};
use baycast_service::{Limits, Service};
use futures::{StreamExt, stream};
use serde_json::json;
use tonic::metadata::MetadataMap;
use tonic::transport::Channel;
use tonic::{Code, Request};
use tonic_types::StatusExt;

use crate::http::send;
use crate::messages::{addition, event, pallet};
use crate::server::Server;

/// A client of `server`.
async fn client(server: &Server) -> MaturityServiceClient<Channel> {
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    MaturityServiceClient::new(endpoint.connect().await.expect("the server takes connections"))
}

/// A short history.
fn history(batch: &str) -> History {
    let events = vec![
        event("2026-04-01", addition("grass_mowings", 200.0)),
        event("2026-04-01", addition("shredded_prunings", 100.0)),
        event("2026-04-02", Detail::Reading(Reading { temperature_c: Some(38.5), ..Reading::default() })),
    ];
    History { horizon_days: Some(1), forecast_step_days: Some(1), ..pallet(batch, "2026-04-03", events) }
}

/// What an earlier batch taught of the pace, and one more belief.
fn lesson(second: Belief) -> Lesson {
    let first = Belief { unknown: Unknown::Kinetics.into(), factor: Some(1.1), log_deviation: Some(0.1) };
    Lesson { batches: vec!["autumn".to_owned()], beliefs: vec![first, second] }
}

/// A call that lasts as long as it takes.
fn call(history: History) -> EstimateMaturityRequest {
    EstimateMaturityRequest { history: Some(history) }
}

#[tokio::test]
async fn estimate_maturity() {
    let server = Server::start();
    let answer = client(&server).await.estimate_maturity(call(history("one"))).await.expect("an estimate");
    let estimate = answer.into_inner().estimate.expect("an estimate");
    assert_eq!((estimate.batch.as_str(), estimate.stage()), ("one", Stage::Filling));
    let over_rest = crate::http::estimate(&server, &crate::histories::short("one")).await.json();
    assert_eq!(json!(estimate.now.expect("a state").mass_kg), over_rest["now"]["mass_kg"]);
}

#[tokio::test]
async fn the_feedstock_table_page_by_page() {
    let server = Server::start();
    let mut client = client(&server).await;
    let (mut page_token, mut ids) = (String::new(), Vec::new());
    loop {
        let request = ListFeedstocksRequest { page_size: 9, page_token };
        let page = client.list_feedstocks(request).await.expect("a page").into_inner();
        ids.extend(page.items.into_iter().map(|row| row.id));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(ids.len(), baycast_model::default_feedstocks().len());
    assert!(ids.is_sorted());
    let request = GetFeedstockRequest { feedstock: ids[3].clone() };
    let row = client.get_feedstock(request).await.expect("a row").into_inner().feedstock.expect("a row");
    assert_eq!(row.id, ids[3]);
    let unknown = client.get_feedstock(GetFeedstockRequest { feedstock: "granite".to_owned() }).await;
    assert_eq!(unknown.expect_err("no such row").code(), Code::NotFound);
}

#[tokio::test]
async fn each_wrong_field_is_named_with_its_value_and_what_is_taken() {
    let server = Server::start();
    let mut client = client(&server).await;
    let wrong = |edit: fn(&mut History)| {
        let mut history = history("wrong");
        edit(&mut history);
        history
    };
    let cases: [(&str, History); 18] = [
        ("history", History::default()),
        ("bay", wrong(|history| history.bay = None)),
        ("site.latitude_deg", wrong(|history| history.site = Some(Site::default()))),
        ("bay.wall", wrong(|history| history.bay.as_mut().expect("a bay").wall = None)),
        (
            "bay.wall.construction",
            wrong(|history| history.bay.as_mut().expect("a bay").wall = Some(Wall::default())),
        ),
        (
            "bay.wall.layers[0].thickness_m",
            wrong(|history| {
                let layers = vec![Layer { thickness_m: None, conductivity_w_m_k: Some(0.1) }];
                let construction = Construction::Block.into();
                history.bay.as_mut().expect("a bay").wall = Some(Wall { construction, layers });
            }),
        ),
        ("bay.top", wrong(|history| history.bay.as_mut().expect("a bay").top = 77)),
        ("as_of", wrong(|history| history.as_of = Some("soon".to_owned()))),
        ("events[2].at", wrong(|history| history.events[2].at = String::new())),
        ("events[2]", wrong(|history| history.events[2].detail = None)),
        (
            "events[2].reading.temperature_c",
            wrong(|history| {
                let reading = Reading { temperature_c: Some(180.0), ..Reading::default() };
                history.events[2].detail = Some(Detail::Reading(reading));
            }),
        ),
        (
            "events[0].addition.mass_kg",
            wrong(|history| {
                let feedstock = "grass_mowings".to_owned();
                let addition = Addition { feedstock, mass_kg: Some(f64::NAN), ..Addition::default() };
                history.events[0].detail = Some(Detail::Addition(addition));
            }),
        ),
        ("lesson.beliefs[1].unknown", wrong(|history| history.lesson = Some(lesson(Belief::default())))),
        (
            "lesson.beliefs[1].unknown",
            wrong(|history| history.lesson = Some(lesson(Belief { unknown: 77, ..Belief::default() }))),
        ),
        (
            "lesson.beliefs[1].log_deviation",
            wrong(|history| {
                let belief =
                    Belief { unknown: Unknown::HeatLoss.into(), factor: Some(1.1), log_deviation: None };
                history.lesson = Some(lesson(belief));
            }),
        ),
        (
            "lesson.beliefs[1].factor",
            wrong(|history| {
                let unknown = Unknown::SlowPart.into();
                let belief = Belief { unknown, factor: Some(115.0), log_deviation: Some(0.1) };
                history.lesson = Some(lesson(belief));
            }),
        ),
        (
            "events[2].cover.state",
            wrong(|history| {
                history.events[2].detail = Some(Detail::Cover(Cover::default()));
            }),
        ),
        (
            "events[0].at",
            wrong(|history| {
                history.events.truncate(2);
                history.events[0] =
                    Event { at: "2026-03-01".to_owned(), id: None, detail: Some(Detail::Turn(Turn {})) };
            }),
        ),
    ];
    for (field, history) in cases {
        let request = EstimateMaturityRequest { history: (field != "history").then_some(history) };
        let status = client.estimate_maturity(request).await.expect_err(field);
        assert_eq!(status.code(), Code::InvalidArgument, "{field}");
        let violations = status.get_details_bad_request().expect("details").field_violations;
        let fields: Vec<_> = violations.iter().map(|violation| violation.field.as_str()).collect();
        assert!(fields.contains(&field), "{field} expected, {fields:?} given");
        let description = &violations[0].description;
        assert!(description.contains(" given, accepted: "), "{description}");
    }
    let good = client.estimate_maturity(call(history("right"))).await;
    assert!(good.is_ok());
}

#[tokio::test]
async fn a_message_that_is_too_large_is_refused() {
    let server = Server::start();
    let mut history = history("large");
    history.events = vec![history.events[2].clone(); 10_001];
    let status = client(&server).await.estimate_maturity(call(history.clone())).await.expect_err("too many");
    assert_eq!(status.code(), Code::OutOfRange);
    assert_eq!(status.get_details_bad_request().expect("details").field_violations[0].field, "events");
    history.batch = "x".repeat(9 << 20);
    let status = client(&server).await.estimate_maturity(call(history)).await.expect_err("too long");
    assert_eq!(status.code(), Code::OutOfRange);
}

#[tokio::test]
async fn a_stream_keeps_its_order_and_answers_a_bad_element_in_its_place() {
    let server = Server::start();
    let requests = (1..=40).map(|number| {
        let mut history = history(&format!("batch {number}"));
        if number % 10 == 7 {
            history.bay = None;
        }
        StreamEstimatesRequest { history: Some(history) }
    });
    let answers = client(&server).await.stream_estimates(stream::iter(requests)).await.expect("a stream");
    let answers: Vec<_> = answers.into_inner().map(|answer| answer.expect("an answer")).collect().await;
    assert_eq!(answers.len(), 40);
    for (number, answer) in (1..).zip(answers) {
        assert_eq!(answer.line, number);
        match answer.outcome.expect("an outcome") {
            Outcome::Estimate(estimate) => assert_eq!(estimate.batch, format!("batch {number}")),
            Outcome::Problem(problem) => {
                assert_eq!(number % 10, 7);
                assert_eq!(problem.r#type, "urn:baycast:problem:invalid");
                assert_eq!(problem.code, i32::from(Code::InvalidArgument));
                assert_eq!(problem.errors[0].pointer, "/bay");
            }
        }
    }
}

#[tokio::test]
async fn a_stream_answers_while_it_is_still_being_sent() {
    let server = Server::start();
    let (send, requests) = tokio::sync::mpsc::channel(1);
    let requests = stream::unfold(requests, async |mut requests| {
        requests.recv().await.map(|request| (request, requests))
    });
    let mut client = client(&server).await;
    let ask = |number: u64| StreamEstimatesRequest { history: Some(history(&number.to_string())) };
    send.send(ask(1)).await.expect("the stream is open");
    let mut answers = client.stream_estimates(requests).await.expect("a stream").into_inner();
    for number in 1..=3 {
        let answer = tokio::time::timeout(Duration::from_secs(20), answers.next()).await.expect("in time");
        assert_eq!(answer.expect("one more").expect("an answer").line, number);
        send.send(ask(number + 1)).await.expect("the stream is open");
    }
    drop(send);
    assert_eq!(answers.count().await, 1);
}

#[tokio::test]
async fn a_callers_deadline_is_kept() {
    // Without a channel between: a channel watches the deadline too, and gives up by itself.
    let service = Service::new(Limits::default(), Arc::new(|| jiff::civil::date(2026, 7, 1)));
    let (router, _) = baycast_grpc::router(service).await.expect("the descriptors can be read");
    let mut client = MaturityServiceClient::new(router);
    let with_timeout = |timeout: &str, mut metadata: MetadataMap| {
        metadata.insert("grpc-timeout", timeout.parse().expect("a header"));
        metadata
    };
    for (timeout, code) in [("1n", Code::DeadlineExceeded), ("1 hour", Code::InvalidArgument)] {
        let mut request = Request::new(call(history("late")));
        *request.metadata_mut() = with_timeout(timeout, MetadataMap::new());
        assert_eq!(client.estimate_maturity(request).await.expect_err("too late").code(), code);
    }
    let mut request = Request::new(stream::pending());
    *request.metadata_mut() = with_timeout("50m", MetadataMap::new());
    let mut answers = client.stream_estimates(request).await.expect("a stream").into_inner();
    let ended = tokio::time::timeout(Duration::from_secs(20), answers.next()).await.expect("it ends");
    assert_eq!(ended.expect("a status").expect_err("too late").code(), Code::DeadlineExceeded);
}

#[tokio::test]
async fn the_health_service_says_that_it_serves() {
    use tonic_health::pb::health_check_response::ServingStatus;
    use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};

    let server = Server::start();
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    let mut client = HealthClient::new(endpoint.connect().await.expect("the server takes connections"));
    for service in ["", "baycast.v1.MaturityService"] {
        let request = HealthCheckRequest { service: service.to_owned() };
        let answer = client.check(request).await.expect("an answer").into_inner();
        assert_eq!(answer.status(), ServingStatus::Serving, "{service:?}");
    }
}

#[tokio::test]
async fn grpc_web_is_answered_over_http_1() {
    use prost::Message;

    let server = Server::start();
    let request = ListFeedstocksRequest { page_size: 2, page_token: String::new() }.encode_to_vec();
    let length = u32::try_from(request.len()).expect("a short message").to_be_bytes();
    let framed = [&[0], length.as_slice(), request.as_slice()].concat();
    let headers = [("content-type", "application/grpc-web+proto"), ("x-grpc-web", "1")];
    let answer = send(&server, "POST", "/baycast.v1.MaturityService/ListFeedstocks", &headers, framed).await;
    assert_eq!(answer.status, 200);
    let length = u32::from_be_bytes(answer.body[1..5].try_into().expect("four bytes")) as usize;
    let page =
        baycast_grpc::proto::ListFeedstocksResponse::decode(&answer.body[5..5 + length]).expect("a page");
    assert_eq!(page.items.len(), 2);
    let trailers = String::from_utf8_lossy(&answer.body[5 + length + 5..]).into_owned();
    assert!(trailers.contains("grpc-status:0"), "{trailers}");
}
