//! The writers: appends that wait at the same time are recorded in one transaction, so that they share its flush to disk.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};
use tokio::task::{JoinHandle, yield_now};

use crate::append::{Answer, Append};
use crate::error::{Clash, Error, Result};
use crate::group::record;
use crate::stamp::Stamp;
use crate::store::Store;

/// Appends that may wait for one writer.
const QUEUE: usize = 4096;
/// Entries after which a group takes no more appends.
const GROUP_ENTRIES: usize = 512;
/// How often an append is tried again that met another replica's.
const TRIES: usize = 5;

/// An append as it is decided.
pub(crate) struct Request {
    pub append: Append,
    /// Of what is asked for, where an idempotency key is given.
    pub hash: String,
    pub stamp: Stamp,
}

/// An append on its way, and where its answer goes.
struct Waiting {
    request: Request,
    reply: oneshot::Sender<Result<Answer>>,
}

/// The writers of a store. A batch's appends go to one of them, so that they keep their order.
pub(crate) struct Writers {
    queues: Vec<mpsc::Sender<Waiting>>,
    tasks: Vec<JoinHandle<()>>,
}

impl Writers {
    /// Starts as many as the store works with.
    pub fn start(store: &Arc<dyn Store>) -> Self {
        let (queues, tasks) = (0..store.writers())
            .map(|_| {
                let (queue, requests) = mpsc::channel(QUEUE);
                (queue, tokio::spawn(write(store.clone(), requests)))
            })
            .unzip();
        Self { queues, tasks }
    }

    /// Hands an append over and waits for its answer.
    pub async fn append(&self, request: Request) -> Result<Answer> {
        let append = &request.append;
        let closed = || Error::Unavailable { detail: "the records are closing".into() };
        let mut hasher = DefaultHasher::new();
        (&append.farm, append.entries.first().map(|placed| &placed.batch)).hash(&mut hasher);
        let queue = &self.queues[hasher.finish() as usize % self.queues.len()];
        let (reply, answer) = oneshot::channel();
        queue.send(Waiting { request, reply }).await.map_err(|_| closed())?;
        answer.await.map_err(|_| closed())?
    }

    /// Waits until everything handed over is recorded.
    pub async fn finish(self) {
        drop(self.queues);
        for task in self.tasks {
            // A writer that panicked has dropped its callers' replies: they know.
            let _ = task.await;
        }
    }
}

async fn write(store: Arc<dyn Store>, mut requests: mpsc::Receiver<Waiting>) {
    while let Some(first) = requests.recv().await {
        // Those who were answered a moment ago get to ask again before the group is closed.
        yield_now().await;
        let mut entries = first.request.append.entries.len();
        let mut group = vec![first];
        while entries < GROUP_ENTRIES
            && let Ok(next) = requests.try_recv()
        {
            entries += next.request.append.entries.len();
            group.push(next);
        }
        answer(store.as_ref(), group).await;
    }
}

/// Records a group, or its appends one by one where together they met a conflict.
async fn answer(store: &dyn Store, group: Vec<Waiting>) {
    let (requests, replies): (Vec<_>, Vec<_>) =
        group.into_iter().map(|waiting| (waiting.request, waiting.reply)).unzip();
    match record(store, &requests).await {
        Ok(answers) => {
            for (reply, answer) in replies.into_iter().zip(answers) {
                // A caller who stopped waiting gets no answer.
                let _ = reply.send(answer);
            }
        }
        Err(error) if may_repeat(&error) => {
            for (request, reply) in requests.iter().zip(replies) {
                let _ = reply.send(alone(store, request).await);
            }
        }
        Err(error) => {
            for reply in replies {
                let _ = reply.send(Err(error.clone()));
            }
        }
    }
}

async fn alone(store: &dyn Store, request: &Request) -> Result<Answer> {
    let mut tries = 1;
    loop {
        match record(store, std::slice::from_ref(request)).await {
            Ok(mut answers) => {
                let only = answers.pop();
                return only.ok_or_else(|| Error::corrupt("a group without its answer"))?;
            }
            Err(error) if may_repeat(&error) && tries < TRIES => tries += 1,
            Err(error) => return Err(error),
        }
    }
}

/// Whether the transaction was certainly undone and may succeed when done again. A lost connection is no such case: the
/// commit may have gone through.
fn may_repeat(error: &Error) -> bool {
    matches!(error, Error::Conflict { what: Clash::Constraint { .. } })
}
