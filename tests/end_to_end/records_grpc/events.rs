//! Events: appended, corrected, retracted, listed, estimated from.

use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use baycast_grpc::proto::{
    AppendEventsRequest, AppendMode, AppendOutcome, AppendedEvent, Cover, CoverState, CreateBatchRequest,
    CreateBayRequest, EstimateBatchRequest, EstimateBatchResponse, EstimateMaturityRequest, Event,
    EventEntry, EventsShown, Firming, History, Level, ListEventsRequest, Merge, MoistureNote, Move,
    OwnIdTaken, Placement, Preparation, RecordedEvent, Squeeze, Turn, Watering, Withdrawal, Zone,
    event::Detail,
};
use tonic::Code;
use tonic::transport::Channel;
use tonic_types::StatusExt;

use super::yard::{Client, Yard, append, batch, bay, event, farm, feedstock, fill, plant, reading};
use crate::databases::Database;

/// The events of the farm's one batch.
async fn listed(client: &mut Client, shown: EventsShown, since: &str) -> Vec<RecordedEvent> {
    let request = ListEventsRequest {
        farm: "home".into(),
        batch: "heap".into(),
        shown: shown.into(),
        since: since.into(),
        ..ListEventsRequest::default()
    };
    client.list_events(request).await.expect("events").into_inner().items
}

/// An append of one entry.
fn one(entry: EventEntry) -> AppendEventsRequest {
    let (farm, batch) = ("home".to_owned(), "heap".to_owned());
    AppendEventsRequest { farm, batch, entries: vec![entry], ..AppendEventsRequest::default() }
}

pub async fn every_kind_of_event_comes_back_as_it_was_sent(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let request = CreateBayRequest { farm: "home".into(), bay: Some(bay("west")) };
    client.create_bay(request).await.expect("a bay");
    let request = CreateBatchRequest { farm: "home".into(), batch: Some(batch("old", "west")) };
    client.create_batch(request).await.expect("a batch");
    let mut addition = fill(2);
    if let Some(Detail::Addition(addition)) = &mut addition.detail {
        addition.preparation = Preparation::Shredded.into();
        addition.moisture_fraction = Some(0.7);
        addition.temperature_c = Some(12.0);
    }
    let mut probe = reading(3, 51.5);
    probe.id = Some("probe-1".into());
    probe.at = "2026-04-03T18:30:00Z".into();
    if let Some(Detail::Reading(reading)) = &mut probe.detail {
        (reading.depth_m, reading.ambient_c) = (Some(0.4), Some(9.0));
        reading.zone = Zone::Edge.into();
    }
    let squeezed = MoistureNote { percent: None, squeeze: Squeeze::Drips.into() };
    let sent = vec![
        addition,
        probe,
        event(4, Detail::Moisture(squeezed)),
        event(5, Detail::Turn(Turn {})),
        event(6, Detail::Move(Move { to_bay: "west".into() })),
        event(7, Detail::Merge(Merge { source: "old".into(), placement: Placement::OnTop.into() })),
        event(8, Detail::Cover(Cover { state: CoverState::On.into() })),
        event(9, Detail::Watering(Watering { litres: Some(20.0) })),
        event(10, Detail::Firming(Firming {})),
        event(11, Detail::Level(Level { fill_fraction: Some(0.62) })),
        event(11, Detail::Withdrawal(Withdrawal { volume_m3: Some(0.05) })),
    ];
    let appended = client.append_events(append("home", "heap", sent.clone())).await.expect("events");
    assert_eq!(appended.into_inner().items.len(), 11);
    let kept = listed(&mut client, EventsShown::Current, "").await;
    assert!(kept.iter().all(|kept| kept.recorded_by == "local" && kept.recorded_at.ends_with('Z')));
    assert_eq!(kept[2].external_id.as_deref(), Some("probe-1"));
    let kept: Vec<Event> = kept.into_iter().map(|kept| kept.event.expect("an event")).collect();
    let expected: Vec<Event> = sent.into_iter().map(explicit).collect();
    assert_eq!(kept[1..], expected);
}

/// An event with what is meant where a word is not said.
fn explicit(mut event: Event) -> Event {
    if let Some(Detail::Addition(addition)) = &mut event.detail
        && addition.preparation == i32::from(Preparation::Unspecified)
    {
        addition.preparation = Preparation::AsListed.into();
    }
    event
}

