//! `CreateKey`, `ListKeys` and `RevokeKey`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    CreateKeyRequest, CreateKeyResponse, ListKeysRequest, ListKeysResponse, RevokeKeyRequest,
    RevokeKeyResponse,
};

/// Creates a key, whose text is in the answer and nowhere else.
pub async fn create_key(
    service: &Service,
    caller: &Caller,
    request: CreateKeyRequest,
) -> Result<CreateKeyResponse, Error> {
    let issued = service.create_key(caller, &convert::key_draft(request)?).await?;
    Ok(CreateKeyResponse { key: Some(issued.key.into()), text: issued.text })
}

/// A page of keys.
pub async fn list_keys(
    service: &Service,
    caller: &Caller,
    request: ListKeysRequest,
) -> Result<ListKeysResponse, Error> {
    let ListKeysRequest { page_size, page_token } = request;
    let page = service.list_keys(caller, Some(page_size.into()), &page_token).await?;
    Ok(ListKeysResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Revokes a key for good.
pub async fn revoke_key(
    service: &Service,
    caller: &Caller,
    request: RevokeKeyRequest,
) -> Result<RevokeKeyResponse, Error> {
    let RevokeKeyRequest { key } = request;
    let revoked = service.revoke_key(caller, &key).await?;
    Ok(RevokeKeyResponse { key: Some(revoked.into()) })
}
