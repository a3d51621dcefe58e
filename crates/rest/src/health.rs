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
        (status = 503, description = "It is shutting down, or its records are away or take nothing: the text says which", body = String, content_type = "text/plain"),
    ))]
pub async fn readyz(State(service): State<Service>) -> (StatusCode, String) {
    match service.outage() {
        None => (StatusCode::OK, "ready\n".to_owned()),
        Some(outage) => (StatusCode::SERVICE_UNAVAILABLE, format!("{outage}\n")),
    }
}
