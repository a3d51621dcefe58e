//! Signing in and out: a key in a cookie.
//!
//! The cookie holds the key itself: what is revoked is revoked here too, and nothing more is kept of who has signed in.
//! Scripts cannot read it, other sites' pages cannot send it, and no path but the board's is sent it.

use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::http::{HeaderMap, HeaderName, Uri};
use axum::response::Redirect;
use baycast_service::Error;
use serde::Deserialize;

use crate::access::KEY_COOKIE;
use crate::form::Sent;
use crate::paths;
use crate::refusal::Refusal;
use crate::router::Board;
use crate::same_origin::SameOrigin;

/// How long a browser keeps the key, s: a year.
const KEPT_S: u32 = 365 * 86_400;

/// What the page sends.
#[derive(Deserialize)]
pub struct Shown {
    key: String,
    #[serde(default)]
    farm: String,
}

/// What is answered: another page, and a change of the cookie.
type Answer = ([(HeaderName, String); 1], Redirect);

/// Takes a key that opens the farm asked for, or any where none was asked for.
pub async fn sign_in(
    _: SameOrigin,
    State(board): State<Board>,
    uri: Uri,
    headers: HeaderMap,
    Sent(Shown { key, farm }): Sent<Shown>,
) -> Result<Answer, Refusal> {
    let key = key.trim();
    let wrong = || Refusal::WrongKey { farm: farm.clone() };
    if !can_be_a_cookie(key) {
        return Err(wrong());
    }
    let opened = async {
        let caller = board.service.caller(Some(key)).await?;
        if farm.is_empty() { Ok(()) } else { board.service.get_farm(&caller, &farm).await.map(drop) }
    };
    opened.await.map_err(|error| match error {
        Error::Unauthenticated | Error::NotFound { .. } => wrong(),
        other => other.into(),
    })?;
    let to = if farm.is_empty() { paths::ROOT.to_owned() } else { paths::farm(&farm) };
    Ok(([(SET_COOKIE, cookie(key, KEPT_S, is_secure(&uri, &headers)))], Redirect::to(&to)))
}

/// Forgets the key.
pub async fn sign_out(_: SameOrigin, uri: Uri, headers: HeaderMap) -> Answer {
    ([(SET_COOKIE, cookie("", 0, is_secure(&uri, &headers)))], Redirect::to(paths::ROOT))
}

/// Whether a text can stand in a cookie as it is (RFC 6265 section 4.1.1); every key can.
fn can_be_a_cookie(text: &str) -> bool {
    !text.is_empty()
        && text.bytes().all(|byte| byte.is_ascii_graphic() && !matches!(byte, b'"' | b',' | b';' | b'\\'))
}

/// Whether the browser came over TLS, here or as far as a proxy before us.
fn is_secure(uri: &Uri, headers: &HeaderMap) -> bool {
    let told = |name: &str| headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
    uri.scheme_str() == Some("https")
        || told("x-forwarded-proto").eq_ignore_ascii_case("https")
        || told("forwarded").to_ascii_lowercase().contains("proto=https")
}

fn cookie(key: &str, kept_s: u32, secure: bool) -> String {
    let secure = if secure { "; Secure" } else { "" };
    let path = paths::ROOT;
    format!("{KEY_COOKIE}={key}; Path={path}; Max-Age={kept_s}; HttpOnly; SameSite=Strict{secure}")
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    #[test]
    fn over_tls_the_cookie_is_for_tls_alone() {
        let uri = Uri::from_static("/board/sign-in");
        assert!(!is_secure(&uri, &HeaderMap::new()));
        for (name, value) in [("x-forwarded-proto", "https"), ("forwarded", "for=192.0.2.1;proto=https")] {
            let name = HeaderName::from_static(name);
            assert!(is_secure(&uri, &HeaderMap::from_iter([(name, HeaderValue::from_static(value))])));
        }
        assert!(cookie("bck_1", 60, true).ends_with("; HttpOnly; SameSite=Strict; Secure"));
    }

    #[test]
    fn what_would_break_out_of_a_cookie_is_no_key() {
        for text in ["", "a;b", "a b", "a\r\nb", "a\"", "ü"] {
            assert!(!can_be_a_cookie(text), "{text:?}");
        }
        assert!(can_be_a_cookie("bck_01-AZ"));
    }
}
