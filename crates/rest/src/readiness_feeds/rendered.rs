//! Bytes that are handed out until something changes, with what tells a caller that they have them already.

use std::io::Write;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use axum::body::Body;
use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, ETAG, IF_MODIFIED_SINCE, IF_NONE_MATCH,
    LAST_MODIFIED, VARY,
};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::response::Response;
use baycast_service::readiness::Readiness;
use bytes::Bytes;
use flate2::Compression;
use flate2::write::GzEncoder;
use jiff::Timestamp;
use jiff::fmt::rfc2822::{DateTimeParser, DateTimePrinter};
use jiff::tz::TimeZone;
use tokio::time::Instant;

use crate::conditional::{holds, tag};

/// Shorter ones are sent as they are.
const WORTH_COMPRESSING_BYTES: usize = 512;

/// How long after it was rendered an answer is dated. A date is to the second: two changes within one would share it, and
/// whoever saw the first would never be sent the second. After this long no more come of that second.
const DATED_AFTER: Duration = Duration::from_secs(2);

/// Headers of an answer, those included that are added on its way out.
const MOST_HEADERS: usize = 12;

/// An answer at hand.
#[derive(Debug)]
pub struct Rendered {
    bytes: Bytes,
    compressed: OnceLock<Bytes>,
    /// Headers of the bytes as they are, and compressed.
    heads: [OnceLock<HeaderMap>; 2],
    media_type: &'static str,
    tag: HeaderValue,
    dates: Arc<Dates>,
}

/// When what is told of a farm last changed, and since when that is known.
#[derive(Debug)]
pub struct Dates {
    changed: Timestamp,
    header: Option<HeaderValue>,
    since: Instant,
}

impl Dates {
    /// Of a farm as it is told from now on.
    pub fn of(farm: &Readiness) -> Self {
        let changed = changed_at(farm);
        let header = DateTimePrinter::new().timestamp_to_rfc9110_string(&changed).ok();
        let header = header.and_then(|date| HeaderValue::from_str(&date).ok());
        Self { changed, header, since: Instant::now() }
    }

    /// The date to send, once it can be relied on.
    fn told(&self) -> Option<&HeaderValue> {
        self.header.as_ref().filter(|_| self.since.elapsed() >= DATED_AFTER)
    }

    /// Whether the caller says to have what was there at a time since which nothing changed.
    fn unchanged_for(&self, request: &HeaderMap) -> bool {
        let given = request.get(IF_MODIFIED_SINCE).and_then(|value| value.to_str().ok());
        let since = given.and_then(|text| DateTimeParser::new().parse_timestamp(text).ok());
        since.is_some_and(|since| self.changed.as_second() <= since.as_second()) && self.told().is_some()
    }
}

/// When what is told of a farm last changed, the turn of its day included.
pub fn changed_at(farm: &Readiness) -> Timestamp {
    let zone = TimeZone::get(&farm.time_zone).unwrap_or(TimeZone::UTC);
    let day = zone.to_timestamp(farm.as_of.at(0, 0, 0, 0)).unwrap_or(Timestamp::MIN);
    farm.changed_at.map_or(day, |changed| changed.max(day))
}

impl Rendered {
    /// These bytes, true since those dates.
    pub fn new(bytes: Vec<u8>, media_type: &'static str, dates: Arc<Dates>) -> Self {
        Self {
            tag: HeaderValue::from_str(&tag(&bytes)).unwrap_or(HeaderValue::from_static("W/\"\"")),
            bytes: bytes.into(),
            compressed: OnceLock::new(),
            heads: <[_; 2]>::default(),
            media_type,
            dates,
        }
    }

    /// The answer to a request: 304 where the caller has it (RFC 9110 section 13.2.2), else the bytes, compressed once for
    /// all who take them so.
    pub fn answer(&self, request: &HeaderMap) -> Response {
        let held = if request.contains_key(IF_NONE_MATCH) {
            holds(request, self.tag.to_str().unwrap_or_default())
        } else {
            self.dates.unchanged_for(request)
        };
        let mut response = Response::new(Body::empty());
        if held {
            *response.status_mut() = StatusCode::NOT_MODIFIED;
            *response.headers_mut() = self.validators();
            return response;
        }
        let compressed = self.bytes.len() >= WORTH_COMPRESSING_BYTES && takes_gzip(request);
        *response.headers_mut() = self.head(compressed);
        let bytes = if compressed { self.compressed().clone() } else { self.bytes.clone() };
        *response.body_mut() = Body::from(bytes);
        response
    }

    /// Headers of every answer.
    fn validators(&self) -> HeaderMap {
        let mut headers = HeaderMap::with_capacity(MOST_HEADERS);
        headers.insert(ETAG, self.tag.clone());
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("private, no-cache"));
        headers.insert(VARY, HeaderValue::from_static("accept-encoding"));
        if let Some(date) = self.dates.told() {
            headers.insert(LAST_MODIFIED, date.clone());
        }
        headers
    }

    /// Headers of an answer with bytes: once they are dated, put together once for all.
    fn head(&self, compressed: bool) -> HeaderMap {
        let put_together = || {
            let mut headers = self.validators();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static(self.media_type));
            if compressed {
                headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
            }
            headers
        };
        match self.dates.told() {
            Some(_) => self.heads[usize::from(compressed)].get_or_init(put_together).clone(),
            None => put_together(),
        }
    }

    fn compressed(&self) -> &Bytes {
        self.compressed.get_or_init(|| {
            let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
            // Writing into memory cannot fail.
            let written = encoder.write_all(&self.bytes).and_then(|()| encoder.finish());
            written.map_or_else(|_| self.bytes.clone(), Bytes::from)
        })
    }
}

/// Whether the caller takes gzip (RFC 9110 section 12.5.3).
fn takes_gzip(request: &HeaderMap) -> bool {
    let taken = request.get_all(ACCEPT_ENCODING).iter().filter_map(|value| value.to_str().ok());
    taken.flat_map(|value| value.split(',')).any(|coding| {
        let (name, weight) =
            coding.split_once(';').map_or((coding, None), |(name, weight)| (name, Some(weight)));
        let weight = weight.and_then(|weight| weight.trim().strip_prefix("q="));
        let weight = weight.and_then(|weight| weight.trim().parse::<f64>().ok());
        name.trim().eq_ignore_ascii_case("gzip") && weight.unwrap_or(1.0) > 0.0
    })
}
