//! The plan of a kept season from day to day, by a clock that a test sets.

#[path = "../../records/tests/databases/folder.rs"]
mod folder;

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use baycast_model::plan::answer::{Action, Plan, Step};
use baycast_records::Records;
use baycast_service::records::{
    AppendEvents, AppendMode, Batch, EventEntry, Farm, FarmBay, FarmPlan, FarmSeason,
};
use baycast_service::{Caller, Error, Limits, Service};
use folder::Folder;
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};
use serde_json::{Value, json};

const FIRST: Date = date(2026, 9, 15);

/// A service with a farm of three bays, a heap in one of them and a season, whose clock stands where it is set and goes on by
/// a second each time that it is asked.
struct Garden {
    service: Service,
    caller: Caller,
    clock: Arc<Mutex<Timestamp>>,
    _folder: Folder,
}

fn read<T: serde::de::DeserializeOwned>(value: Value) -> T {
    serde_json::from_value(value).expect("as it is read")
}

fn bay(id: &str) -> FarmBay {
    read(json!({ "bay": { "id": id, "length_m": 1.2, "width_m": 1.2, "height_m": 1.0,
        "wall": { "construction": "slatted_timber" } } }))
}

fn season() -> FarmSeason {
    let demand = |id: &str, by: &str, m3: f64| json!({ "id": id, "use": "mulch", "by": by, "volume_m3": m3 });
    read(json!({ "from": FIRST, "weeks": 14, "inflows": [
        { "feedstock": "grass_mowings", "mass_kg_week": 60.0 },
        { "feedstock": "shredded_prunings", "barrows_week": 2.0 }
    ], "demands": [demand("soon", "2026-09-17", 0.1), demand("paths", "2026-12-01", 0.3)] }))
}

