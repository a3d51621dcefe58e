//! What a form sends, which has no more time than any request.

use axum::Form;
use axum::extract::{FromRequest, Request};
use axum::response::{IntoResponse, Response};
use baycast_service::within;
use serde::de::DeserializeOwned;

use crate::refusal::Refusal;
use crate::router::Board;

/// What a form sends.
pub struct Sent<T>(pub T);

impl<T: DeserializeOwned> FromRequest<Board> for Sent<T> {
    type Rejection = Response;

    async fn from_request(request: Request, board: &Board) -> Result<Self, Response> {
        let sent = async { Ok(Form::from_request(request, board).await) };
        let sent = within(board.service.limits().timeout, sent).await;
        let Form(sent) =
            sent.map_err(|late| Refusal::from(late).into_response())?.map_err(IntoResponse::into_response)?;
        Ok(Self(sent))
    }
}
