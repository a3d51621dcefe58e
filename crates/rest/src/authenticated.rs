//! Who calls, from the `Authorization` header.

use axum::extract::{FromRef, FromRequestParts};
use axum::http::HeaderValue;
use axum::http::header::AUTHORIZATION;
use axum::http::request::Parts;
use baycast_service::records::key_shown;
use baycast_service::{Caller, Service};

use crate::problem::Problem;

/// A caller whose key is good, or who needs none. Taken before all else of a request.
pub struct Authenticated(pub Caller);

impl<S: Send + Sync> FromRequestParts<S> for Authenticated
where
    Service: FromRef<S>,
{
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        Ok(Self(Service::from_ref(state).caller(key(parts)).await?))
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

/// The key that is shown.
fn key(parts: &Parts) -> Option<&str> {
    key_shown(parts.headers.get(AUTHORIZATION).map(HeaderValue::as_bytes))
}
