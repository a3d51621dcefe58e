//! `GET /v1/feedstocks` and `GET /v1/feedstocks/{feedstock}`.

#![allow(unused_qualifications, reason = "written by the route's attribute")]

use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_model::feedstock::Feedstock;
use baycast_service::feedstocks::MAX_PAGE_SIZE;
use baycast_service::{Error, Service};
use bytes::Bytes;
use serde::Serialize;
use utoipa::IntoParams;

use crate::authenticated::Admitted;
use crate::conditional;
use crate::pages::FeedstockPage;
use crate::parameters::Parameters;
use crate::problem::Problem;

/// Which part of the table to list.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "read by the description alone")]
pub struct PageQuery {
    /// At most this many, 1 to 200; 50 where absent or 0.
    #[param(minimum = 0)]
    page_size: Option<i64>,
    /// The `next_page_token` of the page before.
    page_token: Option<String>,
}

/// List the default feedstock table.
#[utoipa::path(
    get,
    path = "/v1/feedstocks",
    operation_id = "list_feedstocks",
    tag = "feedstocks",
    params(PageQuery),
    responses(
        (status = 200, description = "A page of the table", body = FeedstockPage),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        (status = 304, description = "The caller has it already"),
        (status = 422, description = "Parameters that cannot be used", body = Problem,
            content_type = "application/problem+json"),
    ),
    security(("key" = []))
)]
pub async fn list_feedstocks(
    State(service): State<Service>,
    _: Admitted,
    headers: HeaderMap,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let paging = parameters.read(|parameters| parameters.paging(MAX_PAGE_SIZE))?;
    let page = service.feedstocks(paging.page_size, &paging.page_token)?;
    Ok(json(&headers, &FeedstockPage::from(page))?)
}

/// Get one row of the default feedstock table.
#[utoipa::path(
    get,
    path = "/v1/feedstocks/{feedstock}",
    operation_id = "get_feedstock",
    tag = "feedstocks",
    params(("feedstock" = String, Path, description = "The feedstock's id")),
    responses(
        (status = 200, description = "The row", body = Feedstock),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        (status = 304, description = "The caller has it already"),
        (status = 404, description = "No such row", body = Problem, content_type = "application/problem+json"),
    ),
    security(("key" = []))
)]
pub async fn get_feedstock(
    State(service): State<Service>,
    _: Admitted,
    headers: HeaderMap,
    id: Result<Path<String>, PathRejection>,
) -> Result<Response, Problem> {
    let Path(id) = id.map_err(|_| Error::NotFound { what: "feedstock", name: "?".to_owned() })?;
    Ok(json(&headers, &service.feedstock(&id)?)?)
}

/// `value` as JSON, or 304.
fn json(headers: &HeaderMap, value: &impl Serialize) -> Result<Response, Error> {
    let text = serde_json::to_vec(value).map_err(|_| Error::Internal)?;
    Ok(conditional::answer(headers, Bytes::from(text)))
}
