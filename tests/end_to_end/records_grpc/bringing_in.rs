//! Sheets and bulk brought into a farm's records.

use baycast_grpc::proto::{
    AppendMode, AppendOutcome, BatchEvent, BringInEventsRequest, BringInEventsResponse, CreateBatchRequest,
    Event, ListEventsRequest, SheetDates, SheetUnits,
};
use tonic::{Code, Status};
use tonic_types::StatusExt;

use super::yard::{Client, Yard, batch, plant, reading};
use crate::databases::Database;

/// A yard with the farm `home`, its batch `heap` and a further one, `pile`.
async fn yard(database: Database) -> (Yard, Client) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let request = CreateBatchRequest { farm: "home".to_owned(), batch: Some(batch("pile", "east")) };
    client.create_batch(request).await.expect("a batch");
    (yard, client)
}

async fn bring(client: &mut Client, request: BringInEventsRequest) -> Result<BringInEventsResponse, Status> {
    let request = BringInEventsRequest { farm: "home".to_owned(), ..request };
    client.bring_in_events(request).await.map(tonic::Response::into_inner)
}

/// Line and outcome of each event.
fn outcomes(answer: &BringInEventsResponse) -> Vec<(u64, AppendOutcome)> {
    answer.items.iter().map(|item| (item.line, item.outcome())).collect()
}

fn of(batch: &str, event: Event) -> BatchEvent {
    BatchEvent { batch: batch.to_owned(), event: Some(event) }
}

/// How many events of a batch hold.
async fn held(client: &mut Client, batch: &str) -> usize {
    let request = ListEventsRequest {
        farm: "home".to_owned(),
        batch: batch.to_owned(),
        ..ListEventsRequest::default()
    };
    client.list_events(request).await.expect("events").into_inner().items.len()
}

pub async fn a_sheet_is_rehearsed_recorded_and_recorded_no_second_time(database: Database) {
    let (_yard, mut client) = yard(database).await;
    let sheet = "Day;Heap;Temp;Turned\n8/4/2026;heap;137,5;yes\n9/4/2026;pile;50 °C;no\n";
    let request = || BringInEventsRequest {
        sheet: sheet.to_owned(),
        dates: SheetDates::DayFirst.into(),
        units: SheetUnits::Fahrenheit.into(),
        ..BringInEventsRequest::default()
    };
    let expected = [2, 2, 3].map(|line| (line, AppendOutcome::Added));
    let dry =
        bring(&mut client, BringInEventsRequest { dry_run: true, ..request() }).await.expect("an answer");
    assert_eq!((outcomes(&dry).as_slice(), dry.added), (&expected[..], 3));
    assert_eq!((held(&mut client, "heap").await, held(&mut client, "pile").await), (1, 0));
    let first = bring(&mut client, request()).await.expect("an answer");
    assert_eq!(outcomes(&first), expected);
    assert_eq!(first.items[0].external_id.as_deref(), Some("2026-04-08 reading"));
    let again = bring(&mut client, request()).await.expect("an answer");
    assert_eq!((again.added, again.unchanged), (0, 3));
    assert_eq!(again.items[0].id, first.items[0].id);
    assert_eq!((held(&mut client, "heap").await, held(&mut client, "pile").await), (3, 1));
}

pub async fn events_go_to_several_batches_all_of_them_or_the_good_ones(database: Database) {
    let (_yard, mut client) = yard(database).await;
    let events =
        || vec![of("heap", reading(8, 55.0)), of("pile", reading(8, 300.0)), of("west", reading(8, 50.0))];
    let request = || BringInEventsRequest { events: events(), ..BringInEventsRequest::default() };
    let refused = bring(&mut client, request()).await.expect_err("nothing is kept");
    assert_eq!(refused.code(), Code::InvalidArgument);
    let violations = refused.get_details_bad_request().expect("details").field_violations;
    assert_eq!(violations[0].field, "events[1].event.reading.temperature_c");
    assert_eq!(held(&mut client, "heap").await, 1);

    let request = BringInEventsRequest { mode: AppendMode::KeepGood.into(), ..request() };
    let kept = bring(&mut client, request).await.expect("an answer");
    let words = [AppendOutcome::Added, AppendOutcome::Refused, AppendOutcome::Refused];
    assert_eq!(outcomes(&kept), (1..).zip(words).collect::<Vec<_>>());
    assert_eq!(kept.items[1].errors[0].pointer, "/event/reading/temperature_c");
    assert!(kept.items[2].errors[0].value.contains("no batch `west`"), "{:?}", kept.items[2]);
    assert_eq!(held(&mut client, "heap").await, 2);
}

pub async fn what_is_neither_or_both_is_refused(database: Database) {
    let (_yard, mut client) = yard(database).await;
    let events = vec![of("heap", reading(8, 55.0))];
    let sheet = "date,batch,temp\n2026-04-08,heap,55\n".to_owned();
    let both = BringInEventsRequest { events, sheet, ..BringInEventsRequest::default() };
    assert_eq!(bring(&mut client, both).await.expect_err("one of the two").code(), Code::InvalidArgument);
    let without = vec![BatchEvent { batch: "heap".to_owned(), event: None }];
    let without = BringInEventsRequest { events: without, ..BringInEventsRequest::default() };
    let refused = bring(&mut client, without).await.expect_err("no event");
    let violations = refused.get_details_bad_request().expect("details").field_violations;
    assert_eq!(violations[0].field, "events[0].event");
    let none = bring(&mut client, BringInEventsRequest::default()).await.expect("an answer");
    assert_eq!(none, BringInEventsResponse::default());
}
