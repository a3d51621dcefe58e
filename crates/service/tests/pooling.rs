//! Estimates of stored batches that rest on what finished batches of the bay taught.

#[path = "../../records/tests/databases/folder.rs"]
mod folder;
#[path = "../../model/tests/larkfield/mod.rs"]
mod larkfield;

use std::sync::Arc;

use baycast_model::estimate::Estimate;
use baycast_model::history::{Event, History, Reading, Withdrawal};
use baycast_model::plan::season::Inflow;
use baycast_records::Records;
use baycast_service::records::{
    AppendEvents, AppendMode, ArchiveState, Asked, Batch, EventEntry, Farm, FarmBay, FarmSeason,
};
use baycast_service::{Caller, Limits, Service};
use folder::Folder;
use jiff::Timestamp;
use jiff::civil::{Date, date};
use larkfield::measured::measured;
use larkfield::{filled_over, timber_bay, with_event};

/// The day of all estimates, and that on which finished batches were emptied.
const TODAY: Date = date(2027, 3, 20);
const EMPTIED: Date = date(2026, 7, 20);

/// A service with two farms of two bays each, and the batch `next` in the bay `timber` of the first.
struct Garden {
    service: Service,
    records: Arc<Records>,
    caller: Caller,
    _folder: Folder,
}

/// A batch filled in one week.
fn filled(start: &str) -> History {
    filled_over(timber_bay(), start, 1, 1500.0)
}

