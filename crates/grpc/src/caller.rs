//! Who calls, from the `authorization` header.

use baycast_service::{Caller, Error, Service};
use tonic::Status;
use tonic::metadata::MetadataMap;

use crate::status;

/// The caller whose key a request's metadata carries.
pub async fn of(service: &Service, metadata: &MetadataMap) -> Result<Caller, Error> {
    service.caller(key(metadata)).await
}

/// Lets in whoever asks for what is no farm's.
pub async fn admit(service: &Service, metadata: &MetadataMap) -> Result<(), Status> {
    service.admit(key(metadata)).await.map_err(|error| status::of(&error))
}

/// The key that is shown; what is no key at all is like one that is unknown.
fn key(metadata: &MetadataMap) -> Option<&str> {
    let header = metadata.get("authorization")?;
    Some(header.to_str().ok().and_then(bearer).unwrap_or_default())
}

/// The key of a header in the form of RFC 6750 section 2.1, whose scheme is in letters of either case.
fn bearer(header: &str) -> Option<&str> {
    let (scheme, key) = header.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| key.trim())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_bearer_key_is_one() {
        assert_eq!(bearer("Bearer bck_1"), Some("bck_1"));
        assert_eq!(bearer("bearer  bck_1"), Some("bck_1"));
        for other in ["bck_1", "Basic bck_1", "", "Bearer"] {
            assert_eq!(bearer(other), None, "{other}");
        }
    }
}
