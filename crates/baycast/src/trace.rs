//! One log line for each request, and the identifiers by which it is found again (W3C Trace Context).

mod export;
mod parent;

use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;

use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue};
use axum::response::Response;
use bytes::Bytes;
use futures::FutureExt;
use futures::future::BoxFuture;
use tower::Service;
use tracing::{Instrument, Span};
use tracing_subscriber::filter::LevelFilter;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{EnvFilter, Layer, Registry};

use crate::metrics::{Named, Outcome, Requests};
pub use export::{Endpoint, Export};
use parent::{Parent, TRACE_ID, TRACEPARENT};

/// The header that other tools look for.
const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// How log lines are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Form {
    /// For a person.
    Text,
    /// For a program: one JSON object a line.
    Json,
}

/// Starts logging to standard error, filtered by the variable `RUST_LOG`, and the export of spans. A second start changes
/// nothing.
pub fn start(form: Form, export: Option<&Export>) {
    let mut filter = EnvFilter::builder().with_default_directive(LevelFilter::INFO.into()).from_env_lossy();
    if !std::env::var(EnvFilter::DEFAULT_ENV).is_ok_and(|given| given.contains("sqlx")) {
        // A database that goes away is told once, by the records; the driver tells it of every connection.
        for driver in ["sqlx=error", "sqlx_core=error"] {
            filter = filter.add_directive(driver.parse().expect("a directive"));
        }
    }
    // These are for export alone.
    let filter = filter.add_directive("spans=off".parse().expect("a directive"));
    let log = tracing_subscriber::fmt::layer::<Registry>().with_writer(io::stderr);
    let log = log.with_ansi(io::stderr().is_terminal());
    let log = match form {
        Form::Text => log.boxed(),
        Form::Json => log.json().flatten_event(true).with_span_list(false).boxed(),
    };
    let subscriber = tracing_subscriber::registry();
    let _ = match export {
        Some(export) => subscriber.with(log.with_filter(filter)).with(export.layer()).try_init(),
        // A filter for all makes what nobody takes cost nothing.
        None => subscriber.with(log).with(filter).try_init(),
    };
}

/// What begins the routes of feeds.
const FEEDS: &str = "/feeds/";

/// A service whose requests are each logged and counted, without their content, and named in the answer's headers.
///
/// Feeds are asked for again and again by programs that nobody sits at: their good answers are told at the level of debugging.
#[derive(Clone)]
pub struct Traced<S> {
    /// What answers.
    pub inner: S,
    /// Counts what was answered.
    pub requests: Arc<Requests>,
}

impl<S> Service<Request> for Traced<S>
where
    S: Service<Request, Response = Response, Future: Send + 'static>,
{
    type Response = Response;
    type Error = S::Error;
    type Future = BoxFuture<'static, Result<Response, S::Error>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request) -> Self::Future {
        let (told, span) = Told::of(&request);
        let (answer, requests, exported) =
            (self.inner.call(request), self.requests.clone(), told.exported.clone());
        let answered = async move { answer.await.map(|answer| told.answered(answer, &requests)) };
        answered.instrument(span).instrument(exported).boxed()
    }
}

/// What is told of a request once it is answered.
struct Told {
    started: Instant,
    parent: Parent,
    is_feed: bool,
    named: Named,
    /// What is exported of it.
    exported: Span,
}

impl Told {
    /// Of a request that comes in now, and the span that its answer is worked out in.
    fn of(request: &Request) -> (Self, Span) {
        let (named, mut parent) = (Named::of(request), Parent::of(request.headers()));
        let exported = export::span(request, &named, &mut parent);
        let (method, route) = (request.method(), named.route());
        let is_feed = route.starts_with(FEEDS);
        let span = if is_feed {
            tracing::debug_span!("request", %method, route, trace_id = parent.trace_id())
        } else {
            tracing::info_span!("request", %method, route, trace_id = parent.trace_id())
        };
        (Self { started: Instant::now(), parent, is_feed, named, exported }, span)
    }

    /// Logs and counts the answer, and puts the request's names into its headers.
    fn answered(self, mut response: Response, requests: &Requests) -> Response {
        let latency = self.started.elapsed();
        let outcome = Outcome::of(&self.named, &response);
        requests.answered(&self.named, outcome, latency);
        export::answered(&self.exported, outcome);
        let latency_ms = latency.as_secs_f64() * 1000.0;
        let status = response.status();
        if self.is_feed && !status.is_server_error() {
            tracing::debug!(status = status.as_u16(), latency_ms, "answered");
        } else {
            tracing::info!(status = status.as_u16(), latency_ms, "answered");
        }
        let traceparent = Bytes::copy_from_slice(&self.parent.header());
        let trace_id = traceparent.slice(TRACE_ID);
        for (name, value) in [(TRACEPARENT, traceparent), (REQUEST_ID, trace_id)] {
            if let Ok(value) = HeaderValue::from_maybe_shared(value) {
                response.headers_mut().insert(name, value);
            }
        }
        response
    }
}
