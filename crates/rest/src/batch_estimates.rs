//! `GET /v1/farms/{farm}/batches/{batch}/estimate`.

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_model::estimate::Estimate;
use baycast_service::Service;
use baycast_service::records::Asked;

use crate::authenticated::Authenticated;
use crate::conditional::holds;
use crate::kept;
use crate::names::Names;
use crate::parameters::{DATE, Parameters};
use crate::problem::Problem;
use crate::refusals::Refusals;

/// Estimate a batch from what is recorded.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches/{batch}/estimate",
    operation_id = "estimate_batch",
    tag = "batches",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("batch" = String, Path, description = "The batch's id"),
        ("as_of" = Option<String>, Query, format = Date, description = "The day to estimate for, an RFC 3339 full-date; today where \
            absent"),
        ("ready_by" = Option<Vec<String>>, Query, description = "Days for which to say how probable it is that each \
            window has opened by then, RFC 3339 full-dates, repeated or parted by commas: at most 24, none twice, \
            after the first addition and not beyond the horizon"),
        ("compare_futures" = Option<bool>, Query, description = "Whether to say what could be done and what would come \
            of it: `futures` in the answer"),
        ("pool" = Option<bool>, Query, description = "Whether to rest on what finished batches of the bay taught; as \
            the service is set where absent, which is `true` unless its operator says otherwise"),
    ),
    responses(
        (status = 200, description = "The estimate", body = Estimate),
        (status = 304, description = "The caller has it already; nothing was computed"),
        (status = 413, description = "The history is larger than is estimated", body = Problem,
            content_type = "application/problem+json"),
        (status = 504, description = "Out of time", body = Problem, content_type = "application/problem+json"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn estimate_batch(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    headers: HeaderMap,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let asked = parameters.read(|own| Asked {
        as_of: own.parsed("as_of", DATE),
        ready_by: own.list("ready_by", DATE),
        compare_futures: own.parsed("compare_futures", "true or false").unwrap_or_default(),
        forecast_step_days: None,
        pool: own.parsed("pool", "true or false"),
    })?;
    let held = |tag: &str| holds(&headers, &format!("\"{tag}\""));
    let answer = service.estimate_batch(&caller, &farm, &batch, asked, held).await?;
    Ok(match answer.estimate {
        Some(estimate) => kept::changed(&answer.etag, &*estimate),
        None => kept::unchanged(&answer.etag),
    })
}
