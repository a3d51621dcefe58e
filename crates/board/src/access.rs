//! Who looks at which farm's board, and what they may do there.

use std::collections::HashMap;

use axum::extract::{FromRequestParts, Path};
use axum::http::HeaderMap;
use axum::http::header::COOKIE;
use axum::http::request::Parts;
use baycast_service::{Caller, Error};

use crate::paths;
use crate::refusal::Refusal;
use crate::router::Board;

/// The cookie that holds a reader's key.
pub const KEY_COOKIE: &str = "baycast_key";

/// A reader whose key, or whose feed's address, opens a farm's board.
pub struct Access {
    /// Who it is.
    pub caller: Caller,
    /// The farm's id.
    pub farm: String,
    /// Path of its board.
    pub base: String,
    /// What they may do.
    pub rights: Rights,
    /// The batch in the path; empty where it names none.
    pub batch: String,
}

/// What a reader may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rights {
    /// Read, and record what was done and seen.
    Write,
    /// Read.
    Read,
    /// Read where a feed's address was given: a screen that nobody signs in at.
    Screen,
}

impl FromRequestParts<Board> for Access {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, board: &Board) -> Result<Self, Refusal> {
        let Ok(Path(mut names)) = Path::<HashMap<String, String>>::from_request_parts(parts, board).await
        else {
            return Err(Refusal::NotThere { farm: String::new() });
        };
        let batch = names.remove("batch").unwrap_or_default();
        if let Some(token) = names.get("token") {
            let reader = board.service.feed_reader(token).await?;
            let (caller, farm) = (reader.caller.clone(), reader.farm.clone());
            return Ok(Self { caller, farm, base: paths::feed(token), rights: Rights::Screen, batch });
        }
        let farm = names.remove("farm").unwrap_or_default();
        let caller = match board.service.caller(key(&parts.headers)).await {
            Err(Error::Unauthenticated) => return Err(Refusal::SignIn { farm }),
            found => found?,
        };
        let rights = match caller.may_write(&farm) {
            Ok(()) => Rights::Write,
            Err(Error::NotFound { .. }) => return Err(Refusal::NotThere { farm }),
            Err(_) => Rights::Read,
        };
        Ok(Self { caller, base: paths::farm(&farm), farm, rights, batch })
    }
}

/// The key in the cookie, where there is one.
pub fn key(headers: &HeaderMap) -> Option<&str> {
    let cookies = headers.get_all(COOKIE).iter().filter_map(|header| header.to_str().ok());
    let mut pairs = cookies.flat_map(|header| header.split(';')).filter_map(|pair| pair.split_once('='));
    pairs.find(|(name, _)| name.trim() == KEY_COOKIE).map(|(_, key)| key.trim())
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    #[test]
    fn the_key_is_found_among_other_cookies() {
        let told = |cookies: &'static str| {
            let headers = HeaderMap::from_iter([(COOKIE, HeaderValue::from_static(cookies))]);
            key(&headers).map(str::to_owned)
        };
        assert_eq!(told("theme=dark; baycast_key=bck_1").as_deref(), Some("bck_1"));
        assert_eq!(told("xbaycast_key=bck_1"), None);
        assert_eq!(key(&HeaderMap::new()), None);
    }
}
