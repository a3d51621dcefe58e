//! A farm with a bay and a batch, for the cases to work on.

use baycast_model::bay::{Bay, Construction, Wall};
use baycast_model::history::{Event, Level, Merge, Move, Reading};
use baycast_model::moment::Moment;
use baycast_model::site::Site;
use baycast_records::{BatchDraft, Entry, EventId, FarmDraft, Records, Stamp};
use jiff::Timestamp;

pub const FARM: &str = "orchard";
pub const BATCH: &str = "spring";

/// Seconds since 1970 of the cases' first moment.
const START_S: i64 = 1_790_000_000;

/// A moment of the cases, seconds after the first.
pub fn at(second: i64) -> Timestamp {
    Timestamp::from_second(START_S + second).expect("a time")
}

pub fn stamp(second: i64) -> Stamp {
    Stamp::new(at(second), "key_1")
}

pub fn farm_draft(name: &str) -> FarmDraft {
    let site = Site { latitude_deg: 51.25, normals: None, daily: vec![] };
    FarmDraft { name: name.into(), site, time_zone: "Etc/UTC".into(), barrow_m3: Some(0.1) }
}

pub fn bay(id: &str) -> Bay {
    Bay {
        id: id.into(),
        length_m: 1.5,
        width_m: 1.2,
        height_m: 1.1,
        wall: Wall { construction: Construction::TimberBoards, layers: vec![] },
        base: baycast_model::bay::Base::Soil,
        top: baycast_model::bay::Top::Open,
    }
}

pub fn batch_draft(bay: &str) -> BatchDraft {
    BatchDraft { name: "Spring heap".into(), start_bay: bay.into(), ..BatchDraft::default() }
}

/// Adds a farm with bay `east` and a batch in it.
pub async fn plant(records: &Records, farm: &str) {
    records.create_farm(farm, &farm_draft("Orchard")).await.expect("a farm");
    records.create_bay(farm, &bay("east"), 1).await.expect("a bay");
    records.create_batch(farm, BATCH, &batch_draft("east")).await.expect("a batch");
}

/// Opened records with the farm.
pub async fn planted(database: &crate::databases::Database) -> Records {
    let records = database.open().await;
    plant(&records, FARM).await;
    records
}

fn day(day: i8) -> Moment {
    Moment::Date(jiff::civil::date(2026, 4, day))
}

pub fn reading(own_id: Option<&str>, temperature_c: f64) -> Event {
    Event {
        id: own_id.map(str::to_owned),
        reading: Some(Reading { temperature_c: Some(temperature_c), ..Reading::default() }),
        ..Event::at(day(7))
    }
}

pub fn level(fill_fraction: f64) -> Event {
    Event { level: Some(Level { fill_fraction }), ..Event::at(day(8)) }
}

pub fn moved(to_bay: &str) -> Event {
    Event { moved: Some(Move { to_bay: to_bay.into() }), ..Event::at(day(9)) }
}

pub fn merge(source: &str) -> Event {
    Event { merge: Some(Merge { source: source.into(), ..Merge::default() }), ..Event::at(day(10)) }
}

pub fn addition(feedstock: &str) -> Event {
    let addition = baycast_model::history::Addition {
        feedstock: feedstock.into(),
        mass_kg: Some(300.0),
        ..Default::default()
    };
    Event { addition: Some(addition), ..Event::at(day(1)) }
}

/// Adds an event to the batch and returns its id.
pub async fn add(records: &Records, batch: &str, event: Event) -> EventId {
    records.record(FARM, batch, Entry::Add { event }, None, &stamp(0)).await.expect("an event").id
}
