//! Who calls, from the `Authorization` header.

use axum::extract::FromRequestParts;
use axum::http::header::AUTHORIZATION;
use axum::http::request::Parts;
use baycast_service::{Caller, Service};

use crate::problem::Problem;

/// A caller whose key is good, or who needs none. Taken before all else of a request.
pub struct Authenticated(pub Caller);

impl FromRequestParts<Service> for Authenticated {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, service: &Service) -> Result<Self, Problem> {
        Ok(Self(service.caller(key(parts)).await?))
    }
}

/// Anyone who may ask for what is no farm's.
pub struct Admitted;

impl FromRequestParts<Service> for Admitted {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, service: &Service) -> Result<Self, Problem> {
        service.admit(key(parts)).await?;
        Ok(Self)
    }
}

/// The key that is shown; what is no key at all is like one that is unknown.
fn key(parts: &Parts) -> Option<&str> {
    let header = parts.headers.get(AUTHORIZATION)?;
    Some(header.to_str().ok().and_then(bearer).unwrap_or_default())
}

/// The token of a `Bearer` header; the scheme's name is taken in any case (RFC 9110 section 11.1).
fn bearer(header: &str) -> Option<&str> {
    let (scheme, token) = header.trim().split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}
