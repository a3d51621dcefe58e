//! Growers who go on noting things, whatever becomes of the database: what is put off is asked for again until it is taken.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use fastrand::Rng;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

use crate::appending::{Client, Kept, Unanswered, seed};

/// Growers at the same time.
const GROWERS: usize = 4;
/// Pause of a grower between two things.
const PAUSE: Duration = Duration::from_millis(40);
/// Pause before the same is asked for again.
const AGAIN: Duration = Duration::from_millis(100);
/// Longest time until all are answered.
const PATIENCE: Duration = Duration::from_mins(1);

/// What they share.
#[derive(Default)]
pub struct Growing {
    over: AtomicBool,
    /// How often they were answered, and put off.
    answered: AtomicUsize,
    put_off: AtomicUsize,
}

impl Growing {
    /// They begin to append at an address; put off, they must be told so in these words.
    pub fn begin(test: &str, address: &str, put_off: &'static str) -> (Arc<Self>, Vec<JoinHandle<Kept>>) {
        let (growing, mut random) = (Arc::<Self>::default(), Rng::with_seed(seed(test)));
        let growers = (0..GROWERS)
            .map(|number| {
                let client = Client::new(number, random.fork());
                tokio::spawn(growing.clone().grow(client, address.to_owned(), put_off))
            })
            .collect();
        (growing, growers)
    }

    async fn grow(self: Arc<Self>, mut client: Client, address: String, expected: &str) -> Kept {
        while !self.over.load(Ordering::Relaxed) {
            let asked = client.next();
            while let Err(unanswered) = client.send(&address, &asked).await {
                let Unanswered::Out { why, retry_after_s } = unanswered else {
                    panic!("the server itself is there all the time")
                };
                assert!(why.contains(expected) && retry_after_s > 0, "{why}, in {retry_after_s} s");
                self.put_off.fetch_add(1, Ordering::Relaxed);
                sleep(AGAIN).await;
            }
            self.answered.fetch_add(1, Ordering::Relaxed);
            sleep(PAUSE).await;
        }
        client.kept
    }

    /// How often they were put off.
    pub fn put_off(&self) -> usize {
        self.put_off.load(Ordering::Relaxed)
    }

    /// Waits until so many more are answered.
    pub async fn more(&self, more: usize) {
        counts_on(&self.answered, more).await;
    }

    /// Waits until so many more are put off.
    pub async fn more_put_off(&self, more: usize) {
        counts_on(&self.put_off, more).await;
    }

    /// Ends it once everything that was begun is answered; all that was acknowledged.
    pub async fn end(&self, growers: Vec<JoinHandle<Kept>>) -> Kept {
        self.over.store(true, Ordering::Relaxed);
        let mut acknowledged = Kept::default();
        for grower in growers {
            let kept = timeout(PATIENCE, grower).await.expect("every grower is answered in the end");
            acknowledged.join(&kept.expect("no grower fails"));
        }
        acknowledged
    }
}

/// Waits until a counter has counted so many more.
async fn counts_on(counter: &AtomicUsize, more: usize) {
    let enough = counter.load(Ordering::Relaxed) + more;
    let waited = async {
        while counter.load(Ordering::Relaxed) < enough {
            sleep(Duration::from_millis(10)).await;
        }
    };
    timeout(PATIENCE, waited).await.unwrap_or_else(|_| panic!("{more} more within {PATIENCE:?}"));
}
