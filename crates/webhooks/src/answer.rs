//! What a receiver's answer means.

use std::time::Duration;

use http::header::RETRY_AFTER;
use http::{HeaderMap, StatusCode};
use jiff::Timestamp;
use jiff::fmt::rfc2822::DateTimeParser;

/// What came of an attempt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The receiver has the message.
    Taken(String),
    /// It has not; it may ask for time.
    Refused(String, Option<Duration>),
    /// It wants no more messages at all.
    Gone(String),
}

impl Answer {
    /// By the status and the headers, which came at `now`.
    pub fn of(status: StatusCode, headers: &HeaderMap, now: Timestamp) -> Self {
        let told = format!("answered {status}");
        match status {
            status if status.is_success() => Self::Taken(told),
            StatusCode::GONE => Self::Gone(told),
            StatusCode::TOO_MANY_REQUESTS | StatusCode::SERVICE_UNAVAILABLE => {
                Self::Refused(told, retry_after(headers, now))
            }
            status if status.is_redirection() => {
                Self::Refused(format!("{told}; redirects are not followed"), None)
            }
            _ => Self::Refused(told, None),
        }
    }

    /// No answer came.
    pub fn none(reason: impl Into<String>) -> Self {
        Self::Refused(reason.into(), None)
    }
}

/// How long the receiver asks to be left alone: seconds, or a date (RFC 9110 section 10.2.3).
fn retry_after(headers: &HeaderMap, now: Timestamp) -> Option<Duration> {
    let text = headers.get(RETRY_AFTER)?.to_str().ok()?.trim();
    if let Ok(seconds) = text.parse() {
        return Some(Duration::from_secs(seconds));
    }
    let then = DateTimeParser::new().parse_timestamp(text).ok()?;
    Duration::try_from(then.duration_since(now)).ok()
}

#[cfg(test)]
mod tests {
    use http::HeaderValue;

    use super::*;

    #[test]
    fn a_status_says_whether_it_was_taken_and_whether_to_come_again() {
        let none = HeaderMap::new();
        let of =
            |status: u16| Answer::of(StatusCode::from_u16(status).unwrap(), &none, Timestamp::UNIX_EPOCH);
        for status in [200, 201, 202, 204, 299] {
            assert!(matches!(of(status), Answer::Taken(_)), "{status}");
        }
        for status in [300, 301, 302, 307, 308, 400, 401, 404, 409, 429, 500, 502, 503, 599] {
            assert!(matches!(of(status), Answer::Refused(_, None)), "{status}");
        }
        assert_eq!(of(410), Answer::Gone("answered 410 Gone".to_owned()));
        let redirected = "answered 302 Found; redirects are not followed".to_owned();
        assert_eq!(of(302), Answer::Refused(redirected, None));
    }

    #[test]
    fn a_receiver_may_ask_for_time() {
        // The example of RFC 9110 section 5.6.7.
        let now: Timestamp = "1994-11-06T08:48:37Z".parse().unwrap();
        for (status, text, asked) in [
            (503, "120", Some(120)),
            (429, " 7 ", Some(7)),
            (503, "Sun, 06 Nov 1994 08:49:37 GMT", Some(60)),
            (503, "Sun, 06 Nov 1994 08:40:00 GMT", None),
            (503, "-1", None),
            (503, "soon", None),
            (500, "120", None),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(RETRY_AFTER, HeaderValue::from_static(text));
            let status = StatusCode::from_u16(status).unwrap();
            let Answer::Refused(_, found) = Answer::of(status, &headers, now) else { panic!("{text}") };
            assert_eq!(found, asked.map(Duration::from_secs), "{status} {text}");
        }
    }
}
