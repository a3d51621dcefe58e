//! Which version of a thing a change is meant for.

use axum::extract::{FromRequestParts, OptionalFromRequestParts};
use axum::http::header::IF_MATCH;
use axum::http::request::Parts;
use utoipa::IntoParams;

use crate::problem::{Problem, precondition_required};

/// The header as the description tells it.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description alone")]
pub struct Version {
    /// The ETag that was read
    #[param(rename = "If-Match", pattern = r#"^(W/)?"[ !#-~]+"$"#)]
    version: String,
}

/// The header as the description tells it of what may not be there yet.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description alone")]
pub struct AnyVersion {
    /// The ETag that was read, where one is kept already
    #[param(rename = "If-Match", required = false, pattern = r#"^(W/)?"[ !#-~]+"$"#)]
    version: String,
}

/// The one tag in `If-Match`. Without one nothing is changed, and neither with `*`, which would overwrite unseen.
///
/// A tag that was made weak on its way, as compressing proxies do, is taken as well: versions are never alike.
pub struct IfMatch(pub String);

impl<S: Sync> FromRequestParts<S> for IfMatch {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let header = parts.headers.get(IF_MATCH).and_then(|value| value.to_str().ok());
        header.and_then(tag).map(Self).ok_or_else(precondition_required)
    }
}

impl<S: Sync> OptionalFromRequestParts<S> for IfMatch {
    type Rejection = Problem;

    /// For what may not be there yet: nothing where there is no such header.
    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Option<Self>, Problem> {
        if !parts.headers.contains_key(IF_MATCH) {
            return Ok(None);
        }
        <Self as FromRequestParts<S>>::from_request_parts(parts, state).await.map(Some)
    }
}

/// The text between the quotes of a single tag.
fn tag(header: &str) -> Option<String> {
    let header = header.trim();
    let quoted = header.strip_prefix("W/").unwrap_or(header);
    let tag = quoted.strip_prefix('"')?.strip_suffix('"')?;
    (!tag.is_empty() && !tag.contains('"')).then(|| tag.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_quoted_tag_is_taken_and_nothing_else() {
        assert_eq!(tag("\"3\"").as_deref(), Some("3"));
        assert_eq!(tag(" W/\"3\" ").as_deref(), Some("3"));
        for refused in ["*", "3", "", "\"\"", "\"3\", \"4\"", "\"3"] {
            assert_eq!(tag(refused), None, "{refused}");
        }
    }
}
