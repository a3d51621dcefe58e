//! Requests by route, method and outcome, with the time until their answers began.
//!
//! Counting waits for nobody: a series has its place in a table, found by its hash, and is a few numbers that are added to.

use std::fmt::{self, Display};
use std::hash::{BuildHasher, Hash};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::time::Duration;

use axum::extract::{MatchedPath, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::{Method, StatusCode};
use axum::response::Response;
use foldhash::fast::RandomState;
use opentelemetry::KeyValue;
use prometheus_client::encoding::{DescriptorEncoder, NoLabelSet};
use prometheus_client::metrics::MetricType;

/// Places for series: several times as many as there are routes with their outcomes. What finds none is not counted.
const PLACES: usize = 8192;

/// The method of whatever has none that is known.
const OTHER: &str = "other";

/// Upper bounds of the histogram, s.
const BOUNDS_S: [f64; 10] = [0.001, 0.005, 0.025, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0, 30.0];

/// The route of a request as it is described.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Route {
    /// One of REST, the board or a feed.
    Matched(MatchedPathText),
    /// A method of gRPC.
    Called(&'static str),
    /// What is nowhere.
    Nowhere,
}

/// A matched path, compared by its text.
#[derive(Clone, Debug)]
struct MatchedPathText(MatchedPath);

impl PartialEq for MatchedPathText {
    fn eq(&self, other: &Self) -> bool {
        self.0.as_str() == other.0.as_str()
    }
}

impl Eq for MatchedPathText {}

impl Hash for MatchedPathText {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.0.as_str().hash(state);
    }
}

/// What a request is counted under.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Named {
    method: &'static str,
    route: Route,
}

impl Named {
    /// What `request` is counted under. Callers choose neither routes nor methods: any that are unknown are one.
    pub fn of(request: &Request) -> Self {
        let matched = request.extensions().get::<MatchedPath>().cloned();
        let is_call = || {
            let content = request.headers().get(CONTENT_TYPE);
            content.is_some_and(|content| content.as_bytes().starts_with(b"application/grpc"))
        };
        let route = match matched {
            Some(path) => Route::Matched(MatchedPathText(path)),
            None if is_call() => {
                baycast_grpc::method(request.uri().path()).map_or(Route::Nowhere, Route::Called)
            }
            None => Route::Nowhere,
        };
        let known = [Method::GET, Method::POST, Method::PUT, Method::DELETE, Method::HEAD, Method::OPTIONS];
        let names = ["GET", "POST", "PUT", "DELETE", "HEAD", "OPTIONS"];
        let method = known.iter().position(|own| own == request.method()).map_or(OTHER, |at| names[at]);
        Self { method, route }
    }

    /// What tells of it in a span (semantic conventions of OpenTelemetry).
    pub fn attributes(&self) -> Vec<KeyValue> {
        match &self.route {
            Route::Called(_) => {
                let method = self.route().trim_start_matches('/').to_owned();
                vec![KeyValue::new("rpc.system.name", "grpc"), KeyValue::new("rpc.method", method)]
            }
            Route::Matched(_) => {
                vec![self.http_method(), KeyValue::new("http.route", self.route().to_owned())]
            }
            Route::Nowhere => vec![self.http_method()],
        }
    }

    fn http_method(&self) -> KeyValue {
        KeyValue::new("http.request.method", if self.method == OTHER { "_OTHER" } else { self.method })
    }

    /// The route as it is described, without what callers put into it: tokens of feed addresses stand in paths. What is no
    /// route may hold one as well, and is not told; methods of gRPC are named by their paths.
    pub fn route(&self) -> &str {
        match &self.route {
            Route::Matched(MatchedPathText(path)) => path.as_str(),
            Route::Called(method) => method,
            Route::Nowhere => "none",
        }
    }
}

/// As a span is named.
impl Display for Named {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let method = if self.method == OTHER { "HTTP" } else { self.method };
        match self.route {
            Route::Called(method) => f.write_str(method.trim_start_matches('/')),
            Route::Matched(_) => write!(f, "{method} {}", self.route()),
            Route::Nowhere => f.write_str(method),
        }
    }
}

/// How a request was answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// With a status of HTTP.
    Http(StatusCode),
    /// The code of gRPC that stood at the head of the answer; 0 where the answer itself follows.
    Grpc(u8),
}

