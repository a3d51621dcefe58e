//! Going on from the last event that was seen.

use std::time::{Duration, Instant};

use tokio::time::timeout;
use tonic::transport::Channel;

use super::events::{Stream, Told};
use super::{PATIENCE, plant, read, told};
use crate::databases::Database;
use crate::server::Server;

async fn channel(server: &Server) -> Channel {
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    endpoint.connect().await.expect("the server takes connections")
}

async fn next(stream: &mut Stream) -> Told {
    timeout(PATIENCE, stream.next()).await.expect("it is told in time").expect("the stream goes on")
}

/// All that is told up to a sequence.
async fn until(stream: &mut Stream, last: u64) -> Vec<Told> {
    let mut all: Vec<Told> = Vec::new();
    while all.last().is_none_or(|told| told.sequence() < last) {
        all.push(next(stream).await);
    }
    all
}

pub async fn a_change_is_told_at_once_and_a_restart_misses_none(database: Database) {
    let mut server = Server::on(&database);
    let begun = plant(&server, 2).await;
    let mut events = Stream::events(&server.address, None, None).await.expect("a stream");
    assert_eq!(next(&mut events).await, Told::Whole(begun), "the whole first");
    let mut messages = Stream::messages(channel(&server).await, Some(begun)).await.expect("a stream");
    let mut longest = Duration::ZERO;
    for number in 1..=5_u32 {
        read(&server, 0, 40.0 + f64::from(number)).await;
        let recorded = Instant::now();
        let (event, message) = tokio::join!(next(&mut events), next(&mut messages));
        let took = recorded.elapsed();
        assert_eq!(event, message);
        assert!(
            matches!(&event, Told::Change(sequence, batch, _)
            if *sequence == begun + u64::from(number) && batch == "heap0"),
            "{event:?}"
        );
        longest = longest.max(took);
    }
    println!("watching {}: a change was told {longest:?} after it was recorded, at most", &database.url[..6]);
    assert!(longest < Duration::from_secs(10), "{longest:?}");

    // Killed while a change is on its way.
    read(&server, 1, 50.0).await;
    server.kill();
    let mut seen = begun + 5;
    while let Some(told) = timeout(PATIENCE, events.next()).await.expect("it ends with the server") {
        assert_eq!(told.sequence(), seen + 1);
        seen += 1;
    }
    let server = Server::on(&database);
    read(&server, 0, 30.0).await;
    read(&server, 1, 51.0).await;
    let last = told(&server).await;
    assert!(last >= begun + 7, "{last}");
    let mut events = Stream::events(&server.address, None, Some(seen)).await.expect("a stream");
    let after = until(&mut events, last).await;
    let expected: Vec<u64> = (seen + 1..=last).collect();
    assert_eq!(after.iter().map(Told::sequence).collect::<Vec<_>>(), expected);
    assert!(after.iter().all(|told| matches!(told, Told::Change(..))), "{after:?}");
    let mut all = Stream::messages(channel(&server).await, Some(0)).await.expect("a stream");
    let all = until(&mut all, last).await;
    assert_eq!(all.iter().map(Told::sequence).collect::<Vec<_>>(), (1..=last).collect::<Vec<_>>());
    assert_eq!(all[seen as usize..], after);

    // A place that was never reached is none: the whole comes first.
    let mut other = Stream::events(&server.address, None, Some(last + 1000)).await.expect("a stream");
    assert_eq!(next(&mut other).await, Told::Whole(last));
}
