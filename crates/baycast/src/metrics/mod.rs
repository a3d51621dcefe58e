//! What goes on in the process, in figures for Prometheus (OpenMetrics text).
//!
//! Told on an address of its own, so that nobody who calls the service can read it and nobody who reads it needs a key. No
//! figure names a farm, a key or a path: requests are told by route.

mod figures;
mod requests;

use std::sync::Arc;

use axum::Router;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use prometheus_client::encoding::text::encode;
use prometheus_client::registry::Registry;

pub use figures::Sources;
pub use requests::{Named, Outcome, Requests};

/// The media type of OpenMetrics.
const OPENMETRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// What every figure's name begins with.
const PREFIX: &str = "baycast";

/// The route that tells the figures of `sources`.
pub fn router(sources: Sources) -> Router {
    let mut registry = Registry::with_prefix(PREFIX);
    registry.register_collector(Box::new(sources));
    let registry = Arc::new(registry);
    let tell = async move || {
        let mut text = String::new();
        match encode(&mut text, &registry) {
            Ok(()) => Ok(([(CONTENT_TYPE, OPENMETRICS)], text)),
            Err(_) => Err(StatusCode::INTERNAL_SERVER_ERROR),
        }
    };
    Router::new().route("/metrics", get(tell))
}
