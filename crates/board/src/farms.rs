//! `/board`: the boards within reach.

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Redirect, Response};
use baycast_service::Error;

use crate::access;
use crate::assets::{ASSETS, Assets};
use crate::paths;
use crate::refusal::{Refusal, html};
use crate::router::Board;

#[derive(Template)]
#[template(path = "farms.html")]
struct Page {
    assets: &'static Assets,
    /// Paths and names.
    farms: Vec<(String, String)>,
}

/// The list, or the board itself where there is but one.
pub async fn farms(State(board): State<Board>, headers: HeaderMap) -> Result<Response, Refusal> {
    let caller = match board.service.caller(access::key(&headers)).await {
        Err(Error::Unauthenticated) => return Err(Refusal::SignIn { farm: String::new() }),
        found => found?,
    };
    let (mut farms, mut token) = (Vec::new(), String::new());
    loop {
        let page = board.service.list_farms(&caller, None, &token).await?;
        farms.extend(page.items.into_iter().filter(|farm| farm.archived.is_none()));
        match page.next_page_token {
            Some(next) => token = next,
            None => break,
        }
    }
    if let [only] = farms.as_slice() {
        return Ok(Redirect::to(&paths::farm(&only.id)).into_response());
    }
    let named = farms.into_iter().map(|farm| {
        let name = if farm.name.is_empty() { farm.id.clone() } else { farm.name };
        (paths::farm(&farm.id), name)
    });
    let page = Page { assets: &ASSETS, farms: named.collect() };
    Ok(([(CACHE_CONTROL, "no-store")], html(&page)).into_response())
}
