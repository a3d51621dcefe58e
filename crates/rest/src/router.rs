//! All routes, with what holds for each of them.

use axum::Router;
use axum::http::HeaderMap;
use axum::routing::get;
use baycast_service::Service;
use bytes::Bytes;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, NotForContentType, Predicate};
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::{conditional, estimates, estimates_stream, feedstocks, health, problem};

/// What the description says about the whole.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "baycast",
        description = "Compost maturity forecasts: a batch's history in, its readiness windows out.",
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
    ),
    tags(
        (name = "estimates", description = "From a history to an estimate. Nothing is kept."),
        (name = "feedstocks", description = "The default feedstock table, with the source of each value."),
        (name = "health", description = "For whoever runs the service."),
    )
)]
struct Description;

/// The REST side of the port.
pub fn router(service: Service) -> Router {
    let (routes, description) = described();
    let description = Bytes::from(description);
    // A stream's lines are sent as they come, which a compressor would hold back.
    let compressed = DefaultPredicate::new().and(NotForContentType::const_new("application/x-ndjson"));
    routes
        .with_state(service)
        .route(
            "/openapi.json",
            get(async move |headers: HeaderMap| conditional::answer(&headers, description.clone())),
        )
        .fallback(problem::no_route)
        .method_not_allowed_fallback(problem::no_method)
        .layer(CompressionLayer::new().compress_when(compressed))
}

/// The OpenAPI 3.1 description, as JSON.
#[must_use]
pub fn openapi() -> String {
    described().1
}

/// The routes with their description.
fn described() -> (Router<Service>, String) {
    let (routes, description) = OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(estimates::estimate_maturity))
        .routes(routes!(estimates_stream::stream_estimates))
        .routes(routes!(feedstocks::list_feedstocks))
        .routes(routes!(feedstocks::get_feedstock))
        .routes(routes!(health::livez))
        .routes(routes!(health::readyz))
        .split_for_parts();
    let description = description.to_pretty_json().unwrap_or_default();
    (routes, description)
}
