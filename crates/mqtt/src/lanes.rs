//! Messages of one topic one after the other, of different topics at the same time.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use tokio::sync::mpsc;

use crate::job::{Done, Job};
use crate::recorder::Recorder;

/// How many messages are recorded at the same time. Those that wait together share one flush to disk.
const LANES: usize = 32;

/// Where messages wait.
pub struct Lanes(Vec<mpsc::Sender<Job>>);

impl Lanes {
    /// Starts them, each with room for `room` messages; what is done with is told to the receiver, which ends when the
    /// lanes are dropped and empty.
    pub fn start(recorder: &Arc<Recorder>, room: usize) -> (Self, mpsc::UnboundedReceiver<Done>) {
        let (done, dones) = mpsc::unbounded_channel();
        let lanes = (0..LANES)
            .map(|_| {
                let (lane, jobs) = mpsc::channel(room);
                tokio::spawn(work(jobs, recorder.clone(), done.clone()));
                lane
            })
            .collect();
        (Self(lanes), dones)
    }

    /// One lane, whose messages the caller takes.
    #[cfg(test)]
    pub fn one(room: usize) -> (Self, mpsc::Receiver<Job>) {
        let (lane, jobs) = mpsc::channel(room);
        (Self(vec![lane]), jobs)
    }

    /// No lanes: those there were end when they are empty.
    pub fn none() -> Self {
        Self(Vec::new())
    }

    /// Puts a message into its topic's lane, waiting for room.
    pub async fn put(&self, job: Job) {
        let mut hasher = DefaultHasher::new();
        job.topic.hash(&mut hasher);
        let lane = &self.0[hasher.finish() as usize % self.0.len()];
        if lane.send(job).await.is_err() {
            tracing::error!("a lane of probe messages ended");
        }
    }
}

/// Records what comes, one after the other.
async fn work(mut jobs: mpsc::Receiver<Job>, recorder: Arc<Recorder>, done: mpsc::UnboundedSender<Done>) {
    while let Some(job) = jobs.recv().await {
        match recorder.record(&job).await {
            Some(reason) => {
                // Nobody listens any more once the connection's task has ended.
                let _ = done.send(Done { connection: job.connection, packet: job.packet, reason });
            }
            // The records are away: those behind it would wait for them in vain too.
            None if recorder.is_stopping() => break,
            None => {}
        }
    }
}
