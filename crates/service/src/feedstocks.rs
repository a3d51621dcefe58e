//! The default feedstock table, page by page.

use baycast_model::feedstock::Feedstock;
use baycast_model::problem::Problems;

use crate::error::Error;
use crate::page::Page;

/// Rows on a page where the caller asks for no number.
pub const DEFAULT_PAGE_SIZE: u32 = 50;

/// Most rows on a page; a larger wish is served with this many.
pub const MAX_PAGE_SIZE: u32 = 200;

/// The table, sorted by id.
#[derive(Clone, Debug)]
pub struct Table(Vec<Feedstock>);

impl Table {
    /// Takes rows in any order.
    #[must_use]
    pub fn new(mut rows: Vec<Feedstock>) -> Self {
        rows.sort_by(|a, b| a.id.cmp(&b.id));
        Self(rows)
    }

    /// The rows after `page_token`, which is the last id of the page before.
    ///
    /// A token is a place in the order and not a row number, so it stays good when rows are added.
    pub fn page(&self, page_size: Option<i64>, page_token: &str) -> Result<Page<Feedstock>, Error> {
        let size = match page_size {
            None | Some(0) => DEFAULT_PAGE_SIZE,
            Some(wish) if wish < 0 => {
                let mut problems = Problems::default();
                problems.add("/page_size", wish, format!("1 to {MAX_PAGE_SIZE}"));
                return Err(Error::Invalid(problems));
            }
            Some(wish) => u32::try_from(wish).unwrap_or(MAX_PAGE_SIZE).min(MAX_PAGE_SIZE),
        };
        let start = if page_token.is_empty() { 0 } else { self.after(page_token)? };
        let end = (start + size as usize).min(self.0.len());
        let items = self.0[start..end].to_vec();
        let next_page_token = (end < self.0.len()).then(|| self.0[end - 1].id.clone());
        Ok(Page { items, next_page_token })
    }

    /// The row with this id.
    pub fn get(&self, id: &str) -> Result<Feedstock, Error> {
        let found = self.0.binary_search_by(|row| row.id.as_str().cmp(id));
        found
            .map(|index| self.0[index].clone())
            .map_err(|_| Error::NotFound { what: "feedstock", name: id.to_owned() })
    }

    /// Where the page after `token` starts.
    fn after(&self, token: &str) -> Result<usize, Error> {
        let found = self.0.binary_search_by(|row| row.id.as_str().cmp(token));
        found.map(|index| index + 1).map_err(|_| {
            let mut problems = Problems::default();
            problems.add("/page_token", token, "the next_page_token of an earlier page");
            Error::Invalid(problems)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        let row = |id: &str| Feedstock {
            id: id.to_owned(),
            name: String::new(),
            moisture_fraction: 0.5,
            nitrogen_fraction: 0.02,
            c_to_n: 25.0,
            ash_fraction: 0.1,
            bulk_density_kg_m3: 300.0,
            fast_fraction: 0.3,
            slow_fraction: 0.4,
            structure: baycast_model::feedstock::Structure::Mixed,
            note: String::new(),
            sources: Vec::new(),
        };
        Table::new(["straw", "bark", "leaves", "hay", "paper"].map(row).to_vec())
    }

    #[test]
    fn pages_join_to_the_whole_table_in_order() {
        let (table, mut token, mut seen) = (table(), String::new(), Vec::new());
        loop {
            let page = table.page(Some(2), &token).unwrap();
            assert!(page.items.len() <= 2);
            seen.extend(page.items.into_iter().map(|row| row.id));
            match page.next_page_token {
                Some(next) => token = next,
                None => break,
            }
        }
        assert_eq!(seen, ["bark", "hay", "leaves", "paper", "straw"]);
    }

    #[test]
    fn what_is_no_page_is_refused_by_name() {
        let pointer = |error| match error {
            Error::Invalid(Problems(problems)) => problems[0].pointer.clone(),
            other => panic!("{other}"),
        };
        assert_eq!(pointer(table().page(Some(-1), "").unwrap_err()), "/page_size");
        assert_eq!(pointer(table().page(None, "granite").unwrap_err()), "/page_token");
        assert_eq!(table().page(Some(9_999_999_999), "").unwrap().items.len(), 5);
        assert!(matches!(table().get("granite"), Err(Error::NotFound { .. })));
    }
}
