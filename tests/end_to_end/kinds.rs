//! Every kind of error with its HTTP status and gRPC code, side by side.

use std::fmt::Write;
use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use baycast_model::problem::Problems;
use baycast_service::error::{Conflict, Outage, Quantity};
use baycast_service::{Error, Limits, Service};
use tower::ServiceExt;

/// One error of each kind.
fn one_of_each() -> [Error; 14] {
    let mut problems = Problems::default();
    problems.add("/barrow_m3", 9, "0.01 to 0.5");
    [
        Error::Malformed { pointer: "/bay".to_owned(), detail: "expected value".to_owned() },
        Error::Invalid(problems),
        Error::TooLarge { what: Quantity::Events, limit: 10_000, given: Some(20_000) },
        Error::UnsupportedMediaType { given: "text/plain".to_owned(), accepted: "application/json" },
        Error::NotFound { what: "feedstock", name: "granite".to_owned() },
        Error::Unauthenticated,
        Error::Forbidden { needed: "write" },
        Error::Conflict(Conflict::Exists { what: "bay", name: "pallet-2".to_owned() }),
        Error::Stale { given: 1, current: 2 },
        Error::Unavailable { outage: Outage::Reach, retry_after_s: 1 },
        Error::Busy { retry_after_s: 1 },
        Error::TooOften { retry_after_s: 1 },
        Error::Deadline,
        Error::Internal,
    ]
}

/// Where a kind stands in `one_of_each`. A kind that is new does not compile until it stands there.
fn place(error: &Error) -> usize {
    match error {
        Error::Malformed { .. } => 0,
        Error::Invalid(_) => 1,
        Error::TooLarge { .. } => 2,
        Error::UnsupportedMediaType { .. } => 3,
        Error::NotFound { .. } => 4,
        Error::Unauthenticated => 5,
        Error::Forbidden { .. } => 6,
        Error::Conflict(_) => 7,
        Error::Stale { .. } => 8,
        Error::Unavailable { .. } => 9,
        Error::Busy { .. } => 10,
        Error::TooOften { .. } => 11,
        Error::Deadline => 12,
        Error::Internal => 13,
    }
}

#[test]
fn each_kind_has_one_status_and_one_code() {
    let mut table = String::new();
    for (index, error) in one_of_each().iter().enumerate() {
        assert_eq!(place(error), index);
        let status = baycast_rest::problem::status(error).as_u16();
        let code = baycast_grpc::status::code(error);
        writeln!(table, "{:<23}{status}  {code:?}", error.kind()).expect("a string can be written to");
    }
    let expected = "\
malformed              400  InvalidArgument
invalid                422  InvalidArgument
too_large              413  OutOfRange
unsupported_media_type 415  InvalidArgument
not_found              404  NotFound
unauthenticated        401  Unauthenticated
forbidden              403  PermissionDenied
conflict               409  AlreadyExists
stale                  412  Aborted
unavailable            503  Unavailable
busy                   503  ResourceExhausted
too_often              429  ResourceExhausted
deadline               504  DeadlineExceeded
internal               500  Internal
";
    assert_eq!(table, expected);
}

#[tokio::test]
async fn an_estimate_that_takes_too_long_is_answered_as_out_of_time() {
    let limits = Limits { timeout: Duration::ZERO, ..Limits::default() };
    let service = Service::new(limits, Arc::new(|| jiff::civil::date(2026, 7, 1)));
    let request = Request::post("/v1/estimates").header("content-type", "application/json");
    let request = request.body(Body::from(crate::histories::full().to_string())).expect("a request");
    let answer = baycast_rest::router(service).oneshot(request).await.expect("a router answers");
    assert_eq!(answer.status(), StatusCode::GATEWAY_TIMEOUT);
    assert_eq!(answer.headers()["content-type"], "application/problem+json");
}
