//! Files that pages use, embedded, each under a name that changes with what is in it; and the style sheet that stands in them.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

/// Digits of the hash in a name.
const DIGITS: usize = 12;

/// A file.
struct Asset {
    /// Where it is found.
    path: String,
    media_type: &'static str,
    text: &'static str,
}

impl Asset {
    fn new(name: &str, extension: &str, media_type: &'static str, text: &'static str) -> Self {
        Self { path: format!("/board/assets/{name}-{}.{extension}", hash(&[text])), media_type, text }
    }
}

/// The files.
pub struct Assets {
    style: &'static str,
    script: Asset,
    icon: Asset,
    worker: String,
}

/// The files of this program.
pub static ASSETS: LazyLock<Assets> = LazyLock::new(|| {
    let style = include_str!("../assets/board.css");
    let script =
        Asset::new("board", "js", "text/javascript; charset=utf-8", include_str!("../assets/board.js"));
    let icon = Asset::new("icon", "svg", "image/svg+xml", include_str!("../assets/icon.svg"));
    // A worker is another one where it or a file that it keeps is.
    let worker = include_str!("../assets/worker.js");
    let version = hash(&[worker, script.text, icon.text]);
    let files = format!("{:?}", [&script.path, &icon.path]);
    let worker = worker.replace("{version}", &version).replace("[\"{files}\"]", &files);
    Assets { style, script, icon, worker }
});

impl Assets {
    /// The style sheet: it stands in each page, so that nothing need be fetched before a page is seen.
    pub fn style(&self) -> &'static str {
        self.style
    }

    /// How a content security policy names it.
    pub fn style_source(&self) -> String {
        format!("'sha256-{}'", STANDARD.encode(Sha256::digest(self.style)))
    }

    /// Path of the script.
    pub fn script(&self) -> &str {
        &self.script.path
    }

    /// Path of the icon.
    pub fn icon(&self) -> &str {
        &self.icon.path
    }
}

/// The first digits of the hash of texts.
pub fn hash(texts: &[&str]) -> String {
    let mut hasher = Sha256::new();
    for text in texts {
        hasher.update(text.as_bytes());
        hasher.update([0]);
    }
    let digest = hasher.finalize();
    let digits = digest.iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.take(DIGITS).filter_map(|digit| char::from_digit(digit.into(), 16)).collect()
}

/// One of the files. Under a name it never changes, so nobody need ask for it again.
pub async fn asset(Path(name): Path<String>) -> Response {
    let Assets { script, icon, .. } = &*ASSETS;
    let found = [script, icon].into_iter().find(|asset| asset.path.ends_with(&format!("/{name}")));
    match found {
        Some(asset) => {
            let kept = "public, max-age=31536000, immutable";
            ([(CONTENT_TYPE, asset.media_type), (CACHE_CONTROL, kept)], asset.text).into_response()
        }
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// The worker that keeps pages for where there is no signal. Its name stays, so it is asked for anew each time.
pub async fn worker() -> Response {
    let headers = [(CONTENT_TYPE, "text/javascript; charset=utf-8"), (CACHE_CONTROL, "no-cache")];
    (headers, ASSETS.worker.as_str()).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_tells_what_is_in_the_file() {
        assert_eq!(hash(&["a"]).len(), DIGITS);
        assert_ne!(hash(&["ab", "c"]), hash(&["a", "bc"]));
        let worker = &ASSETS.worker;
        for path in [ASSETS.script(), ASSETS.icon()] {
            assert!(worker.contains(path), "{path}");
        }
        assert!(!worker.contains('{') || !worker.contains("{version}"));
    }
}
