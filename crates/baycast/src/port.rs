//! One port for both contracts and the board.

use axum::Router;
use axum::extract::{Request, State};
use axum::http::HeaderValue;
use axum::http::header::CONTENT_TYPE;
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use baycast_service::Service;
use tonic_health::server::HealthReporter;
use tower::ServiceExt;

use crate::{cors, trace};

/// Everything that is served, and the handle on what the gRPC health service says.
pub async fn router(
    service: Service,
    more: Router,
    cors_origins: Vec<HeaderValue>,
) -> Result<(Router, HealthReporter), Box<dyn std::error::Error + Send + Sync>> {
    let (grpc, health) = baycast_grpc::router(service.clone()).await?;
    let app = baycast_rest::router(service.clone())
        .merge(baycast_board::router(service))
        .merge(more)
        .layer(middleware::from_fn_with_state(grpc, by_content_type))
        .layer(middleware::from_fn(trace::request));
    Ok((cors::allow(app, cors_origins), health))
}

/// Hands calls of gRPC and gRPC-Web to `grpc`, everything else on to REST.
async fn by_content_type(State(grpc): State<Router>, request: Request, rest: Next) -> Response {
    let content_type = request.headers().get(CONTENT_TYPE);
    if content_type.is_some_and(|value| value.as_bytes().starts_with(b"application/grpc")) {
        grpc.oneshot(request).await.into_response()
    } else {
        rest.run(request).await
    }
}