/// What was done to and seen of a batch that broke down faster than most, until it was emptied.
fn fast() -> Vec<Event> {
    let heap = [1.5, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    let emptied = |event: &mut Event| event.withdrawal = Some(Withdrawal { volume_m3: None });
    with_event(measured(filled("2026-03-02"), &heap, EMPTIED), "2026-07-20", emptied).events
}

fn service(records: &Arc<Records>) -> Service {
    Service::new(Limits::default(), Arc::new(|| TODAY))
        .with_records(records.clone(), Arc::new(Timestamp::now))
}

impl Garden {
    async fn open() -> Self {
        let folder = Folder::new("baycast-garden");
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        let records = Arc::new(Records::open(&url).await.expect("the records open"));
        let service = service(&records);
        let caller = service.caller(None).await.expect("a caller");
        let garden = Self { service, records, caller, _folder: folder };
        for farm in ["home", "away"] {
            let own = Farm {
                id: farm.into(),
                name: String::new(),
                site: larkfield::site(),
                time_zone: "Etc/UTC".into(),
                barrow_m3: None,
                etag: String::new(),
                archived: None,
            };
            garden.service.create_farm(&garden.caller, &own).await.expect("a farm");
            for id in ["timber", "other"] {
                let bay = baycast_model::bay::Bay { id: id.into(), ..timber_bay() };
                let bay = FarmBay { bay, position: 0, etag: String::new(), archived: None };
                garden.service.create_bay(&garden.caller, farm, &bay).await.expect("a bay");
            }
        }
        garden.batch("home", "timber", "next", filled("2027-03-01").events).await;
        garden
    }

    /// Adds a batch with its events; their ids.
    async fn batch(&self, farm: &str, bay: &str, id: &str, events: Vec<Event>) -> Vec<String> {
        let batch = Batch {
            id: id.into(),
            name: String::new(),
            start_bay: bay.into(),
            horizon_days: None,
            forecast_step_days: None,
            criteria: Vec::new(),
            event_version: 0,
            last_event: None,
            etag: String::new(),
            archived: None,
        };
        self.service.create_batch(&self.caller, farm, &batch).await.expect("a batch");
        self.append(farm, id, events.into_iter().map(|event| (event, None)).collect()).await
    }

    /// Appends events, each in place of another or of none; their ids.
    async fn append(&self, farm: &str, batch: &str, events: Vec<(Event, Option<String>)>) -> Vec<String> {
        let entry =
            |(event, supersedes)| EventEntry { event: Some(event), supersedes, ..EventEntry::default() };
        let entries = events.into_iter().map(entry).collect();
        let append = AppendEvents { entries, mode: AppendMode::AllOrNothing };
        let appended = self.service.append_events(&self.caller, farm, batch, &append, None).await;
        appended.expect("events").into_iter().map(|own| own.expect("it is taken").id).collect()
    }

    async fn archive(&self, batch: &str, state: ArchiveState) {
        let etag = self.service.get_batch(&self.caller, "home", batch).await.expect("a batch").etag;
        self.service
            .archive_batch(&self.caller, "home", batch, &etag, state)
            .await
            .expect("its state changes");
    }

    /// The estimate of `next` by a service, with its tag.
    async fn ask(&self, service: &Service, asked: Asked) -> (String, Arc<Estimate>) {
        let answer = service.estimate_batch(&self.caller, "home", "next", asked, |_| false).await;
        let answer = answer.expect("an estimate");
        (answer.etag, answer.estimate.expect("not held"))
    }

    /// The same as the service is set.
    async fn estimate(&self) -> (String, Arc<Estimate>) {
        self.ask(&self.service, Asked::default()).await
    }
}

/// Middle of the bed-dressing window's opening.
fn opens(estimate: &Estimate) -> Date {
    estimate.windows[1].opens.p50.expect("it opens before the horizon")
}

/// What the estimate says that earlier batches taught.
fn taught(estimate: &Estimate) -> Option<&str> {
    let assumed = estimate.assumptions.iter().find(|own| own.pointer == "/lesson")?;
    assumed.assumed.strip_prefix("what earlier batches of the bay taught: ")
}

#[tokio::test(flavor = "multi_thread")]
async fn finished_batches_of_the_bay_bring_the_next_window_forward_unless_told_not_to() {
    let garden = Garden::open().await;
    let alone = garden.estimate().await;
    garden.batch("home", "timber", "one", fast()).await;
    garden.batch("home", "timber", "two", fast()).await;
    let pooled = garden.estimate().await;
    assert_eq!(taught(&pooled.1), Some("one, two"));
    assert!(opens(&pooled.1) < opens(&alone.1), "{} against {}", opens(&pooled.1), opens(&alone.1));
    assert_ne!(pooled.0, alone.0);

    let asked = |pool| Asked { pool: Some(pool), ..Asked::default() };
    assert_eq!(garden.ask(&garden.service, asked(false)).await, alone);
    assert_eq!(garden.ask(&garden.service, asked(true)).await, pooled);
    let without = service(&garden.records).pooling(false);
    assert_eq!(garden.ask(&without, Asked::default()).await, alone);
    assert_eq!(garden.ask(&without, asked(true)).await, pooled);
    let restarted = service(&garden.records);
    assert_eq!(garden.ask(&restarted, Asked::default()).await, pooled, "nothing needs to be at hand");
    assert_eq!(garden.estimate().await, pooled);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_plan_rests_on_them_as_estimates_do() {
    let garden = Garden::open().await;
    garden.batch("home", "timber", "one", fast()).await;
    garden.batch("home", "timber", "two", fast()).await;
    let inflow = Inflow { feedstock: "grass_mowings".into(), mass_kg_week: Some(50.0), ..Inflow::default() };
    let season = FarmSeason {
        from: Some(TODAY),
        weeks: Some(8),
        turns_per_week: Some(0),
        inflows: vec![inflow],
        ..FarmSeason::default()
    };
    let planned = async |service: &Service| {
        let plan = service.plan_farm(&garden.caller, "home", season.clone()).await.expect("a plan");
        let next = plan.batches.iter().find(|own| own.batch == "next").expect("it stands").clone();
        let told = plan.assumptions.iter().any(|own| own.assumed.contains("`next`: what earlier batches"));
        (next.windows[1].opens.p50.expect("it opens"), told)
    };
    let pooled = planned(&garden.service).await;
    let alone = planned(&service(&garden.records).pooling(false)).await;
    assert!(pooled.0 < alone.0, "{pooled:?} against {alone:?}");
    assert_eq!((pooled.1, alone.1), (true, false));
    // Left as it is, the batch has the windows of its estimate.
    assert_eq!(pooled.0, opens(&garden.estimate().await.1));
}

#[tokio::test(flavor = "multi_thread")]
async fn other_bays_and_other_farms_teach_nothing() {
    let garden = Garden::open().await;
    let alone = garden.estimate().await;
    garden.batch("home", "other", "beside", fast()).await;
    garden.batch("away", "timber", "elsewhere", fast()).await;
    let mut standing = fast();
    standing.retain(|event| event.withdrawal.is_none());
    garden.batch("home", "timber", "standing", standing).await;
    assert_eq!(garden.estimate().await, alone);
}

#[tokio::test(flavor = "multi_thread")]
async fn an_unread_batch_teaches_nothing() {
    let garden = Garden::open().await;
    let alone = garden.estimate().await;
    let mut unread = fast();
    unread.retain(|event| event.reading.is_none() && event.level.is_none());
    garden.batch("home", "timber", "unread", unread).await;
    assert_eq!(garden.estimate().await.1, alone.1);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_in_a_finished_batch_is_a_new_estimate() {
    let garden = Garden::open().await;
    let events = fast();
    let ids = garden.batch("home", "timber", "one", events.clone()).await;
    let before = garden.estimate().await;
    let read = events.into_iter().zip(ids).find(|(event, _)| event.reading.is_some());
    let (mut event, id) = read.expect("a reading");
    let warmer =
        |reading: Reading| Reading { temperature_c: reading.temperature_c.map(|c| c + 5.0), ..reading };
    event.reading = event.reading.map(warmer);
    garden.append("home", "one", vec![(event, Some(id))]).await;
    let after = garden.estimate().await;
    assert_ne!(after.0, before.0);
    assert_ne!(after.1.learned.factors, before.1.learned.factors);
    assert_eq!(garden.ask(&service(&garden.records), Asked::default()).await, after);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_put_away_is_finished_until_it_is_brought_back() {
    let garden = Garden::open().await;
    let mut standing = fast();
    standing.retain(|event| event.withdrawal.is_none());
    garden.batch("home", "timber", "one", standing).await;
    let alone = garden.estimate().await;
    assert_eq!(taught(&alone.1), None);
    garden.archive("one", ArchiveState::Archived).await;
    let pooled = garden.estimate().await;
    assert_eq!(taught(&pooled.1), Some("one"));
    garden.archive("one", ArchiveState::Active).await;
    assert_eq!(garden.estimate().await, alone);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_seen_after_the_day_asked_for_was_not_known() {
    let garden = Garden::open().await;
    let mut longer = fast();
    longer.retain(|event| event.withdrawal.is_none());
    let reading = Reading { temperature_c: Some(20.0), ..Reading::default() };
    longer.push(Event { reading: Some(reading), ..Event::at("2027-03-15".parse().expect("a day")) });
    garden.batch("home", "timber", "one", longer).await;
    garden.archive("one", ArchiveState::Archived).await;
    let on = async |day| {
        let asked = Asked { as_of: Some(date(2027, 3, day)), ..Asked::default() };
        let (_, estimate) = garden.ask(&garden.service, asked).await;
        taught(&estimate).is_some()
    };
    assert!(!on(14).await && on(15).await);
}