pub async fn an_event_is_corrected_and_retracted_and_all_is_kept(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    let filled = plant(&mut client, "home").await;
    let answer = client.append_events(append("home", "heap", vec![reading(3, 44.0)])).await.expect("one");
    let first = answer.into_inner().items.remove(0);
    assert_eq!((first.outcome(), first.event_version), (AppendOutcome::Added, 2));
    let right = EventEntry {
        event: Some(reading(3, 54.0)),
        supersedes: Some(first.id.clone()),
        ..EventEntry::default()
    };
    let answer = client.append_events(one(right.clone())).await.expect("a correction");
    let second = answer.into_inner().items.remove(0);
    assert_eq!(second.outcome(), AppendOutcome::Replaced);
    let again = client.append_events(one(right)).await.expect_err("superseded before");
    assert_eq!(again.code(), Code::FailedPrecondition);
    let gone = EventEntry { supersedes: Some(second.id.clone()), ..EventEntry::default() };
    let answer = client.append_events(one(gone)).await.expect("a retraction").into_inner();
    assert_eq!(answer.items[0].outcome(), AppendOutcome::Retracted);

    let ids = |events: Vec<RecordedEvent>| -> Vec<String> { events.into_iter().map(|own| own.id).collect() };
    assert_eq!(ids(listed(&mut client, EventsShown::Unspecified, "").await), [filled]);
    let all = listed(&mut client, EventsShown::All, "").await;
    assert_eq!(all.len(), 4);
    assert_eq!((all[2].supersedes.as_ref(), &all[3].event), (Some(&first.id), &None));
    let since = listed(&mut client, EventsShown::All, &first.id).await;
    assert_eq!(since, all[2..]);
}

pub async fn a_repeated_request_is_recorded_once(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let mut request = append("home", "heap", vec![reading(3, 44.0), reading(4, 51.0)]);
    request.request_id = "r-1".into();
    let first = client.append_events(request.clone()).await.expect("events").into_inner();
    let again = client.append_events(request.clone()).await.expect("the same").into_inner();
    assert_eq!(first, again);
    assert_eq!(listed(&mut client, EventsShown::All, "").await.len(), 3);
    request.entries.truncate(1);
    let other = client.append_events(request).await.expect_err("another request");
    assert_eq!(other.code(), Code::FailedPrecondition);

    let mut own = reading(5, 55.0);
    own.id = Some("probe-17".into());
    let add = |event: &Event, own_id_taken: OwnIdTaken| {
        let own_id_taken = own_id_taken.into();
        one(EventEntry { event: Some(event.clone()), supersedes: None, own_id_taken })
    };
    let mut outcomes = Vec::new();
    for (temperature_c, taken) in
        [(55.0, OwnIdTaken::Refuse), (55.0, OwnIdTaken::Refuse), (57.0, OwnIdTaken::Replace)]
    {
        own.detail = reading(5, temperature_c).detail;
        let answer = client.append_events(add(&own, taken)).await.expect("an event").into_inner();
        outcomes.push(answer.items[0].outcome());
    }
    assert_eq!(outcomes, [AppendOutcome::Added, AppendOutcome::Unchanged, AppendOutcome::Replaced]);
}

