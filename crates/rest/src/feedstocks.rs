//! `GET /v1/feedstocks` and `GET /v1/feedstocks/{feedstock}`.

#![allow(unused_qualifications, reason = "written by the route's attribute")]

use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_model::feedstock::Feedstock;
use baycast_model::problem::Problems;
use baycast_service::pointer::escaped;
use baycast_service::{Error, Service};
use bytes::Bytes;
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};

use crate::conditional;
use crate::problem::Problem;

/// One page of the table.
#[derive(Debug, Serialize, ToSchema)]
pub struct FeedstockPage {
    /// Rows in the order of their ids.
    items: Vec<Feedstock>,
    /// Where the next page starts; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    next_page_token: Option<String>,
}

/// Which part of the table to list.
#[derive(Debug, Default, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PageQuery {
    /// At most this many, 1 to 200; 50 where absent or 0.
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
        (status = 304, description = "The caller has it already"),
        (status = 422, description = "Parameters that cannot be used", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn list_feedstocks(
    State(service): State<Service>,
    headers: HeaderMap,
    query: Result<Query<Vec<(String, String)>>, QueryRejection>,
) -> Result<Response, Problem> {
    let query = page_query(query.map(|Query(pairs)| pairs).unwrap_or_default())?;
    let page = service.feedstocks(query.page_size, query.page_token.as_deref().unwrap_or_default())?;
    Ok(json(&headers, &FeedstockPage { items: page.items, next_page_token: page.next_page_token })?)
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
        (status = 304, description = "The caller has it already"),
        (status = 404, description = "No such row", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_feedstock(
    State(service): State<Service>,
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

/// Reads the query, refusing what it doesn't know by name.
fn page_query(pairs: Vec<(String, String)>) -> Result<PageQuery, Error> {
    let (mut query, mut problems) = (PageQuery::default(), Problems::default());
    for (name, value) in pairs {
        match name.as_str() {
            "page_size" => match value.parse() {
                Ok(size) => query.page_size = Some(size),
                Err(_) => problems.add("/page_size", format!("{value:?}"), "a whole number, 1 to 200"),
            },
            "page_token" => query.page_token = Some(value),
            name => problems.add(
                format!("/{}", escaped(name)),
                format!("{value:?}"),
                "only the parameters page_size, page_token",
            ),
        }
    }
    problems.into_result().map_err(Error::Invalid)?;
    Ok(query)
}
