//! A list, a page at a time.

/// A run of items in the order of their list.
#[derive(Clone, Debug, PartialEq)]
pub struct Page<T> {
    /// The items.
    pub items: Vec<T>,
    /// What to ask with for the items that follow; `None` on the last page.
    pub next_page_token: Option<String>,
}

impl<T> Page<T> {
    /// The same page with each item made into something else.
    #[must_use]
    pub fn map<U>(self, into: impl FnMut(T) -> U) -> Page<U> {
        Page { items: self.items.into_iter().map(into).collect(), next_page_token: self.next_page_token }
    }
}
