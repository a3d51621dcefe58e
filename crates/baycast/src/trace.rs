//! One log line for each request, and the identifiers by which it is found again (W3C Trace Context).

use std::io::{self, IsTerminal};
use std::ops::Range;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;

use axum::extract::{MatchedPath, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, HeaderName, HeaderValue};
use axum::response::Response;
use bytes::Bytes;
use futures::FutureExt;
use futures::future::BoxFuture;
use tower::Service;
use tracing::{Instrument, Span};
use tracing_subscriber::EnvFilter;
use tracing_subscriber::filter::LevelFilter;

use crate::metrics::{Named, Requests};

/// The header of the W3C recommendation.
const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// Where the trace's id stands in it.
const TRACE_ID: Range<usize> = 3..35;

/// Where the id of the span does.
const SPAN_ID: Range<usize> = 36..52;

/// Where the flags do.
const FLAGS: Range<usize> = 53..55;

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

/// Starts logging to standard error, filtered by the variable `RUST_LOG`. A second start changes nothing.
pub fn start(form: Form) {
    let mut filter = EnvFilter::builder().with_default_directive(LevelFilter::INFO.into()).from_env_lossy();
    if !std::env::var(EnvFilter::DEFAULT_ENV).is_ok_and(|given| given.contains("sqlx")) {
        // A database that goes away is told once, by the records; the driver tells it of every connection.
        for driver in ["sqlx=error", "sqlx_core=error"] {
            filter = filter.add_directive(driver.parse().expect("a directive"));
        }
    }
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr);
    let log = log.with_ansi(io::stderr().is_terminal());
    let _ = match form {
        Form::Text => log.try_init(),
        Form::Json => log.json().flatten_event(true).with_span_list(false).try_init(),
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
        let (answer, requests) = (self.inner.call(request), self.requests.clone());
        async move { answer.await.map(|answer| told.answered(answer, &requests)) }.instrument(span).boxed()
    }
}
/// What is told of a request once it is answered.
struct Told {
    started: Instant,
    parent: Parent,
    is_feed: bool,
    named: Named,
}

impl Told {
    /// Of a request that comes in now, and the span that its answer is worked out in.
    fn of(request: &Request) -> (Self, Span) {
        let parent = Parent::of(request.headers());
        let (method, route) = (request.method(), route(request));
        let is_feed = route.starts_with(FEEDS);
        let span = if is_feed {
            tracing::debug_span!("request", %method, route, trace_id = parent.trace_id())
        } else {
            tracing::info_span!("request", %method, route, trace_id = parent.trace_id())
        };
        (Self { started: Instant::now(), parent, is_feed, named: Named::of(request) }, span)
    }

    /// Logs and counts the answer, and puts the request's names into its headers.
    fn answered(self, mut response: Response, requests: &Requests) -> Response {
        let latency = self.started.elapsed();
        requests.answered(&self.named, &response, latency);
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

/// The route as it is described, without what callers put into it: tokens of feed addresses stand in paths. What is no route
/// may hold one as well, and is not told; methods of gRPC are named by their paths.
fn route(request: &Request) -> &str {
    let matched = request.extensions().get::<MatchedPath>().map(MatchedPath::as_str);
    let content = request.headers().get(CONTENT_TYPE).map(HeaderValue::as_bytes);
    let method =
        content.filter(|content| content.starts_with(b"application/grpc")).map(|_| request.uri().path());
    matched.or(method).unwrap_or("none")
}

/// A place in a trace: the caller's trace, or a new one, and a span of our own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Parent {
    trace: u128,
    span: u64,
    flags: u8,
}

impl Parent {
    /// Continues the caller's trace where its header can be read.
    fn of(headers: &HeaderMap) -> Self {
        let given = headers.get(TRACEPARENT).and_then(|value| value.to_str().ok()).and_then(Self::read);
        let (trace, flags) = given.unwrap_or_else(|| (fastrand::u128(1..), 0));
        Self { trace, span: fastrand::u64(1..), flags }
    }

    /// Trace id and flags of `version-trace_id-parent_id-flags`. A version after 00 may have more behind it.
    fn read(header: &str) -> Option<(u128, u8)> {
        let mut parts = header.trim().split('-');
        let (version, trace, span, flags) = (parts.next()?, parts.next()?, parts.next()?, parts.next()?);
        let hexadecimal = |text: &str, digits| {
            text.len() == digits && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        };
        let well_formed = hexadecimal(version, 2)
            && version != "ff"
            && (version != "00" || parts.next().is_none())
            && hexadecimal(trace, 32)
            && hexadecimal(span, 16)
            && hexadecimal(flags, 2);
        if !well_formed || u64::from_str_radix(span, 16) == Ok(0) {
            return None;
        }
        let trace = u128::from_str_radix(trace, 16).ok().filter(|trace| *trace != 0)?;
        Some((trace, u8::from_str_radix(flags, 16).ok()?))
    }

    /// The trace's id, 32 hexadecimal digits.
    fn trace_id(&self) -> String {
        hex::encode(self.trace.to_be_bytes())
    }

    /// What names this place to others.
    fn header(&self) -> [u8; 55] {
        let mut header = *b"00-00000000000000000000000000000000-0000000000000000-00";
        let parts: [(&[u8], Range<usize>); 3] = [
            (&self.trace.to_be_bytes(), TRACE_ID),
            (&self.span.to_be_bytes(), SPAN_ID),
            (&[self.flags], FLAGS),
        ];
        for (bytes, place) in parts {
            // Each place is twice as long as its bytes.
            let _ = hex::encode_to_slice(bytes, &mut header[place]);
        }
        header
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_is_continued_where_the_header_is_well_formed() {
        // The example of the W3C recommendation "Trace Context" (2021), section 3.2.
        let given = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01";
        let headers = HeaderMap::from_iter([(TRACEPARENT, HeaderValue::from_static(given))]);
        let parent = Parent::of(&headers);
        assert_eq!(parent.trace_id(), "0af7651916cd43dd8448eb211c80319c");
        assert_eq!(parent.flags, 1);
        assert_ne!(parent.span, 0xb7ad_6b71_6920_3331);
        let told = parent.header();
        let told = std::str::from_utf8(&told).unwrap();
        assert_eq!(Parent::read(told), Some((parent.trace, parent.flags)));
        assert_eq!(u64::from_str_radix(&told[SPAN_ID], 16), Ok(parent.span));
    }

    #[test]
    fn a_header_that_is_none_starts_a_new_trace() {
        for wrong in [
            "",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331",
            "00-00000000000000000000000000000000-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-0000000000000000-01",
            "00-0AF7651916CD43DD8448EB211C80319C-b7ad6b7169203331-01",
            "ff-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01-more",
        ] {
            assert_eq!(Parent::read(wrong), None, "{wrong}");
        }
    }
}
