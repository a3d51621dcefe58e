//! Changing one version of a thing into the next.

use crate::error::{Error, Result};
use crate::store::Session;
use crate::value::{Row, Value};

/// The row that an update of version `expected` changed. Where it found none, `current` reads which version there is
/// instead, if there is such a thing at all.
pub(crate) async fn changed(
    session: &mut dyn Session,
    rows: Vec<Row>,
    expected: i64,
    current: (&'static str, Vec<Value>),
    missing: Error,
) -> Result<Row> {
    if let Some(row) = rows.into_iter().next() {
        return Ok(row);
    }
    let (sql, key) = current;
    match session.run(sql, key).await?.into_iter().next() {
        Some(mut row) => Err(Error::Stale { given: expected, current: row.int()? }),
        None => Err(missing),
    }
}
