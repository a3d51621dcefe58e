//! Whoever shows a key at the same time as others is let in or not by one look at the keys.

use std::collections::HashMap;
use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};

use crate::error::{Error, Result};
use crate::keys::{ApiKey, fill_in_farms, key};
use crate::store::{Purpose, Store, Table};
use crate::value::{Kind, values};

/// Callers that may wait.
const QUEUE: usize = 4096;
/// Most callers of one look.
const MOST: usize = 256;

/// What one caller asks.
enum Question {
    /// Which key has this hash; nothing where none has.
    Key(String, oneshot::Sender<Result<Option<ApiKey>>>),
    /// Whether there are keys at all.
    Any(oneshot::Sender<Result<bool>>),
}

/// Where callers ask. The task behind it ends with it.
pub(crate) struct Door(mpsc::Sender<Question>);

impl Door {
    /// Opens it.
    pub fn open(store: &Arc<dyn Store>) -> Self {
        let (door, questions) = mpsc::channel(QUEUE);
        tokio::spawn(answer(store.clone(), questions));
        Self(door)
    }

    /// The key with this hash, revoked or not.
    pub async fn key(&self, hash: String) -> Result<Option<ApiKey>> {
        self.ask(|reply| Question::Key(hash, reply)).await
    }

    /// Whether there are keys at all, revoked ones included.
    pub async fn any(&self) -> Result<bool> {
        self.ask(Question::Any).await
    }

    async fn ask<T>(&self, question: impl FnOnce(oneshot::Sender<Result<T>>) -> Question) -> Result<T> {
        let closed = || Error::Unavailable { detail: "the records are closing".into() };
        let (reply, answer) = oneshot::channel();
        self.0.send(question(reply)).await.map_err(|_| closed())?;
        answer.await.map_err(|_| closed())?
    }
}

async fn answer(store: Arc<dyn Store>, mut questions: mpsc::Receiver<Question>) {
    let mut asked = Vec::new();
    while questions.recv_many(&mut asked, MOST).await > 0 {
        let looked = look(store.as_ref(), &asked).await;
        for question in asked.drain(..) {
            // A caller who stopped waiting gets no answer.
            match question {
                Question::Key(hash, reply) => {
                    let _ = reply.send(
                        looked.as_ref().map(|seen| seen.keys.get(&hash).cloned()).map_err(Clone::clone),
                    );
                }
                Question::Any(reply) => {
                    let _ = reply.send(looked.as_ref().map(|seen| seen.any).map_err(Clone::clone));
                }
            }
        }
    }
}

/// What one look saw.
struct Seen {
    /// The keys asked for, by their hashes.
    keys: HashMap<String, ApiKey>,
    /// Whether there are keys at all; looked for only where someone asks.
    any: bool,
}

async fn look(store: &dyn Store, asked: &[Question]) -> Result<Seen> {
    let mut session = store.begin(Purpose::Read).await?;
    let hashes: Vec<_> = asked
        .iter()
        .filter_map(|question| match question {
            Question::Key(hash, _) => Some(values![hash]),
            Question::Any(_) => None,
        })
        .collect();
    let wants_any = hashes.len() < asked.len();
    let any = wants_any && !session.run("SELECT id FROM api_keys LIMIT 1", vec![]).await?.is_empty();
    let mut keys = HashMap::new();
    if !hashes.is_empty() {
        let rows = session
            .run_rows(
                "SELECT b.hash, b.id, b.name, b.scope, b.reach, b.created_at, b.revoked_at, b.last_used_at \
                 FROM {rows} JOIN api_keys b ON b.hash = k.hash",
                Table::new(&[("hash", Kind::Text)], hashes),
            )
            .await?;
        for mut row in rows {
            keys.insert(row.text()?, key(row)?);
        }
    }
    fill_in_farms(session.as_mut(), keys.values_mut()).await?;
    Ok(Seen { keys, any })
}
