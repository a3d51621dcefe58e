//! Spans for those who gather them (OpenTelemetry, sent by OTLP over gRPC).
//!
//! Exported are spans of the target `spans` alone, which no log shows: of a request, and in it of a piece of work, the wait for
//! a worker, and a session of the database. What no request asked for is not exported. They hold routes and outcomes, and
//! nothing that a caller chose. What has no flag here (headers, sampling, the service's name and attributes, time limits) is
//! told by the `OTEL_` variables of the OpenTelemetry specification.

use std::str::FromStr;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::time::Duration;

use axum::extract::Request;
use axum::http::Uri;
use opentelemetry::trace::{
    SpanContext, SpanId, Status, TraceContextExt, TraceFlags, TraceId, TraceState, TracerProvider,
};
use opentelemetry::{Context, KeyValue};
use opentelemetry_otlp::tonic_types::transport::ClientTlsConfig;
use opentelemetry_otlp::{WithExportConfig, WithTonicConfig};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::error::OTelSdkResult;
use opentelemetry_sdk::trace::{SdkTracerProvider, SpanData, SpanExporter};
use tracing::{Span, Subscriber};
use tracing_opentelemetry::OpenTelemetrySpanExt;
use tracing_subscriber::Layer;
use tracing_subscriber::filter::dynamic_filter_fn;
use tracing_subscriber::registry::LookupSpan;

use super::parent::Parent;
use crate::metrics::{Named, Outcome};

/// The header with what others have to say of the trace.
const TRACESTATE: &str = "tracestate";

/// The name of a request's span in the process.
const REQUEST: &str = "request";

/// How long who gathers spans is waited for at the end.
const LAST_WAIT: Duration = Duration::from_secs(5);

/// Where spans are sent; empty for nowhere, which is how OpenTelemetry reads an empty variable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Endpoint(String);

impl FromStr for Endpoint {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let uri: Option<Uri> = text.parse().ok();
        let known = |uri: &Uri| uri.host().is_some() && matches!(uri.scheme_str(), Some("http" | "https"));
        if text.is_empty() || uri.as_ref().is_some_and(known) {
            Ok(Self(text.to_owned()))
        } else {
            Err("an address such as http://127.0.0.1:4317 or https://traces.example is taken".to_owned())
        }
    }
}

/// What sends spans, from its making on.
#[derive(Debug)]
pub struct Export(SdkTracerProvider);

impl Export {
    /// Sends to an endpoint, if it is one. Whether anyone is there turns out with the first spans. Needs a Tokio runtime.
    pub fn to(endpoint: &Endpoint) -> Result<Option<Self>, String> {
        if endpoint.0.is_empty() {
            return Ok(None);
        }
        let mut exporter =
            opentelemetry_otlp::SpanExporter::builder().with_tonic().with_endpoint(&endpoint.0);
        if endpoint.0.starts_with("https:") {
            exporter = exporter.with_tls_config(ClientTlsConfig::new().with_native_roots());
        }
        let exporter = exporter.build().map_err(|error| format!("`otlp_endpoint`: {error}"))?;
        let telling = Telling { exporter, failing: AtomicBool::new(false) };
        let version = KeyValue::new("service.version", env!("CARGO_PKG_VERSION"));
        let mut resource = Resource::builder();
        // What the environment says is stronger.
        let attributes = std::env::var("OTEL_RESOURCE_ATTRIBUTES").unwrap_or_default();
        if std::env::var_os("OTEL_SERVICE_NAME").is_none() && !attributes.contains("service.name=") {
            resource = resource.with_service_name("baycast");
        }
        let resource = resource.with_attribute(version).build();
        let provider =
            SdkTracerProvider::builder().with_resource(resource).with_batch_exporter(telling).build();
        Ok(Some(Self(provider)))
    }

    /// Takes in what is to be exported.
    pub fn layer<S: Subscriber + for<'a> LookupSpan<'a>>(&self) -> impl Layer<S> + use<S> {
        tracing_opentelemetry::layer()
            .with_tracer(self.0.tracer("baycast"))
            .with_location(false)
            .with_target(false)
            .with_threads(false)
            .with_level(false)
            .with_tracked_inactivity(false)
            .with_filter(dynamic_filter_fn(|metadata, inside| {
                metadata.is_span()
                    && metadata.target() == "spans"
                    && (metadata.name() == REQUEST || inside.lookup_current().is_some())
            }))
    }

    /// Sends what is left.
    pub async fn end(self) {
        let ended = tokio::task::spawn_blocking(move || self.0.shutdown_with_timeout(LAST_WAIT)).await;
        if let Ok(Err(error)) = ended {
            tracing::warn!(%error, "the last spans were not sent");
        }
    }
}

/// An exporter that tells once when nothing can be sent, and once when it can be again.
#[derive(Debug)]
struct Telling<E> {
    exporter: E,
    failing: AtomicBool,
}

impl<E: SpanExporter> SpanExporter for Telling<E> {
    async fn export(&self, batch: Vec<SpanData>) -> OTelSdkResult {
        let sent = self.exporter.export(batch).await;
        match &sent {
            Ok(()) if self.failing.swap(false, Relaxed) => tracing::info!("spans are sent again"),
            Err(error) if !self.failing.swap(true, Relaxed) => {
                tracing::warn!(%error, "spans are not sent, and lost until they can be");
            }
            _ => {}
        }
        sent
    }

    fn shutdown_with_timeout(&self, timeout: Duration) -> OTelSdkResult {
        self.exporter.shutdown_with_timeout(timeout)
    }

    fn force_flush(&self) -> OTelSdkResult {
        self.exporter.force_flush()
    }

    fn set_resource(&mut self, resource: &Resource) {
        self.exporter.set_resource(resource);
    }
}

/// The span of a request, whose place becomes `place`; one that is off where nothing is exported.
///
/// Names are those of the semantic conventions of OpenTelemetry for HTTP and for RPC.
pub fn span(request: &Request, named: &Named, place: &mut Parent) -> Span {
    let span = tracing::info_span!(
        target: "spans",
        REQUEST,
        otel.kind = "server",
        otel.name = %named,
    );
    if span.is_disabled() {
        return span;
    }
    if let Some(caller) = place.caller {
        let state = request.headers().get(TRACESTATE).and_then(|state| state.to_str().ok()?.parse().ok());
        let caller = SpanContext::new(
            TraceId::from_bytes(place.trace.to_be_bytes()),
            SpanId::from_bytes(caller.to_be_bytes()),
            TraceFlags::new(place.flags),
            true,
            state.unwrap_or(TraceState::NONE),
        );
        // It has just been made, and nobody asked for its context.
        let _ = span.set_parent(Context::new().with_remote_span_context(caller));
    }
    for KeyValue { key, value, .. } in named.attributes() {
        span.set_attribute(key, value);
    }
    let context = span.context();
    let own = context.span().span_context().clone();
    place.trace = u128::from_be_bytes(own.trace_id().to_bytes());
    place.span = u64::from_be_bytes(own.span_id().to_bytes());
    place.flags = own.trace_flags().to_u8();
    span
}

/// Notes how a request was answered.
pub fn answered(span: &Span, outcome: Outcome) {
    if span.is_disabled() {
        return;
    }
    let KeyValue { key, value, .. } = outcome.attribute();
    span.set_attribute(key, value);
    if outcome.is_own_fault() {
        span.set_attribute("error.type", outcome.name());
        span.set_status(Status::error(""));
    }
}
