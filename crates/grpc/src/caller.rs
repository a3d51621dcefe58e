//! Who calls, from the `authorization` header.

use baycast_service::records::key_shown;
use baycast_service::{Caller, Error, Service};
use tonic::Status;
use tonic::metadata::{MetadataMap, MetadataValue};

use crate::status;

/// The caller whose key a request's metadata carries.
pub async fn of(service: &Service, metadata: &MetadataMap) -> Result<Caller, Error> {
    service.caller(key(metadata)).await
}

/// Lets in whoever asks for what is no farm's.
pub async fn admit(service: &Service, metadata: &MetadataMap) -> Result<(), Status> {
    service.admit(key(metadata)).await.map_err(|error| status::of(&error))
}

/// The key that is shown.
fn key(metadata: &MetadataMap) -> Option<&str> {
    key_shown(metadata.get("authorization").map(MetadataValue::as_bytes))
}
