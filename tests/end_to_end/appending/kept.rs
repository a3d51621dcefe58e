//! What was acknowledged, and what is recorded.

use std::collections::BTreeMap;

use serde_json::Value;

use super::asked::{Asked, Line};
use super::{BATCHES, FARM, batch};
use crate::http::get;
use crate::server::Server;

/// Events by the ids that they were given, each with its batch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kept(pub BTreeMap<String, (String, Line)>);

impl Kept {
    /// Notes an answer.
    pub fn note(&mut self, asked: &Asked, ids: &[String]) {
        assert_eq!(ids.len(), asked.lines.len(), "an id for each event");
        for (id, line) in ids.iter().zip(&asked.lines) {
            let before = self.0.insert(id.clone(), (asked.batch.clone(), line.clone()));
            assert_eq!(before, None, "{id} was given to two events");
        }
    }

    /// Adds another client's.
    pub fn join(&mut self, other: &Self) {
        for (id, own) in &other.0 {
            let before = self.0.insert(id.clone(), own.clone());
            assert_eq!(before, None, "{id} was given to two events");
        }
    }

    /// Whether all of these are in `recorded`, as they were sent.
    pub fn assert_within(&self, recorded: &Self) {
        for (id, own) in &self.0 {
            assert_eq!(recorded.0.get(id), Some(own), "{id} was acknowledged");
        }
    }

    /// Whether these and nothing else are in `recorded`.
    pub fn assert_all_of(&self, recorded: &Self) {
        self.assert_within(recorded);
        let more: Vec<_> = recorded.0.iter().filter(|(id, _)| !self.0.contains_key(*id)).collect();
        assert!(more.is_empty(), "recorded, and never answered for: {more:?}");
    }
}

/// How many events a batch says it has.
async fn count(server: &Server, batch: &str) -> usize {
    let own = get(server, &format!("/v1/farms/{FARM}/batches/{batch}")).await.json();
    own["event_version"].as_u64().expect("a count") as usize
}

/// Everything that was ever recorded, read page by page.
pub async fn recorded(server: &Server) -> Kept {
    let mut kept = Kept::default();
    for number in 0..BATCHES {
        let batch = batch(number);
        let least = count(server, &batch).await;
        let (mut token, mut listed) = (String::new(), 0);
        loop {
            let path = format!(
                "/v1/farms/{FARM}/batches/{batch}/events?shown=all&page_size=1000&page_token={token}"
            );
            let page = get(server, &path).await.json();
            for item in page["items"].as_array().expect("items") {
                let line = Line {
                    own_id: item["external_id"].as_str().map(str::to_owned),
                    supersedes: item["supersedes"].as_str().map(str::to_owned),
                    temperature_c: item["event"]["reading"]["temperature_c"].as_f64().expect("a reading"),
                };
                let id = item["id"].as_str().expect("an id").to_owned();
                assert_eq!(kept.0.insert(id, (batch.clone(), line)), None, "an event is listed twice");
                listed += 1;
            }
            match page.get("next_page_token").and_then(Value::as_str) {
                Some(next) => next.clone_into(&mut token),
                None => break,
            }
        }
        // While nobody appends, both are the same.
        let most = count(server, &batch).await;
        assert!(
            (least..=most).contains(&listed),
            "{batch} lists {listed} events and counts {least} to {most}"
        );
    }
    kept
}
