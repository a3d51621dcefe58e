//! A farm with a season's heaps, and its feed address.

use std::time::Duration;

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::history::{Addition, Event};
use baycast_model::moment::Moment;
use baycast_model::site::Site;
use baycast_records::{Append, BatchDraft, Entry, FarmDraft, Mode, Placed, Stamp};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use crate::databases::Database;
use crate::http;
use crate::server::Server;

/// Batches in use.
const BATCHES: usize = 12;
const FARM: &str = "home";

fn bay(id: &str) -> Bay {
    Bay {
        id: id.to_owned(),
        length_m: 1.5,
        width_m: 1.2,
        height_m: 1.1,
        wall: Wall { construction: Construction::TimberBoards, layers: Vec::new() },
        base: Base::Soil,
        top: Top::Open,
    }
}

/// Fills a store; hands back what the feed's paths begin with.
pub async fn plant(database: &Database) -> String {
    let records = database.open().await;
    let site = Site { latitude_deg: 52.0, normals: None, daily: Vec::new() };
    let draft = FarmDraft { name: "Home".into(), site, time_zone: "Europe/London".into(), barrow_m3: None };
    records.create_farm(FARM, &draft).await.expect("a farm");
    let today = TimeZone::UTC.to_datetime(Timestamp::now()).date();
    let mut entries = Vec::new();
    for (number, days) in (10_i64..).step_by(20).take(BATCHES).enumerate() {
        let name = format!("heap-{number}");
        records.create_bay(FARM, &bay(&name), 1).await.expect("a bay");
        let draft = BatchDraft { name: name.clone(), start_bay: name.clone(), ..BatchDraft::default() };
        records.create_batch(FARM, &name, &draft).await.expect("a batch");
        let filled = today.saturating_sub(days.days());
        for feedstock in ["grass_mowings", "shredded_prunings"] {
            let addition =
                Addition { feedstock: feedstock.into(), mass_kg: Some(180.0), ..Addition::default() };
            let event = Event { addition: Some(addition), ..Event::at(Moment::Date(filled)) };
            entries.push(Placed { batch: name.clone(), entry: Entry::Add { event } });
        }
    }
    let now = Timestamp::now();
    let append = Append { farm: FARM.into(), entries, mode: Mode::AllOrNothing, idempotency_key: None };
    records.append(append, &Stamp::new(now, "bench")).await.expect("the events");
    let issued = records.create_feed(FARM, "bench", "bench", now).await.expect("a feed address");
    records.close().await.expect("the records close");
    format!("/feeds/{}", issued.token)
}

/// Waits until everything is told.
pub async fn settled(server: &Server, path: &str) {
    loop {
        let told = http::get(server, &format!("{path}/readiness.json")).await.json();
        if told["pending"] == 0 && told["batches"].as_array().is_some_and(|told| told.len() == BATCHES) {
            // From two seconds on answers are dated, and as long as all that follow.
            tokio::time::sleep(Duration::from_secs(3)).await;
            return;
        }
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
}
