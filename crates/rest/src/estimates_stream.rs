//! `POST /v1/estimates:stream`.

use std::convert::Infallible;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use baycast_model::estimate::Estimate;
use baycast_service::{Error, Input, Service};
use futures::StreamExt;

use crate::authenticated::Admitted;
use crate::lines::lines;
use crate::media_type::Content;
use crate::problem::Problem;

/// Estimate any number of batches.
///
/// Takes one history a line and answers one estimate a line, in the same order and while lines are still
/// coming. A line that cannot be answered gets a problem document in its place, with its `line` number.
#[utoipa::path(
    post,
    path = "/v1/estimates:stream",
    operation_id = "stream_estimates",
    tag = "estimates",
    request_body(content = String, content_type = "application/x-ndjson", description = "One `History` a line"),
    responses(
        (status = 200, description = "One `Estimate` or `Problem` a line", body = String,
            content_type = "application/x-ndjson"),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        (status = 415, description = "Not said to be NDJSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Too many streams; `Retry-After` says when to come back", body = Problem,
            content_type = "application/problem+json"),
    ),
    security(("key" = []))
)]
pub async fn stream_estimates(
    State(service): State<Service>,
    _: Admitted,
    request: Request,
) -> Result<Response, Problem> {
    Content::Lines.expect(request.headers())?;
    let place = service.open_stream()?;
    let lines = lines(request.into_body(), service.limits());
    let inputs = lines.map(|(number, line)| (number, line.map(Input::Json)));
    let answers = service.estimates(inputs).map(move |(number, answer)| {
        let _held_to_the_end = &place;
        Ok::<_, Infallible>(line(number, &answer))
    });
    Ok(([(CONTENT_TYPE, "application/x-ndjson")], Body::from_stream(answers)).into_response())
}

/// An answer as a line of JSON.
fn line(number: u64, answer: &Result<Estimate, Error>) -> Vec<u8> {
    let text = match answer {
        Ok(estimate) => serde_json::to_vec(estimate),
        Err(error) => serde_json::to_vec(&Problem::at_line(error, number)),
    };
    let failed = || serde_json::to_vec(&Problem::at_line(&Error::Internal, number)).unwrap_or_default();
    let mut line = text.unwrap_or_else(|_| failed());
    line.push(b'\n');
    line
}
