//! What a database must do for the records: run statements inside transactions. All else is shared.
//!
//! Statements are written once, in the SQL that both databases speak. Where they differ, a statement carries a mark:
//! `{rows}` is a list of rows given as one or few parameters, under the alias `k`; `{lock}` keeps the rows of the alias
//! `b` from other writers until the transaction ends, where a write does not lock the whole database anyway; `{skip_locked}`
//! does so for those that no one else keeps, and passes over the others; `{own_ids}` and `{placing}` have events looked up
//! by the caller's own ids and by what places batches; `{text}` and `{clustered}` stand in the schema.

use std::future::Future;
use std::pin::Pin;

use tokio::sync::broadcast;

use crate::changes::Change;
use crate::error::Result;
use crate::value::{Kind, Row, Value};

/// A result that is still being worked on.
pub(crate) type Later<'a, T> = Pin<Box<dyn Future<Output = Result<T>> + Send + 'a>>;

/// A statement that writes and changes nothing.
pub(crate) const WRITING_LOOK: &str = "UPDATE migrations SET name = name WHERE version = 1";

/// What a session is opened for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// Statements that need not agree with one another.
    Read,
    /// Reading at one point in time.
    Snapshot,
    /// Writing, kept by [`Session::commit`] and undone without it.
    Write,
    /// Changing the schema: alone, whatever else starts at the same moment.
    Migrate,
}

/// One of the two databases.
pub(crate) trait Store: Send + Sync {
    /// Opens a session.
    fn begin(&self, purpose: Purpose) -> Later<'_, Box<dyn Session>>;
    /// How many groups of appends may be under way at once.
    fn writers(&self) -> usize;
    /// Where changes are told, after they were committed.
    fn changes(&self) -> &broadcast::Sender<Change>;
    /// Copies everything to a new file, while serving.
    fn copy_to<'a>(&'a self, path: &'a std::path::Path) -> Later<'a, ()>;
    /// Whether it can be read, with room for what may be written; for [`Purpose::Write`] by writing, which changes nothing.
    /// Over a connection of its own, so that it waits for no one who uses the others.
    fn look(&self, purpose: Purpose) -> Later<'_, ()>;
    /// Connections that are open and idle, and those in use.
    fn connections(&self) -> (usize, usize);
    /// Ends all connections.
    fn close(&self) -> Later<'_, ()>;
}

/// A connection, inside a transaction unless it was opened for [`Purpose::Read`].
pub(crate) trait Session: Send {
    /// Runs a statement with parameters `$1`, `$2` and so on.
    fn run<'a>(&'a mut self, sql: &'static str, values: Vec<Value>) -> Later<'a, Vec<Row>>;
    /// Runs a statement over `table`, which stands where the statement says `{rows}`.
    fn run_rows<'a>(&'a mut self, sql: &'static str, table: Table) -> Later<'a, Vec<Row>>;
    /// Tells the change when, and only if, the transaction is committed.
    fn announce(&mut self, changes: Vec<Change>) -> Later<'_, ()>;
    /// Keeps what was written. Returns when it is on disk.
    fn commit(self: Box<Self>) -> Later<'static, ()>;
}

/// Rows given to a statement.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    /// Name and kind of each column.
    pub columns: &'static [(&'static str, Kind)],
    /// The rows.
    pub rows: Vec<Vec<Value>>,
}

impl Table {
    /// Rows of these columns.
    pub fn new(columns: &'static [(&'static str, Kind)], rows: Vec<Vec<Value>>) -> Self {
        debug_assert!(rows.iter().all(|row| row.len() == columns.len()));
        Self { columns, rows }
    }
}

/// The words in which the two databases differ.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dialect {
    /// For `{lock}`.
    pub lock: &'static str,
    /// For `{skip_locked}`.
    pub skip_locked: &'static str,
    /// For `{own_ids}`: the index to use, where a planner without statistics would rather read all of a batch's events
    /// for each own id.
    pub own_ids: &'static str,
    /// For `{placing}`: the index to use, for the same reason.
    pub placing: &'static str,
    /// For `{text}`: text that compares byte by byte.
    pub text: &'static str,
    /// For `{clustered}`: a table kept in the order of its primary key.
    pub clustered: &'static str,
}

impl Dialect {
    /// Puts the words where the statement has its marks, and `rows` where it has `{rows}`.
    pub fn speak(&self, sql: &str, rows: &str) -> String {
        if !sql.contains('{') {
            return sql.to_owned();
        }
        sql.replace("{rows}", rows)
            .replace("{lock}", self.lock)
            .replace("{skip_locked}", self.skip_locked)
            .replace("{own_ids}", self.own_ids)
            .replace("{placing}", self.placing)
            .replace("{text}", self.text)
            .replace("{clustered}", self.clustered)
    }
}
