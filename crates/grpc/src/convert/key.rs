//! API keys, in both directions.

use baycast_service::Error;
use baycast_service::pointer::Pointer;
use baycast_service::records::{ApiKey, KeyDraft, KeyReach, KeyScope};

use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(KeyScope, proto::KeyScope { Read Write Admin });
word!(KeyReach, proto::KeyReach { All Farms });

/// The key that a caller wants, or everything in it that cannot be read.
pub fn key_draft(message: proto::CreateKeyRequest) -> Result<KeyDraft, Error> {
    let proto::CreateKeyRequest { name, scope, reach, farms } = message;
    let mut incoming = Incoming::default();
    // One that is not said is a problem noted, and what stands in its place is never looked at.
    let scope = incoming.word(scope, Pointer::Root.member("scope")).unwrap_or(KeyScope::Read);
    let reach = incoming.word(reach, Pointer::Root.member("reach")).unwrap_or(KeyReach::Farms);
    incoming.finish().map_err(Error::Invalid)?;
    Ok(KeyDraft { name, scope, reach, farms })
}

impl From<ApiKey> for proto::ApiKey {
    fn from(key: ApiKey) -> Self {
        let ApiKey { id, name, scope, reach, farms, created_at, revoked_at, last_used_at } = key;
        Self {
            id,
            name,
            scope: proto::KeyScope::from(scope).into(),
            reach: proto::KeyReach::from(reach).into(),
            farms,
            created_at: created_at.to_string(),
            revoked_at: revoked_at.map(|at| at.to_string()),
            last_used_at: last_used_at.map(|at| at.to_string()),
        }
    }
}
