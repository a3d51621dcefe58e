//! Estimates of a stored batch: what is kept at hand, and what is made once.

mod yard;

use std::sync::Arc;
use std::sync::atomic::Ordering;

use baycast_model::history::{Event, Turn};
use baycast_service::Limits;
use yard::Yard;
use yard::larkfield::year::{LAST_DAY, READINGS, reading};

#[tokio::test(flavor = "multi_thread")]
async fn what_was_kept_changes_no_answer() {
    let yard = Yard::open().await;
    let running = yard.service();
    let narrow = yard.service_within(Limits { kept_bytes: 0, ..Limits::default() });
    for day in 0..3 {
        yard.append(&running, vec![reading(READINGS + day)]).await;
        if day == 2 {
            let turn = Event::at(LAST_DAY.to_string().parse().expect("a date"));
            yard.append(&running, vec![Event { turn: Some(Turn::default()), ..turn }]).await;
        }
        let from_the_start = yard.estimate(&yard.service()).await;
        assert_eq!(yard.estimate(&running).await, from_the_start);
        assert_eq!(yard.estimate(&narrow).await, from_the_start);
        yard.today.fetch_add(1, Ordering::Relaxed);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn those_who_ask_together_get_one_estimate() {
    let yard = Yard::open().await;
    let service = yard.service();
    let asked = (0..4).map(|_| yard.estimate(&service));
    let answers = futures::future::join_all(asked).await;
    assert!(answers.iter().all(|answer| Arc::ptr_eq(answer, &answers[0])));
}
