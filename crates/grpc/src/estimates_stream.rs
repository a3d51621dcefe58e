//! `StreamEstimates`.

use std::sync::{Arc, OnceLock};

use baycast_service::{Error, Service, until_silent};
use futures::{Stream, StreamExt, future, stream};
use tonic::{Status, Streaming};

use crate::convert;
use crate::estimates::input;
use crate::proto::stream_estimates_response::Outcome;
use crate::proto::{StreamEstimatesRequest, StreamEstimatesResponse};
use crate::status;

/// Answers each request in its place until the caller has sent all of them.
///
/// Where the caller's side breaks off, or sends what is no message, everything before that is still answered,
/// and the call then ends with the reason.
pub fn stream_estimates(
    service: &Service,
    requests: Streaming<StreamEstimatesRequest>,
) -> Result<impl Stream<Item = Result<StreamEstimatesResponse, Status>> + Send + use<>, Status> {
    let place = service.open_stream().map_err(|error| status::of(&error))?;
    let broken = Arc::new(OnceLock::new());
    let break_off = broken.clone();
    let inputs = until_silent(requests, service.limits().stream_idle).scan((), move |(), request| {
        future::ready(match request {
            Ok(Ok(request)) => Some(input(request.history)),
            Ok(Err(reason)) => {
                break_off.get_or_init(|| reason);
                None
            }
            Err(silent) => Some(Err(silent)),
        })
    });
    let answers = service.estimates(stream::iter(1..).zip(inputs)).map(move |(line, answer)| {
        let _held_to_the_end = &place;
        Ok(StreamEstimatesResponse { line, outcome: Some(outcome(answer)) })
    });
    let reason = stream::once(async move { broken.get().cloned() });
    Ok(answers.chain(reason.filter_map(|reason| future::ready(reason.map(Err)))))
}

/// An answer or the problem in its place.
fn outcome(answer: Result<baycast_model::estimate::Estimate, Error>) -> Outcome {
    match answer {
        Ok(estimate) => Outcome::Estimate(estimate.into()),
        Err(error) => Outcome::Problem(convert::problem(&error)),
    }
}
