//! A farm on SQLite with a batch on it that has been read every day for a year.

#[path = "../../../records/tests/databases/folder.rs"]
mod folder;
#[path = "../../../model/tests/larkfield/mod.rs"]
pub mod larkfield;

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use baycast_model::estimate::Estimate;
use baycast_model::history::Event;
use baycast_model::moment::{date_to_days, days_to_date};
use baycast_records::Records;
use baycast_service::records::{AppendEvents, AppendMode, Asked, Batch, EventEntry, Farm, FarmBay};
use baycast_service::{Caller, Limits, Service};
use folder::Folder;
use jiff::Timestamp;
use larkfield::year::{LAST_DAY, READINGS, read_daily};

/// The farm's id.
pub const FARM: &str = "larkfield";
/// The batch's id.
pub const BATCH: &str = "timber";

/// The farm, its records and its clock.
pub struct Yard {
    pub records: Arc<Records>,
    pub caller: Caller,
    /// Days since [`LAST_DAY`].
    pub today: Arc<AtomicU32>,
    _folder: Folder,
}

impl Yard {
    /// With all readings but the last.
    pub async fn open() -> Self {
        let folder = Folder::new("baycast-yard");
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        let records = Arc::new(Records::open(&url).await.expect("the records open"));
        let today = Arc::default();
        let service = service(&records, &today, Limits::default());
        let caller = service.caller(None).await.expect("a caller");
        let yard = Self { records, caller, today, _folder: folder };
        let history = read_daily(READINGS - 1);
        let farm = Farm {
            id: FARM.into(),
            name: String::new(),
            site: history.site,
            time_zone: "Etc/UTC".into(),
            barrow_m3: None,
            etag: String::new(),
            archived: None,
        };
        service.create_farm(&yard.caller, &farm).await.expect("a farm");
        let start_bay = history.bay.id.clone();
        let bay = FarmBay { bay: history.bay, position: 0, etag: String::new(), archived: None };
        service.create_bay(&yard.caller, FARM, &bay).await.expect("a bay");
        let batch = Batch {
            id: BATCH.into(),
            name: String::new(),
            start_bay,
            horizon_days: None,
            forecast_step_days: None,
            criteria: Vec::new(),
            event_version: 0,
            last_event: None,
            etag: String::new(),
            archived: None,
        };
        service.create_batch(&yard.caller, FARM, &batch).await.expect("a batch");
        yard.append(&service, history.events).await;
        yard
    }

    /// Records events.
    pub async fn append(&self, service: &Service, events: Vec<Event>) {
        let entries =
            events.into_iter().map(|event| EventEntry { event: Some(event), ..EventEntry::default() });
        let append = AppendEvents { entries: entries.collect(), mode: AppendMode::AllOrNothing };
        service.append_events(&self.caller, FARM, BATCH, &append, None).await.expect("events");
    }

    /// The estimate of today.
    pub async fn estimate(&self, service: &Service) -> Arc<Estimate> {
        let answer = service.estimate_batch(&self.caller, FARM, BATCH, Asked::default(), |_| false).await;
        answer.expect("an estimate").estimate.expect("not held")
    }

    /// A service that has just started, with nothing kept.
    pub fn service(&self) -> Service {
        self.service_within(Limits::default())
    }

    /// The same with other limits.
    pub fn service_within(&self, limits: Limits) -> Service {
        service(&self.records, &self.today, limits)
    }
}

fn service(records: &Arc<Records>, today: &Arc<AtomicU32>, limits: Limits) -> Service {
    let today = today.clone();
    let clock = move || days_to_date(date_to_days(LAST_DAY) + f64::from(today.load(Ordering::Relaxed)));
    Service::new(limits, Arc::new(clock)).with_records(records.clone(), Arc::new(Timestamp::now))
}
