//! What is the matter with the database, as what was asked of it and the last look at it showed.

use std::mem::discriminant;
use std::sync::{Mutex, PoisonError};

use tokio::sync::{Notify, watch};

use crate::error::{Error, Result};

/// The trouble that the database is in: [`Error::Unavailable`] where it is away, [`Error::ReadOnly`] or [`Error::Full`];
/// nothing where it is sound. It is told in the log when it begins, changes or ends, and at no other time.
#[derive(Default)]
pub(crate) struct Trouble {
    now: watch::Sender<Option<Error>>,
    /// What the database said when it declined something, for a reason that only a look can tell.
    declined: Mutex<Option<String>>,
    look: Notify,
}

impl Trouble {
    /// The trouble there is now, and word of every change.
    pub fn follow(&self) -> watch::Receiver<Option<Error>> {
        self.now.subscribe()
    }

    /// The trouble there is now.
    pub fn now(&self) -> Option<Error> {
        self.now.borrow().clone()
    }

    /// Passes an outcome on, with what it shows noted.
    pub fn note<T>(&self, outcome: Result<T>) -> Result<T> {
        match &outcome {
            Err(error @ (Error::Full { .. } | Error::ReadOnly { .. })) => self.set(Some(error.clone())),
            Err(Error::Unavailable { detail }) => {
                *self.declined.lock().unwrap_or_else(PoisonError::into_inner) = Some(detail.clone());
                self.look.notify_one();
            }
            _ => {}
        }
        outcome
    }

    /// That it is away, once it is.
    pub async fn away(&self) -> Error {
        let mut now = self.now.subscribe();
        loop {
            if let Some(error @ Error::Unavailable { .. }) = &*now.borrow_and_update() {
                return error.clone();
            }
            // The sender is this very one.
            let _ = now.changed().await;
        }
    }

    /// Waits until something was declined for a reason that a look would tell.
    pub async fn wants_a_look(&self) {
        self.look.notified().await;
    }

    /// What was declined since this was asked last.
    pub fn take_declined(&self) -> Option<String> {
        self.declined.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Notes the trouble, or that there is none any more.
    pub fn set(&self, trouble: Option<Error>) {
        self.now.send_if_modified(|now| {
            let changed = now.as_ref().map(discriminant) != trouble.as_ref().map(discriminant);
            if changed {
                if let Some(error) = &trouble {
                    tracing::error!("{error}");
                } else {
                    tracing::warn!("the records take everything again");
                }
                *now = trouble;
            }
            changed
        });
    }
}
