//! Two processes on one database, one of them killed: the other goes on, and a client who asks it again what the killed one
//! left unanswered loses and doubles nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::thread::sleep;
use std::time::Duration;

use baycast_records::{Entry, Outcome, Records, Stamp};

use crate::appender::{FARM, TASKS, batch_of, event};
use crate::databases::Database;
use crate::process::{Acknowledged, Process};
use crate::{add_batches, check, crashes, one_bay, some_time};

/// One round in so many of the other crash tests.
const SHARE: usize = 4;

pub async fn kill_one_beside_another(database: Database) {
    let records = database.open().await;
    one_bay::plant(&records, FARM).await;
    let mut found_kept = 0;
    for round in 0..crashes().div_ceil(SHARE) {
        add_batches(&records, round).await;
        let killed = Process::start(&database, round, "killed");
        let other = Process::start(&database, round, "other");
        sleep(some_time());
        let killed = killed.kill();
        sleep(Duration::from_millis(100));
        // It would have ended had an append of it failed.
        let other = other.kill();
        let again = ask_again(&records, round, &killed, &mut found_kept).await;

        let mut acknowledged: BTreeMap<String, BTreeSet<(String, String)>> = BTreeMap::new();
        for (batch, own_id, id) in killed.into_iter().chain(other).chain(again) {
            acknowledged.entry(batch).or_default().insert((own_id, id));
        }
        for (batch, events) in &acknowledged {
            check(&records, batch, Some(events)).await;
        }
    }
    println!("{}: {found_kept} unanswered appends had been kept", &database.url[..8]);
}

/// Adds each task's first event that was not acknowledged, as its client would.
async fn ask_again(
    records: &Records,
    round: usize,
    killed: &[Acknowledged],
    found_kept: &mut usize,
) -> Vec<Acknowledged> {
    let mut again = Vec::new();
    for task in 0..TASKS {
        let mine = format!("killed-{task}-");
        let number = killed.iter().filter(|(_, own_id, _)| own_id.starts_with(&mine)).count();
        let (batch, event) = (batch_of(round, task, number), event("killed", task, number));
        let own_id = event.id.clone().expect("an own id");
        let stamp = Stamp::new(jiff::Timestamp::now(), "client");
        let made =
            records.record(FARM, &batch, Entry::Add { event }, None, &stamp).await.expect("it is taken");
        *found_kept += usize::from(made.outcome == Outcome::Unchanged);
        again.push((batch, own_id, made.id.to_string()));
    }
    again
}
