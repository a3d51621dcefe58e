//! Any sequence of entries against a plain list in memory.

use baycast_model::history::Event;
use baycast_records::{Append, Clash, Entry, Error, EventId, Mode, Placed, Records};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

use crate::databases::Database;
use crate::orchard::{BATCH, plant, reading, stamp};

/// An entry, its target named by its place among all events so far.
#[derive(Clone, Debug)]
enum Step {
    Add(Option<u8>, u8),
    Upsert(u8, u8),
    Correct(usize, u8),
    Retract(usize),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (proptest::option::of(0..5u8), 20..24u8).prop_map(|(own, c)| Step::Add(own, c)),
        3 => (0..5u8, 20..24u8).prop_map(|(own, c)| Step::Upsert(own, c)),
        2 => (0..12usize, 20..24u8).prop_map(|(target, c)| Step::Correct(target, c)),
        2 => (0..12usize).prop_map(Step::Retract),
    ]
}

/// The plain list: own id, event or retraction, and whether something took its place.
#[derive(Clone, Default)]
struct Plain(Vec<(Option<String>, Option<Event>, bool)>);

impl Plain {
    fn push(&mut self, own: Option<String>, event: Option<Event>, instead_of: Option<usize>) {
        if let Some(old) = instead_of {
            self.0[old].2 = true;
        }
        let event = event.map(|event| Event { id: own.clone(), ..event });
        self.0.push((own, event, false));
    }

    /// Takes a step as the contract says; whether it is taken.
    fn take(&mut self, step: &Step) -> bool {
        let holds = |list: &Self, own: &str| {
            list.0.iter().position(|(id, _, superseded)| id.as_deref() == Some(own) && !superseded)
        };
        match step {
            Step::Add(own, c) => {
                let own = own.map(|own| own.to_string());
                let event = reading(own.as_deref(), f64::from(*c));
                match own.as_deref().and_then(|own| holds(self, own)) {
                    Some(there) if self.0[there].1.is_some() => self.0[there].1.as_ref() == Some(&event),
                    there => {
                        self.push(own, Some(event), there);
                        true
                    }
                }
            }
            Step::Upsert(own, c) => {
                let own = own.to_string();
                let event = reading(Some(&own), f64::from(*c));
                let there = holds(self, &own);
                if there.is_none_or(|there| self.0[there].1.as_ref() != Some(&event)) {
                    self.push(Some(own), Some(event), there);
                }
                true
            }
            Step::Correct(target, c) => match self.0.get(*target).cloned() {
                Some((own, _, false)) => {
                    self.push(own, Some(reading(None, f64::from(*c))), Some(*target));
                    true
                }
                _ => false,
            },
            Step::Retract(target) => match self.0.get(*target).cloned() {
                Some((own, Some(_), false)) => {
                    self.push(own, None, Some(*target));
                    true
                }
                _ => false,
            },
        }
    }

    fn current(&self) -> Vec<Event> {
        self.0
            .iter()
            .filter(|(_, _, superseded)| !superseded)
            .filter_map(|(_, event, _)| event.clone())
            .collect()
    }
}

/// The entry that a step stands for; `ids` are those of all events so far.
fn entry(step: &Step, ids: &[EventId]) -> Entry {
    let unknown: EventId = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f".parse().unwrap();
    let id = |target: usize| ids.get(target).copied().unwrap_or(unknown);
    match step {
        Step::Add(own, c) => {
            Entry::Add { event: reading(own.map(|own| own.to_string()).as_deref(), f64::from(*c)) }
        }
        Step::Upsert(own, c) => Entry::Upsert { event: reading(Some(&own.to_string()), f64::from(*c)) },
        Step::Correct(target, c) => {
            Entry::Correct { supersedes: id(*target), event: reading(None, f64::from(*c)) }
        }
        Step::Retract(target) => Entry::Retract { supersedes: id(*target) },
    }
}

/// Runs chunks of steps, each one append, on the records and on the plain list.
async fn compare(records: &Records, farm: &str, chunks: &[(Vec<Step>, bool)]) {
    plant(records, farm).await;
    let mut plain = Plain::default();
    for (steps, keep_good) in chunks {
        let ids: Vec<EventId> = recorded(records, farm).await;
        let mode = if *keep_good { Mode::KeepGood } else { Mode::AllOrNothing };
        let entries =
            steps.iter().map(|step| Placed { batch: BATCH.into(), entry: entry(step, &ids) }).collect();
        let append = Append { farm: farm.into(), entries, mode, idempotency_key: None };
        let answer = records.append(append, &stamp(0)).await;
        // Targets are those known before the append.
        let known = |step: &Step| match step {
            Step::Correct(target, _) | Step::Retract(target) => *target < ids.len(),
            _ => true,
        };
        let mut next = plain.clone();
        let taken: Vec<bool> = steps.iter().map(|step| known(step) && next.take(step)).collect();
        match answer {
            Ok(answer) => {
                let found: Vec<bool> = answer.entries.iter().map(Result::is_ok).collect();
                assert_eq!(found, taken);
                assert!(*keep_good || taken.iter().all(|taken| *taken));
                plain = next;
            }
            Err(Error::Refused(refusals)) => {
                let found: Vec<usize> = refusals.iter().map(|refusal| refusal.index).collect();
                let expected: Vec<usize> = (0..taken.len()).filter(|index| !taken[*index]).collect();
                assert_eq!((found, *keep_good), (expected, false));
            }
            Err(
                Error::NotFound { .. }
                | Error::Conflict { what: Clash::Superseded { .. } | Clash::Exists { .. } },
            ) => {
                assert_eq!((taken.as_slice(), *keep_good), ([false].as_slice(), false));
            }
            Err(other) => panic!("{other}"),
        }
        let (history, _) = records.history(farm, BATCH).await.unwrap();
        assert_eq!(history.events, plain.current());
        assert_eq!(recorded(records, farm).await.len(), plain.0.len());
    }
}

async fn recorded(records: &Records, farm: &str) -> Vec<EventId> {
    let all = baycast_records::Which::All;
    let events = records.events_since(farm, BATCH, all, None, 1000).await.unwrap();
    events.into_iter().map(|own| own.id).collect()
}

pub async fn any_sequence_reads_back_like_a_plain_list(database: Database) {
    let records = database.open().await;
    let cases = Config { cases: 96, failure_persistence: None, ..Config::default() };
    let chunks = proptest::collection::vec((proptest::collection::vec(step(), 1..6), any::<bool>()), 1..8);
    let runtime = tokio::runtime::Handle::current();
    let number = std::cell::Cell::new(0);
    tokio::task::block_in_place(|| {
        TestRunner::new(cases)
            .run(&chunks, |chunks| {
                number.set(number.get() + 1);
                runtime.block_on(compare(&records, &format!("farm-{}", number.get()), &chunks));
                Ok(())
            })
            .unwrap();
    });
}
