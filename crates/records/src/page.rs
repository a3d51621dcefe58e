//! Lists, a page at a time: the next page begins after the last item of this one, whatever was added meanwhile.

use sha2::{Digest, Sha256};

use crate::error::{Error, Result};

/// Items on a page where the caller does not say.
const USUAL_SIZE: u32 = 100;
/// Most items on a page.
const LARGEST_SIZE: u32 = 1000;
/// Bytes of the mark that ties a token to its list.
const MARK_BYTES: usize = 4;

/// Which page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PageRequest {
    /// Most items wanted; 0 for the usual hundred, never more than a thousand.
    pub size: u32,
    /// The token that came with the page before; none for the first page.
    pub token: Option<String>,
}

/// One page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page<T> {
    /// The items.
    pub items: Vec<T>,
    /// Token of the next page; none on the last one.
    pub next: Option<String>,
}

/// Every item of a list, page by page.
pub async fn all<T, L>(list: impl Fn(PageRequest) -> L) -> Result<Vec<T>>
where
    L: Future<Output = Result<Page<T>>>,
{
    let mut items = Vec::new();
    let mut next = None;
    loop {
        let page = list(PageRequest { size: LARGEST_SIZE, token: next }).await?;
        items.extend(page.items);
        next = page.next;
        if next.is_none() {
            return Ok(items);
        }
    }
}

impl PageRequest {
    /// Items on the page.
    fn size(&self) -> u32 {
        if self.size == 0 { USUAL_SIZE } else { self.size.min(LARGEST_SIZE) }
    }

    /// How many rows to ask for: one more than the page holds shows whether there is another.
    pub(crate) fn limit(&self) -> i64 {
        i64::from(self.size()) + 1
    }

    /// The key to begin after, `first` where there is no token. `list` names the list that the token must come from.
    pub(crate) fn after<K: serde::de::DeserializeOwned>(&self, list: &str, first: K) -> Result<K> {
        let Some(token) = &self.token else { return Ok(first) };
        let refused = || Error::invalid("page_token", token, "the next_page_token of a page of this list");
        let bytes = hex::decode(token).map_err(|_| refused())?;
        let (found, key) = bytes.split_at_checked(MARK_BYTES).ok_or_else(refused)?;
        if found != mark(list) {
            return Err(refused());
        }
        serde_json::from_slice(key).map_err(|_| refused())
    }

    /// Cuts the rows asked for with [`Self::limit`] to a page.
    pub(crate) fn page<T, K: serde::Serialize>(
        &self,
        list: &str,
        mut items: Vec<T>,
        key: impl Fn(&T) -> K,
    ) -> Result<Page<T>> {
        let size = self.size() as usize;
        let more = items.len() > size;
        items.truncate(size);
        let next = match items.last() {
            Some(last) if more => {
                let key = serde_json::to_vec(&key(last)).map_err(Error::corrupt)?;
                Some(hex::encode([mark(list).as_slice(), &key].concat()))
            }
            _ => None,
        };
        Ok(Page { items, next })
    }
}

fn mark(list: &str) -> Vec<u8> {
    Sha256::digest(list)[..MARK_BYTES].to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_leads_on_in_its_own_list_only() {
        let request = PageRequest { size: 2, token: None };
        let page = request.page("bays/a", vec!["x", "y", "z"], |item| (7, (*item).to_owned())).unwrap();
        assert_eq!(page.items, ["x", "y"]);
        let next = PageRequest { size: 2, token: page.next };
        assert_eq!(next.after("bays/a", (0, String::new())).unwrap(), (7, "y".to_owned()));
        assert!(next.after("bays/b", (0, String::new())).is_err());
        for token in ["", "zz", "00", "é"] {
            let broken = PageRequest { size: 0, token: Some(token.into()) };
            assert!(broken.after("bays/a", (0, String::new())).is_err(), "{token}");
        }
        assert_eq!(request.page("bays/a", vec!["x", "y"], |item| (*item).to_owned()).unwrap().next, None);
    }
}
