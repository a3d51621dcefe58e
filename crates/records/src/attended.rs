//! A database that someone looks after: what it declines is noted, nobody waits for it while it is away, and it is looked at
//! until it is sound again.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{broadcast, watch};
use tokio::task::JoinHandle;
use tokio::time::{Instant, sleep, timeout};
use tracing::Span;

use crate::changes::Change;
use crate::error::Error;
use crate::store::{Later, Purpose, Session, Store, Table};
use crate::trouble::Trouble;
use crate::value::{Row, Value};

/// Time between two looks where nothing is declined.
const EVERY: Duration = Duration::from_secs(1);
/// Time between two looks, whatever is declined.
const AT_MOST_EVERY: Duration = Duration::from_millis(200);
/// How long a look may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long the log is silent of what it said last.
const SAID: Duration = Duration::from_mins(1);

/// The database.
pub(crate) struct Attended {
    store: Arc<dyn Store>,
    trouble: Arc<Trouble>,
    attendant: JoinHandle<()>,
}

impl Attended {
    /// Looks after a database from now on.
    pub fn new(store: Arc<dyn Store>) -> Self {
        let trouble = Arc::<Trouble>::default();
        let attendant = tokio::spawn(attend(store.clone(), trouble.clone()));
        Self { store, trouble, attendant }
    }

    /// The trouble it is in, and word of every change.
    pub fn trouble(&self) -> watch::Receiver<Option<Error>> {
        self.trouble.follow()
    }
}

impl Drop for Attended {
    fn drop(&mut self) {
        self.attendant.abort();
    }
}

impl Store for Attended {
    fn begin(&self, purpose: Purpose) -> Later<'_, Box<dyn Session>> {
        Box::pin(async move {
            let span = tracing::info_span!(target: "spans", "records", purpose = ?purpose);
            let session = tokio::select! {
                biased;
                away = self.trouble.away() => return Err(away),
                begun = self.store.begin(purpose) => self.trouble.note(begun)?,
            };
            Ok(Box::new(AttendedSession { session, trouble: self.trouble.clone(), _span: span })
                as Box<dyn Session>)
        })
    }

    fn writers(&self) -> usize {
        self.store.writers()
    }

    fn changes(&self) -> &broadcast::Sender<Change> {
        self.store.changes()
    }

    fn copy_to<'a>(&'a self, path: &'a Path) -> Later<'a, ()> {
        self.store.copy_to(path)
    }

    fn look(&self, purpose: Purpose) -> Later<'_, ()> {
        self.store.look(purpose)
    }

    fn connections(&self) -> (usize, usize) {
        self.store.connections()
    }

    fn close(&self) -> Later<'_, ()> {
        self.attendant.abort();
        self.store.close()
    }
}

/// A session whose outcomes are noted.
struct AttendedSession {
    session: Box<dyn Session>,
    trouble: Arc<Trouble>,
    /// For export, from the wait for a connection until this is dropped.
    _span: Span,
}

impl Session for AttendedSession {
    fn run<'a>(&'a mut self, sql: &'static str, values: Vec<Value>) -> Later<'a, Vec<Row>> {
        Box::pin(async move { self.trouble.note(self.session.run(sql, values).await) })
    }

    fn run_rows<'a>(&'a mut self, sql: &'static str, table: Table) -> Later<'a, Vec<Row>> {
        Box::pin(async move { self.trouble.note(self.session.run_rows(sql, table).await) })
    }

    fn announce(&mut self, changes: Vec<Change>) -> Later<'_, ()> {
        Box::pin(async move { self.trouble.note(self.session.announce(changes).await) })
    }

    fn commit(self: Box<Self>) -> Later<'static, ()> {
        Box::pin(async move { self.trouble.note(self.session.commit().await) })
    }
}

/// Looks now and then, and at once where something was declined.
async fn attend(store: Arc<dyn Store>, trouble: Arc<Trouble>) {
    let mut said: Option<(String, Instant)> = None;
    loop {
        // Which of both it was is all the same.
        let _ = timeout(EVERY, trouble.wants_a_look()).await;
        let found = look(store.as_ref(), trouble.now()).await;
        let declined = trouble.take_declined();
        if let (None, Some(detail)) = (&found, declined)
            && said.as_ref().is_none_or(|(last, at)| *last != detail || at.elapsed() > SAID)
        {
            tracing::warn!(detail, "the database declined, and is there all the same");
            said = Some((detail, Instant::now()));
        }
        trouble.set(found);
        sleep(AT_MOST_EVERY).await;
    }
}

/// What a look shows to be the matter, after what was the matter before.
async fn look(store: &dyn Store, before: Option<Error>) -> Option<Error> {
    let looked = async {
        store.look(Purpose::Read).await?;
        // What can be read may still take nothing. Only where it took nothing before is that worth a write.
        if matches!(before, Some(Error::Full { .. } | Error::ReadOnly { .. })) {
            return store.look(Purpose::Write).await.map_err(|error| match error {
                // Someone else writes.
                Error::Unavailable { .. } => before.unwrap_or(error),
                other => other,
            });
        }
        Ok(())
    };
    let late = || Error::Unavailable { detail: format!("no answer within {} s", PATIENCE.as_secs()) };
    match timeout(PATIENCE, looked).await.unwrap_or_else(|_| Err(late())) {
        Err(error @ (Error::Unavailable { .. } | Error::Full { .. } | Error::ReadOnly { .. })) => Some(error),
        // What is damaged is told to those who meet it.
        Ok(()) | Err(_) => None,
    }
}
