//! One port for both contracts and the board.

use std::sync::Arc;

use axum::Router;
use axum::extract::Request;
use axum::http::HeaderValue;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use baycast_rest::problem;
use baycast_service::Service;
use tonic_health::server::HealthReporter;
use tower::ServiceExt;
use tower::layer::layer_fn;

use crate::cors;
use crate::metrics::Requests;
use crate::pace::Paced;
use crate::trace::Traced;

/// Everything that is served, and the handle on what the gRPC health service says.
pub async fn router(
    service: Service,
    more: Router,
    cors_origins: Vec<HeaderValue>,
    behind_proxy: bool,
    requests: Arc<Requests>,
) -> Result<(Router, HealthReporter), Box<dyn std::error::Error + Send + Sync>> {
    let (grpc, health) = baycast_grpc::router(service.clone()).await?;
    let mut app = baycast_rest::router(service.clone())
        .merge(baycast_board::router(service.clone()))
        .merge(more)
        .fallback(async move |request: Request| elsewhere(grpc, request).await);
    if service.rates().is_some() {
        app = app.layer(layer_fn(move |inner| Paced { inner, service: service.clone(), behind_proxy }));
    }
    let app = app.layer(layer_fn(move |inner| Traced { inner, requests: requests.clone() }));
    Ok((cors::allow(app, cors_origins), health))
}

/// What is no route of REST or the board: calls of gRPC and gRPC-Web, whose paths are none of theirs, and what is nowhere.
async fn elsewhere(grpc: Router, request: Request) -> Response {
    let content_type = request.headers().get(CONTENT_TYPE);
    if content_type.is_some_and(|value| value.as_bytes().starts_with(b"application/grpc")) {
        grpc.oneshot(request).await.into_response()
    } else {
        problem::no_route(request.uri()).into_response()
    }
}
