//! The body of a request, read up to a limit.

use std::time::Duration;

use axum::body::{Body, BodyDataStream, HttpBody};
use axum::extract::{FromRequest, Request};
use baycast_service::error::Quantity;
use baycast_service::records::BringInFormat;
use baycast_service::{Error, Service, parse, within};
use bytes::{Bytes, BytesMut};
use futures::StreamExt;
use serde::de::DeserializeOwned;

use crate::media_type::Content;
use crate::problem::Problem;

/// How much of an oversized body is read and thrown away.
const DISCARDED_BYTES: usize = 128 << 20;

/// For how long an oversized body is read and thrown away.
const DISCARDED_TIME: Duration = Duration::from_secs(5);

/// A body that its sender says is JSON. Not parsed yet.
pub struct JsonText(pub Bytes);

impl FromRequest<Service> for JsonText {
    type Rejection = Problem;

    async fn from_request(request: Request, service: &Service) -> Result<Self, Problem> {
        Content::Json.expect(request.headers())?;
        let limits = service.limits();
        let text = within(limits.timeout, whole(request.into_body(), limits.max_body_bytes)).await?;
        Ok(Self(text))
    }
}

/// What events are brought in as, and its text. Not parsed yet.
pub struct BroughtText(pub BringInFormat, pub Bytes);

impl FromRequest<Service> for BroughtText {
    type Rejection = Problem;

    async fn from_request(request: Request, service: &Service) -> Result<Self, Problem> {
        let format = match Content::brought_in(request.headers())? {
            Content::Csv => BringInFormat::Csv,
            Content::Tsv => BringInFormat::Tsv,
            Content::Json => BringInFormat::Json,
            Content::Lines => BringInFormat::Ndjson,
        };
        let limits = service.limits();
        let text = within(limits.timeout, whole(request.into_body(), limits.max_bring_in_bytes)).await?;
        Ok(Self(format, text))
    }
}

/// The whole of a body, or the error that it is longer than `limit`.
async fn whole(body: Body, limit: usize) -> Result<Bytes, Error> {
    let declared = body.size_hint().exact();
    let mut chunks = body.into_data_stream();
    let too_large = |given| Error::TooLarge { what: Quantity::BodyBytes, limit: limit as u64, given };
    if declared.is_some_and(|bytes| bytes > limit as u64) {
        discard(chunks);
        return Err(too_large(declared));
    }
    let mut text = BytesMut::new();
    while let Some(chunk) = chunks.next().await {
        let chunk = chunk.map_err(|_| Error::Malformed {
            pointer: String::new(),
            detail: "the connection ended within the body".to_owned(),
        })?;
        if text.len() + chunk.len() > limit {
            discard(chunks);
            return Err(too_large(None));
        }
        text.extend_from_slice(&chunk);
    }
    Ok(text.freeze())
}

/// Reads on for a while without keeping anything.
///
/// Closing a connection on a sender that is still sending resets it, and the answer is lost with it. So the
/// answer goes out at once and the rest is taken off the wire, within bounds.
fn discard(mut chunks: BodyDataStream) {
    let read = async move {
        let mut left = DISCARDED_BYTES;
        while let Some(Ok(chunk)) = chunks.next().await {
            let Some(rest) = left.checked_sub(chunk.len()) else { break };
            left = rest;
        }
    };
    tokio::spawn(tokio::time::timeout(DISCARDED_TIME, read));
}

/// A body that its sender says is JSON, read as what the operation takes.
pub struct JsonOf<T>(pub T);

impl<T: DeserializeOwned> FromRequest<Service> for JsonOf<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, service: &Service) -> Result<Self, Problem> {
        let JsonText(text) = JsonText::from_request(request, service).await?;
        Ok(Self(parse::json(&text)?))
    }
}
