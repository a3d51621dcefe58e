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
        let Some(header) = parts.headers.get(AUTHORIZATION) else {
            return Ok(Self(service.caller(None).await?));
        };
        let key = header.to_str().ok().and_then(bearer).unwrap_or_default();
        Ok(Self(service.caller(Some(key)).await?))
    }
}

/// The token of a `Bearer` header; the scheme's name is taken in any case (RFC 9110 section 11.1).
fn bearer(header: &str) -> Option<&str> {
    let (scheme, token) = header.trim().split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}