pub async fn of_a_mixed_lot_nothing_is_kept_or_the_good_as_asked(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let mut lot = append("home", "heap", vec![reading(3, 44.0), reading(4, 180.0), reading(5, 50.0)]);
    let refused = client.append_events(lot.clone()).await.expect_err("180 °C");
    assert_eq!(refused.code(), Code::InvalidArgument);
    let violations = refused.get_details_bad_request().expect("details").field_violations;
    assert_eq!(violations[0].field, "entries[1].event.reading.temperature_c");
    assert_eq!(listed(&mut client, EventsShown::All, "").await.len(), 1);

    lot.mode = AppendMode::KeepGood.into();
    let kept = client.append_events(lot.clone()).await.expect("the good ones").into_inner().items;
    let outcomes: Vec<_> = kept.iter().map(AppendedEvent::outcome).collect();
    assert_eq!(outcomes, [AppendOutcome::Added, AppendOutcome::Refused, AppendOutcome::Added]);
    let problem = kept[1].problem.as_ref().expect("why");
    assert_eq!(problem.r#type, "urn:baycast:problem:invalid");
    assert_eq!(listed(&mut client, EventsShown::All, "").await.len(), 3);

    lot.entries[2].event.as_mut().expect("an event").at = "soon".into();
    let unread = client.append_events(lot.clone()).await.expect_err("no date");
    let violations = unread.get_details_bad_request().expect("details").field_violations;
    assert_eq!(violations[0].field, "entries[2].event.at");
    lot.entries.clear();
    assert_eq!(client.append_events(lot).await.expect_err("nothing").code(), Code::InvalidArgument);
}

pub async fn a_stored_batch_is_estimated_like_its_history(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    client.append_events(append("home", "heap", vec![reading(8, 58.5)])).await.expect("a reading");
    let request = EstimateBatchRequest {
        farm: "home".into(),
        batch: "heap".into(),
        as_of: Some("2026-05-01".into()),
        held_etag: String::new(),
        ready_by: vec!["2026-09-01".into(), "2026-08-01".into()],
        compare_futures: true,
        pool: None,
    };
    let stored = client.estimate_batch(request.clone()).await.expect("an estimate").into_inner();
    let history = History {
        batch: "heap".into(),
        as_of: Some("2026-05-01".into()),
        site: farm("home").site,
        bay: bay("east").bay,
        feedstocks: feedstock("bines").feedstock.into_iter().collect(),
        events: vec![fill(1), reading(8, 58.5)],
        ready_by: request.ready_by.clone(),
        compare_futures: true,
        ..History::default()
    };
    let endpoint = Channel::from_shared(format!("http://{}", yard.server.address)).expect("an address");
    let channel = endpoint.connect().await.expect("the server takes connections");
    let request_of = EstimateMaturityRequest { history: Some(history) };
    let told = MaturityServiceClient::new(channel).estimate_maturity(request_of).await.expect("an estimate");
    assert_eq!(stored.estimate, told.into_inner().estimate);

    let again = client.estimate_batch(request.clone()).await.expect("an estimate").into_inner();
    assert_eq!(again, stored);
    let other_days = EstimateBatchRequest { ready_by: vec!["2026-08-01".into()], ..request.clone() };
    let other_days = client.estimate_batch(other_days).await.expect("an estimate").into_inner();
    assert_ne!(other_days.etag, stored.etag);
    let days = |answer: &EstimateBatchResponse| -> Vec<String> {
        let windows = &answer.estimate.as_ref().expect("an estimate").windows;
        windows[0].ready_by.iter().map(|by| by.date.clone()).collect()
    };
    assert_eq!((days(&stored), days(&other_days)), (request.ready_by.clone(), vec!["2026-08-01".into()]));
    let unasked = EstimateBatchRequest { compare_futures: false, ..request.clone() };
    let unasked = client.estimate_batch(unasked).await.expect("an estimate").into_inner();
    assert_ne!(unasked.etag, stored.etag);
    let futures =
        |answer: &EstimateBatchResponse| answer.estimate.as_ref().expect("an estimate").futures.len();
    assert!(futures(&stored) > 3 && futures(&unasked) == 0);
    let holding = EstimateBatchRequest { held_etag: stored.etag.clone(), ..request.clone() };
    let held = client.estimate_batch(holding.clone()).await.expect("an answer").into_inner();
    assert_eq!((held.estimate, &held.etag), (None, &stored.etag));
    client.append_events(append("home", "heap", vec![reading(9, 60.0)])).await.expect("a reading");
    let after = client.estimate_batch(holding).await.expect("an estimate").into_inner();
    assert!(after.estimate.is_some());
    assert_ne!(after.etag, stored.etag);
    let days = vec!["2026-08-01".into(), "soon".into()];
    let unread = EstimateBatchRequest { ready_by: days, ..request.clone() };
    let refused = client.estimate_batch(unread).await.expect_err("no date");
    assert_eq!(refused.get_details_bad_request().expect("details").field_violations[0].field, "ready_by[1]");
    let days = vec!["2026-08-01".into(), "2030-01-01".into()];
    let beyond = EstimateBatchRequest { ready_by: days, ..request.clone() };
    let refused = client.estimate_batch(beyond).await.expect_err("beyond the horizon");
    assert_eq!(refused.get_details_bad_request().expect("details").field_violations[0].field, "ready_by[1]");
    let when = EstimateBatchRequest { as_of: Some("soon".into()), ..request };
    let refused = client.estimate_batch(when).await.expect_err("no date");
    assert_eq!(refused.get_details_bad_request().expect("details").field_violations[0].field, "as_of");
}

pub async fn finished_batches_of_the_bay_teach_unless_told_not_to(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let request = CreateBatchRequest { farm: "home".into(), batch: Some(batch("next", "east")) };
    client.create_batch(request).await.expect("a batch");
    client.append_events(append("home", "next", vec![fill(22)])).await.expect("an event");
    let ask = async |pool| {
        let as_of = Some("2026-05-01".into());
        let (farm, batch) = ("home".to_owned(), "next".to_owned());
        let request = EstimateBatchRequest { farm, batch, as_of, pool, ..Default::default() };
        let answer = client.clone().estimate_batch(request).await.expect("an estimate").into_inner();
        let assumptions = &answer.estimate.as_ref().expect("an estimate").assumptions;
        let lesson = assumptions.iter().find(|own| own.pointer == "/lesson").map(|own| own.assumed.clone());
        (answer, lesson)
    };
    let alone = ask(None).await;
    assert_eq!(alone.1, None);
    let emptied = event(20, Detail::Withdrawal(Withdrawal { volume_m3: None }));
    let seen = vec![reading(4, 20.0), reading(8, 22.0), reading(12, 22.0), reading(16, 20.0), emptied];
    client.clone().append_events(append("home", "heap", seen)).await.expect("events");
    let pooled = ask(None).await;
    assert_eq!(pooled.1.as_deref(), Some("what earlier batches of the bay taught: heap"));
    assert_eq!((ask(Some(true)).await, ask(Some(false)).await), (pooled, alone));
}