impl Garden {
    async fn open() -> Self {
        let folder = Folder::new("baycast-kept-plans");
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        let records = Arc::new(Records::open(&url).await.expect("the records open"));
        let clock = Arc::new(Mutex::new(Timestamp::UNIX_EPOCH));
        let (own, asked) = (clock.clone(), AtomicI64::new(0));
        let now = move || {
            let second = asked.fetch_add(1, Ordering::Relaxed);
            *own.lock().expect("no thread panicked") + second.seconds()
        };
        let service =
            Service::new(Limits::default(), Arc::new(|| FIRST)).with_records(records, Arc::new(now));
        let caller = service.caller(None).await.expect("a caller");
        let garden = Self { service, caller, clock, _folder: folder };
        garden.is(FIRST);
        let farm: Farm =
            read(json!({ "id": "home", "site": { "latitude_deg": 52.0 }, "time_zone": "Etc/UTC" }));
        garden.service.create_farm(&garden.caller, &farm).await.expect("a farm");
        for id in ["east", "middle", "west"] {
            garden.service.create_bay(&garden.caller, "home", &bay(id)).await.expect("a bay");
        }
        let spring = [
            json!({ "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 180.0 } }),
            json!({ "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "barrows": 5.0 } }),
            json!({ "at": "2026-05-10", "turn": {} }),
        ];
        garden.batch("spring", "east", &spring).await;
        garden.service.keep_season(&garden.caller, "home", season(), None).await.expect("it is kept");
        garden
    }

    /// Sets the clock to the morning of a day.
    fn is(&self, day: Date) {
        let morning = jiff::tz::TimeZone::UTC.to_timestamp(day.at(6, 0, 0, 0)).expect("a time");
        *self.clock.lock().expect("no thread panicked") = morning;
    }

    async fn batch(&self, id: &str, bay: &str, events: &[Value]) {
        let batch: Batch = read(json!({ "id": id, "start_bay": bay }));
        self.service.create_batch(&self.caller, "home", &batch).await.expect("a batch");
        let entry = |event: &Value| EventEntry { event: Some(read(event.clone())), ..EventEntry::default() };
        let append =
            AppendEvents { entries: events.iter().map(entry).collect(), mode: AppendMode::AllOrNothing };
        self.service.append_events(&self.caller, "home", id, &append, None).await.expect("events");
    }

    async fn plan(&self) -> Result<FarmPlan, Error> {
        let answer = self.service.get_plan(&self.caller, "home", |_| false).await?;
        Ok(answer.plan.expect("not held"))
    }
}

/// The steps of a kind, each with its week of the season.
fn weeks(plan: &Plan, action: Action) -> Vec<(i32, &str)> {
    let own = plan.steps.iter().filter(|step| step.action == action);
    let week = |step: &Step| (step.on - plan.from).get_days() / 7 + (plan.from - FIRST).get_days() / 7;
    own.map(|step| (week(step), step.bay.as_str())).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn from_day_to_day_it_is_made_anew_once_and_steps_stay_in_their_weeks() {
    let garden = Garden::open().await;
    let first = garden.plan().await.expect("a plan");
    assert_eq!((first.plan.from, first.plan.demands.len()), (FIRST, 2));
    // The clock goes on, and the plan stays the one that was made when the season was kept.
    assert_eq!(garden.plan().await.expect("a plan"), first);

    let fills = weeks(&first.plan, Action::Fill);
    assert!(fills.len() > 1, "{fills:?}");
    let mut before = first;
    for day in [1, 3, 6, 7, 9] {
        let today = FIRST.saturating_add(day.days());
        garden.is(today);
        let (one, other) = tokio::join!(garden.plan(), garden.plan());
        let own = one.expect("a plan");
        assert_eq!(own, other.expect("the same"), "made once");
        assert!(own.made_at > before.made_at);
        assert_eq!((own.plan.from, own.plan.until >= FIRST.saturating_add(14.weeks())), (today, true));
        let to_come = |plan: &Plan| -> Vec<(i32, String)> {
            let all = weeks(plan, Action::Fill).into_iter();
            all.map(|(week, bay)| (week, bay.to_owned())).collect()
        };
        // In the first week nothing is over yet, so nothing has to change; later no batch was begun that was to be.
        if day < 7 {
            assert_eq!(to_come(&own.plan), to_come(&before.plan), "on day {day}");
        }
        before = own;
    }
    let demands: Vec<_> = before.plan.demands.iter().map(|own| own.demand.as_str()).collect();
    assert_eq!(demands, ["paths"], "what is past is left out");

    garden.is(date(2026, 12, 22));
    let over = garden.plan().await.expect_err("fourteen weeks are over");
    assert!(matches!(over, Error::Conflict(_)) && over.to_string().contains("2026-12-22"), "{over}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_that_is_gone_is_left_out_where_keeping_it_would_be_refused() {
    let garden = Garden::open().await;
    let filling = FarmSeason { filling: Some("spring".into()), ..season() };
    let kept = garden.service.keep_season(&garden.caller, "home", filling, Some("1")).await;
    assert_eq!(kept.expect("it stands").season.filling.as_deref(), Some("spring"));
    let event: baycast_model::history::Event = read(json!({ "at": FIRST, "withdrawal": {} }));
    let entries = vec![EventEntry { event: Some(event), ..EventEntry::default() }];
    let append = AppendEvents { entries, mode: AppendMode::AllOrNothing };
    garden.service.append_events(&garden.caller, "home", "spring", &append, None).await.expect("emptied");
    let plan = garden.plan().await.expect("a plan").plan;
    let told = plan.assumptions.iter().find(|own| own.pointer == "/filling").expect("it is told");
    assert!(told.assumed.contains("`spring` does not stand"), "{}", told.assumed);
    assert!(plan.batches.iter().all(|own| own.batch != "spring"));
}

#[tokio::test(flavor = "multi_thread")]
async fn who_does_not_wait_is_told_the_one_before_and_it_is_made_all_the_same() {
    let garden = Garden::open().await;
    let before = garden.plan().await.expect("a plan");
    garden.is(FIRST.saturating_add(1.day()));
    let soon =
        garden.service.get_plan_soon(&garden.caller, "home", Duration::ZERO).await.expect("it answers");
    assert_eq!((soon.plan, soon.in_the_making), (Some(before.clone()), true));
    let mut patience = 300;
    loop {
        let soon = garden.service.get_plan_soon(&garden.caller, "home", Duration::ZERO).await;
        let soon = soon.expect("it answers");
        if !soon.in_the_making {
            assert!(soon.plan.expect("it is there").made_at > before.made_at);
            break;
        }
        patience -= 1;
        assert!(patience > 0, "it is never made");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}
