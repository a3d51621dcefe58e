//! Whether a form was sent from one of the board's own pages.

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::header::{HOST, ORIGIN};
use axum::http::request::Parts;

use crate::refusal::Refusal;

/// A request that one of the board's own pages sent.
pub struct SameOrigin;

impl<S: Sync> FromRequestParts<S> for SameOrigin {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        let authority = parts.uri.authority().map(|own| own.as_str().to_owned());
        let host = authority.or_else(|| text(&parts.headers, &HOST).map(str::to_owned));
        if is_own(&parts.headers, host.as_deref()) { Ok(Self) } else { Err(Refusal::Elsewhere) }
    }
}

/// Browsers that tell the relation of page and target are taken at their word. Others name the page's origin.
fn is_own(headers: &HeaderMap, host: Option<&str>) -> bool {
    if let Some(site) = headers.get("sec-fetch-site") {
        return site == "same-origin";
    }
    let origin = text(headers, &ORIGIN).and_then(|origin| origin.split_once("://"));
    origin.zip(host).is_some_and(|((_, from), to)| from.eq_ignore_ascii_case(to))
}

fn text<'a>(headers: &'a HeaderMap, name: &axum::http::HeaderName) -> Option<&'a str> {
    headers.get(name)?.to_str().ok()
}

#[cfg(test)]
mod tests {
    use axum::http::{HeaderName, HeaderValue};

    use super::*;

    #[test]
    fn only_the_own_origin_may_send() {
        let told = |headers: &[(&'static str, &'static str)]| {
            let headers = headers
                .iter()
                .map(|(name, value)| (HeaderName::from_static(name), HeaderValue::from_static(value)));
            is_own(&headers.collect(), Some("farm.example:8300"))
        };
        // Where pages send no referrer, the origin of a form is told as null, and the relation beside it.
        assert!(told(&[("sec-fetch-site", "same-origin"), ("origin", "null")]));
        assert!(told(&[("origin", "https://farm.example:8300")]));
        for refused in [
            [("sec-fetch-site", "cross-site")].as_slice(),
            &[("sec-fetch-site", "same-site"), ("origin", "https://farm.example:8300")],
            &[("sec-fetch-site", "none")],
            &[("origin", "https://farm.example")],
            &[("origin", "https://other.example:8300")],
            &[("origin", "null")],
            &[],
        ] {
            assert!(!told(refused), "{refused:?}");
        }
    }
}
