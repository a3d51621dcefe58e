//! `/v1/farms/{farm}/events`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use baycast_service::Service;
use baycast_service::records::{
    AppendMode, AppendOutcome, BatchEvent, BringIn, BringInInput, BroughtIn, BroughtInEvent as Brought,
};
use baycast_service::sheet::{SheetDates, SheetUnits};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::authenticated::Authenticated;
use crate::body::BroughtText;
use crate::events::idempotency_key;
use crate::names::Names;
use crate::parameters::Parameters;
use crate::problem::{FieldProblem, Problem};
use crate::refusals::{Refusals, WriteRefusals};

/// What became of the events.
#[derive(Debug, Serialize, ToSchema)]
pub struct BringInEventsResponse {
    /// What became of each, in order.
    items: Vec<BroughtInEvent>,
    /// How many were recorded as new.
    added: u64,
    /// How many were recorded in place of another.
    replaced: u64,
    /// How many were there already.
    unchanged: u64,
    /// How many were not recorded.
    refused: u64,
}

/// What became of an event that was brought in.
#[derive(Debug, Serialize, ToSchema)]
pub struct BroughtInEvent {
    /// The line that it stands on, from 1; in a JSON list, its place in it.
    line: u64,
    /// The batch's id; as it was given where there is none such.
    batch: String,
    /// Id of the recorded event; absent where it was refused, and in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<String>,
    /// The event's own id, given or made from its row.
    #[serde(skip_serializing_if = "Option::is_none")]
    external_id: Option<String>,
    /// What became of it or, in a dry run, would.
    outcome: AppendOutcome,
    /// Everything that is wrong with it, by the columns of a sheet or as JSON Pointers into the line.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldProblem>,
}

impl From<Brought> for BroughtInEvent {
    fn from(own: Brought) -> Self {
        let Brought { line, batch, id, external_id, outcome, errors } = own;
        Self {
            line,
            batch,
            id,
            external_id,
            outcome,
            errors: errors.into_iter().map(FieldProblem::from).collect(),
        }
    }
}

impl From<BroughtIn> for BringInEventsResponse {
    fn from(own: BroughtIn) -> Self {
        let BroughtIn { items, added, replaced, unchanged, refused } = own;
        let items = items.into_iter().map(BroughtInEvent::from).collect();
        Self { items, added, replaced, unchanged, refused }
    }
}

/// Events of any of the farm's batches, as JSON.
#[derive(Debug, Deserialize, ToSchema)]
#[schema(as = BringInEventsRequest)]
#[expect(dead_code, reason = "read by the description alone")]
struct List {
    /// The events, at most 100 000.
    events: Vec<BatchEvent>,
}

/// Bring in a sheet, or events in bulk, of any of the farm's batches.
///
/// A sheet has a header row and then a row for what was done or seen, with commas, semicolons or tabs between the cells.
/// Columns are known by plain names in any case and order: `date`, `batch` or `bay` (the batch that stood in it that day),
/// `temp °C`, `core (F)`, `material`, `barrow loads`, `kg`, `depth cm`, `moisture %`, `level %`, `turned`, `notes`; a
/// column `event` says what a row tells of, and without it the filled columns do. Units stand in the header or the cell, local times are
/// those of the farm's time zone, materials and batches are known by id or name.
///
/// An event with an own id takes the place of the one recorded under it before, and is left as it is where it says the
/// same. A row of a sheet that gives no `id` gets one made of its moment, kind, zone, depth and feedstock and, among
/// rows that agree in these, its number: the same sheet twice adds nothing, and a row with another temperature corrects
/// the one before. Where a day's rows come in several sheets, times or ids keep them apart. What was retracted is recorded
/// anew where it is sent again. Events without an own id in JSON and NDJSON are added each time.
///
/// At most 32 MiB and 100 000 events at once. Where the good ones are kept they are recorded some at a time; where all or
/// nothing is, what is refused is told as the problems of the answer, by line, the first thousand of them.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/events",
    operation_id = "bring_in_events",
    tag = "events",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("mode" = Option<AppendMode>, Query, description = "What becomes of the others where one is refused; nothing \
            is kept where absent"),
        ("dry_run" = Option<bool>, Query, description = "Whether only to say what would become of each event, and \
            write nothing"),
        ("dates" = Option<SheetDates>, Query, description = "How a sheet writes dates in figures; `iso` where absent"),
        ("units" = Option<SheetUnits>, Query, description = "What a sheet's temperatures are in where neither header \
            nor cell says so; `celsius` where absent"),
        ("Idempotency-Key" = Option<String>, Header, max_length = 128, pattern = "^[!#-~]([ -~]*[!-~])?$", description = "For 24 hours the same request under the same \
            key gets the same answer and records nothing again"),
    ),
    request_body(content(
        (List = "application/json", example = json!({ "events": [
            { "batch": "spring", "event": { "at": "2026-04-01", "id": "f-1",
                "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } } },
            { "batch": "spring", "event": { "at": "2026-04-08T18:00:00Z", "id": "p-17",
                "reading": { "temperature_c": 58.5 } } }
        ] })),
        (String = "text/csv", example = "Date,Batch,Material,Barrow loads,Temp °C,Turned\n\
            2026-04-01,spring,grass mowings,3,,\n2026-04-08 18:00,spring,,,58.5,yes\n"),
        (String = "text/tab-separated-values"),
        (String = "application/x-ndjson"),
    )),
    responses(
        (status = 200, description = "What became of each, or would", body = BringInEventsResponse),
        Refusals,
        WriteRefusals,
    ),
    security(("key" = []))
)]
pub async fn bring_in_events(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
    headers: HeaderMap,
    BroughtText(format, text): BroughtText,
) -> Result<Json<BringInEventsResponse>, Problem> {
    let how = parameters.read(|own| BringIn {
        mode: own.word("mode", "one of all_or_nothing, keep_good"),
        dry_run: own.parsed("dry_run", "true or false").unwrap_or_default(),
        dates: own.word("dates", "one of iso, day_first"),
        units: own.word("units", "one of celsius, fahrenheit"),
    })?;
    let input = BringInInput::Text(format, text);
    let key = idempotency_key(&headers);
    Ok(Json(service.bring_in(&caller, &farm, input, how, key.as_deref()).await?.into()))
}
