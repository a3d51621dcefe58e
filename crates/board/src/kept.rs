//! Pages that are written already: one for each board and kind of reader, until something on it changes.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH, VARY};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;

use crate::access::Rights;

/// Most pages kept; all give way when there are more.
const MOST: usize = 256;

/// Where a page is, and for whom.
type Place = (String, Rights);

/// Pages by place, each with the tag of what stands on it.
#[derive(Clone, Default)]
pub struct Kept(Arc<Mutex<HashMap<Place, Page>>>);

/// A page.
#[derive(Clone)]
pub struct Page {
    tag: String,
    html: Bytes,
}

impl Kept {
    /// The page whose tag is `tag`, written by `write` if it is not there.
    pub fn page<E>(
        &self,
        base: &str,
        rights: Rights,
        tag: String,
        write: impl FnOnce() -> Result<String, E>,
    ) -> Result<Page, E> {
        let place = (base.to_owned(), rights);
        if let Some(page) = self.pages().get(&place).filter(|page| page.tag == tag) {
            return Ok(page.clone());
        }
        let page = Page { tag, html: Bytes::from(write()?) };
        let mut pages = self.pages();
        if pages.len() >= MOST && !pages.contains_key(&place) {
            pages.clear();
        }
        pages.insert(place, page.clone());
        Ok(page)
    }

    fn pages(&self) -> std::sync::MutexGuard<'_, HashMap<Place, Page>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Page {
    /// The page, or 304 where the reader has it. The tag is a weak one, since a compressed answer has other bytes.
    pub fn answer(self, request: &HeaderMap) -> Response {
        let Self { tag, html } = self;
        let tag = format!("W/\"{tag}\"");
        let held = request.get_all(IF_NONE_MATCH).iter().filter_map(|value| value.to_str().ok());
        let held = held.flat_map(|value| value.split(',')).any(|held| held.trim() == tag);
        // Who asks with another cookie is another reader.
        let headers = [(ETAG, tag.as_str()), (CACHE_CONTROL, "private, no-cache"), (VARY, "cookie")];
        if held {
            return (StatusCode::NOT_MODIFIED, headers).into_response();
        }
        (headers, [(CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(kept: &Kept, base: &str, rights: Rights, tag: &str, text: &str) -> Bytes {
        let page = kept.page(base, rights, tag.to_owned(), || Ok::<_, ()>(text.to_owned()));
        page.expect("it can be written").html
    }

    #[test]
    fn a_page_is_written_once_for_each_change_and_kind_of_reader() {
        let kept = Kept::default();
        assert_eq!(written(&kept, "/board/a", Rights::Read, "1", "one"), "one");
        assert_eq!(written(&kept, "/board/a", Rights::Read, "1", "never written"), "one");
        assert_eq!(written(&kept, "/board/a", Rights::Write, "1", "with forms"), "with forms");
        assert_eq!(written(&kept, "/board/b", Rights::Read, "1", "another"), "another");
        assert_eq!(written(&kept, "/board/a", Rights::Read, "2", "two"), "two");
        assert_eq!(written(&kept, "/board/a", Rights::Read, "1", "one again"), "one again");
    }

    #[test]
    fn no_more_than_some_are_kept() {
        let kept = Kept::default();
        for number in 0..=MOST {
            written(&kept, &format!("/board/{number}"), Rights::Read, "1", "page");
        }
        assert!(kept.pages().len() <= MOST);
    }
}
