//! What an append, and reading the history after it, costs by the number of batches in the records (SQLite), one after the
//! other: of the records alone, so that nothing else is worked out beside it.

use std::env;
use std::time::Instant;

use baycast_records::{Entry, Stamp};

use crate::databases::Database;
use crate::load::{self, FARM, batch, reading};
use crate::table::Table;

/// Batches of the stores but the largest.
const BATCHES: [usize; 3] = [10, 1000, 100_000];
/// Batches of the largest where nothing else is said.
const MOST: usize = 1_000_000;
/// Appends, each with the history after it.
const TURNS: usize = 2000;

/// Times of an append and of the history after it, ms.
async fn times(batches: usize) -> [Vec<f64>; 2] {
    let database = Database::sqlite();
    load::load(&database, batches, 0).await;
    let records = database.open().await;
    let (mut random, mut times) = (fastrand::Rng::with_seed(1), [Vec::new(), Vec::new()]);
    for number in 0..TURNS {
        let (batch, stamp) = (batch(random.usize(..batches)), Stamp::new(jiff::Timestamp::now(), "figures"));
        let started = Instant::now();
        records
            .record(FARM, &batch, Entry::Add { event: reading(number) }, None, &stamp)
            .await
            .expect("an event");
        times[0].push(started.elapsed().as_secs_f64() * 1e3);
        let started = Instant::now();
        records.history(FARM, &batch).await.expect("a history");
        times[1].push(started.elapsed().as_secs_f64() * 1e3);
    }
    records.close().await.expect("the records close");
    times
}

/// Measures each number of batches beside the smallest.
pub async fn measure(table: &mut Table) {
    let most = env::var("BAYCAST_BATCHES").map_or(MOST, |given| given.parse().expect("a number"));
    let [smallest, more @ ..] = BATCHES;
    let beside = times(smallest).await;
    for batches in more.into_iter().filter(|batches| *batches < most).chain([most]) {
        let own = times(batches).await;
        for (name, own, beside) in [("append", &own[0], &beside[0]), ("history", &own[1], &beside[1])] {
            table.add(
                &format!("{name}, {batches} batches"),
                own,
                beside,
                "ms",
                &format!("{smallest} batches"),
                "",
            );
        }
    }
}
