//! Four times the load that the service can carry, for a minute: what is let in is answered nearly as soon as at half load, the
//! rest is told at once when to come back, memory is bounded, and when the flood is over all is well at once.
//!
//! Callers come when they come, whether those before were answered or not (an open loop), each over a connection that is kept;
//! an answer's time counts from when its caller came. Client and server share the machine, so the client sends bytes that were
//! prepared, and reads no more of an answer than its head and its length.
//!
//! `cargo bench -p baycast-tests --bench overload`

#[path = "../../end_to_end/binary.rs"]
mod binary;
#[path = "../../../crates/records/tests/databases/mod.rs"]
#[allow(dead_code, unused_imports, reason = "the tests of the records use more of it")]
mod databases;
#[path = "../../end_to_end/histories.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod histories;
#[path = "../../end_to_end/http.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod http;
mod load;
#[path = "../../end_to_end/server.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod server;

use std::time::Duration;

use load::{Answered, Caller, Fate};
use server::Server;

/// How long is asked as fast as is answered, to find out what can be carried.
const FINDING: Duration = Duration::from_secs(10);
/// How long the server is at half load, and flooded, and how long it is looked at afterwards.
const HALF: Duration = Duration::from_secs(20);
const FLOOD: Duration = Duration::from_mins(1);
const AFTER: Duration = Duration::from_secs(10);
/// The flood, in loads that can be carried.
const TIMES: f64 = 4.0;
/// What is aimed at: the time of what is let in, in times at half load; and how soon all is well again.
const TARGET_P99: f64 = 2.0;
const TARGET_RECOVERY: Duration = Duration::from_secs(2);
/// So many answers in a row, let in and in time, and all is well.
const WELL: usize = 20;

/// The time, ms, that so many of a hundred of those let in took at most.
fn percentile(answers: &[Answered], of_hundred: f64) -> f64 {
    let mut times: Vec<f64> =
        answers.iter().filter(|own| own.fate == Fate::LetIn).map(Answered::ms).collect();
    times.sort_by(f64::total_cmp);
    let place = (times.len() as f64 * of_hundred / 100.0).ceil() as usize;
    times.get(place.saturating_sub(1)).copied().unwrap_or(f64::NAN)
}

fn count(answers: &[Answered], fate: Fate) -> usize {
    answers.iter().filter(|own| own.fate == fate).count()
}

/// One line of the table.
fn row(name: &str, rate: f64, answers: &[Answered], server: &Server) {
    let mib = server.memory_bytes("VmRSS") >> 20;
    println!(
        "{name:<12} {rate:>8.1} {:>8.1} {:>8.1} {:>8} {:>8} {:>8} {:>8} {mib:>8}",
        percentile(answers, 50.0),
        percentile(answers, 99.0),
        count(answers, Fate::LetIn),
        count(answers, Fate::Shed),
        count(answers, Fate::Lost),
        count(answers, Fate::Unsent),
    );
}

/// When, after the flood, all was well: from then on so many in a row were let in and took no longer than `most_ms`.
fn well_after(answers: &[Answered], most_ms: f64) -> Option<Duration> {
    let good = |own: &Answered| own.fate == Fate::LetIn && own.ms() <= most_ms;
    answers.windows(WELL).find(|row| row.iter().all(good)).map(|row| row[0].came)
}

#[tokio::main]
async fn main() {
    let server = Server::start();
    let caller = Caller::new(&server.address, "/v1/estimates", &histories::full().to_string());
    let carried = caller.as_fast_as_answered(FINDING).await;
    println!("{carried:.1} estimates a second can be carried\n");
    println!("                  load, p50,     p99,     let in   shed     lost     unsent   memory,");
    println!("                  /s    ms       ms                                           MiB");
    let half = caller.at_rate(carried / 2.0, HALF).await;
    row("half", carried / 2.0, &half, &server);
    let flood = caller.at_rate(carried * TIMES, FLOOD).await;
    row("flood", carried * TIMES, &flood, &server);
    let after = caller.at_rate(carried / 2.0, AFTER).await;
    row("after", carried / 2.0, &after, &server);
    println!("\nat most {} MiB of memory", server.memory_bytes("VmHWM") >> 20);
    let (before, under) = (percentile(&half, 99.0), percentile(&flood, 99.0));
    println!("p99 of what is let in: {:.2} times that at half load (target {TARGET_P99})", under / before);
    match well_after(&after, TARGET_P99 * before) {
        Some(time) => println!("all well {time:.2?} after the flood (target {TARGET_RECOVERY:?})"),
        None => println!("not well within {AFTER:?} after the flood (target {TARGET_RECOVERY:?})"),
    }
    let let_in = count(&flood, Fate::LetIn) as f64 / FLOOD.as_secs_f64();
    println!(
        "{let_in:.1} estimates a second under the flood, {:.2} of what can be carried",
        let_in / carried
    );
}
