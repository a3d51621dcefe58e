//! `GET /livez` and `GET /readyz`.

use axum::extract::State;
use axum::http::StatusCode;
use baycast_service::Service;

/// Whether the process runs.
#[utoipa::path(get, path = "/livez", operation_id = "livez", tag = "health",
    responses((status = 200, description = "It runs", body = String, content_type = "text/plain")))]
pub async fn livez() -> &'static str {
    "alive\n"
}

/// Whether new work should be sent here.
#[utoipa::path(get, path = "/readyz", operation_id = "readyz", tag = "health",
    responses(
        (status = 200, description = "Send work", body = String, content_type = "text/plain"),
        (status = 503, description = "It is shutting down", body = String, content_type = "text/plain"),
    ))]
pub async fn readyz(State(service): State<Service>) -> (StatusCode, &'static str) {
    if service.is_ready() {
        (StatusCode::OK, "ready\n")
    } else {
        (StatusCode::SERVICE_UNAVAILABLE, "draining\n")
    }
}
