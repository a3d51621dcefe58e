//! Names of things in paths.

use std::fmt::Write;

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use baycast_model::problem::Problems;
use baycast_service::Error;
use serde::de::DeserializeOwned;

use crate::problem::Problem;

/// The names in a path, decoded. A path that cannot be decoded names nothing.
pub struct Names<T>(pub T);

impl<T: DeserializeOwned + Send, S: Send + Sync> FromRequestParts<S> for Names<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let path = parts.uri.path().to_owned();
        let names = Path::from_request_parts(parts, state).await;
        names.map(|Path(names)| Self(names)).map_err(|_| Error::NotFound { what: "route", name: path }.into())
    }
}

/// Refuses a body that names another thing than the path it is sent to.
pub fn same(in_path: &str, in_body: &str, pointer: &str) -> Result<(), Error> {
    let mut problems = Problems::default();
    if in_path != in_body {
        problems.add(pointer, format!("{in_body:?}"), format!("{in_path:?}, as in the path"));
    }
    problems.into_result().map_err(Error::Invalid)
}

/// A path of these segments, each encoded (RFC 3986 section 2.3 has the letters that need no encoding).
pub fn path(segments: &[&str]) -> String {
    let mut path = String::from("/v1");
    for segment in segments {
        path.push('/');
        for byte in segment.bytes() {
            if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
                path.push(char::from(byte));
            } else {
                let _ = write!(path, "%{byte:02X}");
            }
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_letter_is_encoded() {
        assert_eq!(path(&["farms", "a/b ü"]), "/v1/farms/a%2Fb%20%C3%BC");
    }
}
