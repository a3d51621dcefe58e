//! Notes: what is done and seen at a heap, sent by a form.
//!
//! A form brings a name of its own for what it tells, made before it is sent. It becomes the event's own id, so that the
//! same note sent again, however often and however late, is recorded once.

mod answers;
mod kind;

use axum::Json;
use axum::extract::State;
use axum::http::header::ACCEPT;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use baycast_service::Error;
use baycast_service::records::{AppendEvents, AppendMode, EventEntry, OwnIdTaken};
use serde::Serialize;

use crate::access::Access;
use crate::form::Sent;
use crate::refusal::{Refusal, status};
use crate::router::Board;
use crate::same_origin::SameOrigin;
use crate::{batch, dates, paths};

pub use answers::{Answers, Fault};
pub use kind::{Choices, Input, Kind};

/// Longest name that a form may give its note.
const LONGEST_KEY: usize = 64;

/// What a form told, and what is wrong with it.
pub struct Filled {
    /// What it tells of.
    pub kind: Kind,
    /// The fields as they were sent.
    pub pairs: Vec<(String, String)>,
    /// What is wrong.
    pub faults: Vec<Fault>,
}

/// What a script is told of a note that is not taken.
#[derive(Serialize)]
struct NotTaken {
    faults: Vec<Fault>,
}

/// Records a note. A browser is led back to the page; a script is told in a status.
pub async fn note(
    _: SameOrigin,
    State(board): State<Board>,
    access: Access,
    headers: HeaderMap,
    Sent(pairs): Sent<Vec<(String, String)>>,
) -> Result<Response, Refusal> {
    access.caller.may_write(&access.farm)?;
    let farm = board.service.get_farm(&access.caller, &access.farm).await?;
    let script = headers.get(ACCEPT).is_some_and(|accept| accept == "application/json");
    let mut answers = Answers::new(&pairs, dates::zone(&farm.time_zone), board.service.now()?);
    let Some(kind) = answers.text("kind").and_then(|word| Kind::of(&word)) else {
        return Err(Refusal::NotThere { farm: access.farm });
    };
    let faults = match answers.event(kind) {
        Ok(mut event) => {
            let key = match answers.text("key").filter(|key| is_a_name(key)) {
                Some(key) => key,
                None => new_key()?,
            };
            event.id = Some(format!("board-{key}"));
            let entry = EventEntry { event: Some(event), supersedes: None, own_id_taken: OwnIdTaken::Refuse };
            let append = AppendEvents { entries: vec![entry], mode: AppendMode::AllOrNothing };
            let Access { caller, farm, batch, .. } = &access;
            match board.service.append_events(caller, farm, batch, &append, None).await {
                Ok(_) if script => return Ok(StatusCode::NO_CONTENT.into_response()),
                Ok(_) => {
                    let to = format!("{}?noted#note", paths::batch(&access.base, batch));
                    return Ok(Redirect::to(&to).into_response());
                }
                Err(error @ (Error::Invalid(_) | Error::Conflict(_))) => kind.faults(&error),
                Err(error @ Error::NotFound { .. }) if !names_a_batch(&error) => kind.faults(&error),
                Err(error) if script => return Ok(status(&error).into_response()),
                Err(error) => return Err(error.into()),
            }
        }
        Err(faults) => faults,
    };
    if script {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, Json(NotTaken { faults })).into_response());
    }
    let page = batch::page(&board, &access, &headers, Some(Filled { kind, pairs, faults }), false).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Whether it is the batch itself that is not there, and not what a note names.
fn names_a_batch(error: &Error) -> bool {
    matches!(error, Error::NotFound { what: "batch" | "farm", .. })
}

/// Whether a form's name for its note can be one.
fn is_a_name(key: &str) -> bool {
    (8..=LONGEST_KEY).contains(&key.len())
        && key.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
}

/// A new name for a note, which nobody else has.
pub fn new_key() -> Result<String, Error> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|error| {
        tracing::error!(%error, "there is no randomness");
        Error::Internal
    })?;
    Ok(format!("{:032x}", u128::from_ne_bytes(bytes)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_made_of_letters_digits_and_hyphens() {
        assert!(new_key().is_ok_and(|key| is_a_name(&key)));
        assert!(is_a_name("1b9d6bcd-bbfd-4b2d-9b5d-ab8dfbbd4bed"));
        for wrong in ["", "short", "with space", &"x".repeat(65)] {
            assert!(!is_a_name(wrong), "{wrong}");
        }
        assert_ne!(new_key(), new_key());
    }
}
