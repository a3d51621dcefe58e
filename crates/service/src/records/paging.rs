//! Pages of what is kept.

use baycast_model::problem::Problems;
use baycast_records::{Page as Found, PageRequest};

use crate::error::Error;
use crate::page::Page;

/// Most items on a page; a larger wish is served with this many.
pub const MAX_PAGE_SIZE: u32 = 1000;

/// Items on a page where the caller asks for no number.
pub const USUAL_PAGE_SIZE: u32 = 100;

/// The page asked for; an empty token is the first one.
pub fn request(page_size: Option<i64>, page_token: &str) -> Result<PageRequest, Error> {
    let wish = page_size.unwrap_or(0);
    if wish < 0 {
        let mut problems = Problems::default();
        problems.add("/page_size", wish, format!("1 to {MAX_PAGE_SIZE}"));
        return Err(Error::Invalid(problems));
    }
    let size = u32::try_from(wish).unwrap_or(MAX_PAGE_SIZE).min(MAX_PAGE_SIZE);
    Ok(PageRequest { size, token: (!page_token.is_empty()).then(|| page_token.to_owned()) })
}

/// The page found, in the contracts' types.
pub fn page<T, U: From<T>>(found: Found<T>) -> Page<U> {
    Page { items: found.items.into_iter().map(U::from).collect(), next_page_token: found.next }
}