impl Outcome {
    /// What the head of an answer tells.
    pub fn of(named: &Named, answer: &Response) -> Self {
        if let Route::Called(_) = named.route {
            let code = answer.headers().get("grpc-status").and_then(|code| code.to_str().ok()?.parse().ok());
            return Self::Grpc(code.unwrap_or(0));
        }
        Self::Http(answer.status())
    }

    /// The HTTP status, or the name of the gRPC code.
    fn label(self) -> String {
        match self {
            Self::Http(status) => status.as_u16().to_string(),
            Self::Grpc(code) => format!("{:?}", baycast_grpc::status::named(code)),
        }
    }

    /// What tells of it in a span (semantic conventions of OpenTelemetry).
    pub fn attribute(self) -> KeyValue {
        match self {
            Self::Http(status) => KeyValue::new("http.response.status_code", i64::from(status.as_u16())),
            Self::Grpc(_) => KeyValue::new("rpc.response.status_code", self.name()),
        }
    }

    /// The HTTP status, or the gRPC code as its specification writes it.
    pub fn name(self) -> String {
        let mut name = String::new();
        for letter in self.label().chars() {
            if letter.is_uppercase() && !name.is_empty() {
                name.push('_');
            }
            name.push(letter.to_ascii_uppercase());
        }
        name
    }

    /// Whether it is no fault of the caller's, by the same conventions.
    pub fn is_own_fault(self) -> bool {
        match self {
            Self::Http(status) => status.is_server_error(),
            Self::Grpc(code) => matches!(code, 2 | 4 | 12..=15),
        }
    }
}

/// Requests of one kind with one outcome.
#[derive(Debug)]
struct Series {
    named: Named,
    outcome: Outcome,
    /// How many took at most so long, and more than the bound before; the last took longer than all.
    counts: [AtomicU64; BOUNDS_S.len() + 1],
    /// What all of them took, µs.
    sum_us: AtomicU64,
}

impl Series {
    fn add(&self, took: Duration) {
        let seconds = took.as_secs_f64();
        let place = BOUNDS_S.iter().position(|bound| seconds <= *bound).unwrap_or(BOUNDS_S.len());
        self.counts[place].fetch_add(1, Relaxed);
        self.sum_us.fetch_add(took.as_micros() as u64, Relaxed);
    }
}

/// All requests since the start.
#[derive(Debug)]
pub struct Requests {
    hasher: RandomState,
    places: Box<[OnceLock<Series>]>,
}

impl Default for Requests {
    fn default() -> Self {
        Self {
            hasher: RandomState::default(),
            places: std::iter::repeat_with(OnceLock::new).take(PLACES).collect(),
        }
    }
}

impl Requests {
    /// Counts a request that was answered.
    pub fn answered(&self, named: &Named, outcome: Outcome, took: Duration) {
        let first = self.hasher.hash_one((named, outcome)) as usize;
        for step in 0..PLACES {
            let series = self.places[(first + step) % PLACES].get_or_init(|| Series {
                named: named.clone(),
                outcome,
                counts: Default::default(),
                sum_us: AtomicU64::new(0),
            });
            if series.outcome == outcome && series.named == *named {
                return series.add(took);
            }
        }
    }

    /// Writes all series.
    pub fn encode(&self, encoder: &mut DescriptorEncoder) -> fmt::Result {
        let mut family = encoder.encode_descriptor(
            "request_duration_seconds",
            "Requests by route, and the time until their answers began",
            None,
            MetricType::Histogram,
        )?;
        for series in self.places.iter().filter_map(OnceLock::get) {
            let outcome = series.outcome.label();
            let labels = [
                ("method", series.named.method),
                ("route", series.named.route()),
                ("status", outcome.as_str()),
            ];
            let bounds = BOUNDS_S.into_iter().chain([f64::INFINITY]);
            let counts = series.counts.iter().map(|count| count.load(Relaxed));
            let buckets: Vec<(f64, u64)> = bounds.zip(counts).collect();
            let count = buckets.iter().map(|(_, count)| count).sum();
            let sum = series.sum_us.load(Relaxed) as f64 / 1e6;
            family.encode_family(&labels)?.encode_histogram::<NoLabelSet>(sum, count, &buckets, None)?;
        }
        Ok(())
    }
}
