//! A batch's page: how it stands, how it went, how it may go on, and the forms for what is seen at the heap.

mod course;
mod forms;
mod learned;
mod lists;
mod now;
mod story;

use std::sync::Arc;

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::http::HeaderMap;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Response};
use baycast_model::estimate::Estimate;
use baycast_model::estimator::CAUTIONS;
use baycast_service::records::{Asked, Batch, EventsShown, Farm, FarmBay, RecordedEvent};
use baycast_service::{Error, Service};

use crate::access::{Access, Rights};
use crate::assets::{ASSETS, Assets};
use crate::note::Filled;
use crate::refusal::{Refusal, html};
use crate::router::Board;
use crate::{access, dates, words, yard};

use forms::Form;
use learned::Learned;
use lists::{Evidence, Job, Seed, Window};
use now::Now;
use story::Day;

#[derive(Template)]
#[template(path = "batch.html")]
struct Page<'a> {
    assets: &'static Assets,
    base: &'a str,
    farm: &'a str,
    zone: &'a str,
    signed_in: bool,
    writes: bool,
    name: &'a str,
    bay: &'a str,
    day: String,
    changed_at: Option<String>,
    pending: Option<String>,
    /// The last change of the farm that the page shows.
    sequence: u64,
    /// What became of a note just sent.
    outcome: &'static str,
    /// Why there is no estimate.
    without: Option<String>,
    forms: Vec<Form>,
    now: Option<Now>,
    jobs: Vec<Job>,
    course: String,
    doubts: Vec<(String, String)>,
    windows: Vec<Window>,
    evidence: Vec<Evidence>,
    seeds: Vec<Seed>,
    learned: Option<Learned>,
    days: Vec<Day>,
    more: bool,
    cautions: [&'static str; CAUTIONS.len()],
}

/// The page.
pub async fn batch(
    State(board): State<Board>,
    access: Access,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    page(&board, &access, &headers, None, query.as_deref() == Some("noted")).await
}

/// The page, with what a form told where that is not taken.
pub async fn page(
    board: &Board,
    access: &Access,
    headers: &HeaderMap,
    filled: Option<Filled>,
    noted: bool,
) -> Result<Response, Refusal> {
    let Access { caller, farm, base, rights, batch } = access;
    let service = &board.service;
    let batch = service.get_batch(caller, farm, batch).await?;
    let farm = service.get_farm(caller, farm).await?;
    let bays = yard::bays(service, caller, &farm.id).await?;
    let events = events(service, access, &batch).await?;
    let readiness = service.readiness(caller, &farm.id).await?;
    // A point for each day, so that the course is as smooth as it is known.
    let asked = Asked { forecast_step_days: Some(1), ..Asked::default() };
    let (estimate, without) =
        match service.estimate_batch(caller, &farm.id, &batch.id, asked, |_| false).await {
            Ok(answer) => (answer.estimate, None),
            // Nothing put in yet, or nothing that can be estimated: the page still takes notes.
            Err(
                error @ (Error::Invalid(_) | Error::TooLarge { .. } | Error::Busy { .. } | Error::Deadline),
            ) => (None, Some(words::sentence(&error.detail()))),
            Err(error) => return Err(error.into()),
        };
    let forms = if *rights == Rights::Write && batch.archived.is_none() {
        let choices = forms::choices(service, access, &bays).await?;
        forms::all(&choices, filled.as_ref(), dates::zone(&farm.time_zone).to_datetime(service.now()?))?
    } else {
        Vec::new()
    };
    let told = Told { batch: &batch, farm: &farm, bays: &bays, events: &events, estimate, without };
    let outcome = match (&filled, noted) {
        (Some(_), _) => words::NOT_NOTED,
        (None, true) => words::NOTED,
        (None, false) => "",
    };
    let signed_in = *rights != Rights::Screen && access::key(headers).is_some();
    let changed_at = readiness.batches.iter().find(|own| own.batch == batch.id).map(|own| own.changed_at);
    let today = readiness.as_of;
    let Parts { now, jobs, course, doubts, windows, evidence, seeds, learned, bay } = told.parts();
    let (days, more) = story::days(&events, &forms::names(service, access).await?, today, &farm);
    let page = Page {
        assets: &ASSETS,
        base,
        farm: if farm.name.is_empty() { &farm.id } else { &farm.name },
        zone: &farm.time_zone,
        signed_in,
        writes: *rights == Rights::Write,
        name: if batch.name.is_empty() { &batch.id } else { &batch.name },
        bay: &bay,
        day: dates::whole(today),
        changed_at: changed_at.map(|at| dates::instant(at, &dates::zone(&farm.time_zone), today)),
        pending: None,
        sequence: readiness.sequence,
        outcome,
        without: told.without.clone(),
        forms,
        now,
        jobs,
        course,
        doubts,
        windows,
        evidence,
        seeds,
        learned,
        days,
        more,
        cautions: CAUTIONS,
    };
    // Each page has names for notes of its own, so that none is shown again by a browser going back.
    Ok(([(CACHE_CONTROL, "private, no-store")], html(&page)).into_response())
}

/// All that is known of a batch.
struct Told<'a> {
    batch: &'a Batch,
    farm: &'a Farm,
    bays: &'a [FarmBay],
    events: &'a [RecordedEvent],
    estimate: Option<Arc<Estimate>>,
    without: Option<String>,
}

/// What the page shows of it.
struct Parts {
    now: Option<Now>,
    jobs: Vec<Job>,
    course: String,
    doubts: Vec<(String, String)>,
    windows: Vec<Window>,
    evidence: Vec<Evidence>,
    seeds: Vec<Seed>,
    learned: Option<Learned>,
    bay: String,
}

impl Told<'_> {
    fn parts(&self) -> Parts {
        let Self { batch, farm, bays, events, estimate, .. } = self;
        let Some(estimate) = estimate else {
            return Parts {
                now: None,
                jobs: Vec::new(),
                course: String::new(),
                doubts: Vec::new(),
                windows: Vec::new(),
                evidence: Vec::new(),
                seeds: Vec::new(),
                learned: None,
                bay: batch.start_bay.clone(),
            };
        };
        let today = estimate.as_of;
        Parts {
            now: Now::of(estimate, bays, farm),
            jobs: lists::jobs(estimate),
            course: course::drawing(estimate, events),
            doubts: lists::doubts(estimate, today),
            windows: lists::windows(estimate, today, farm),
            evidence: lists::evidence(estimate, today),
            seeds: lists::seeds(estimate),
            learned: Some(Learned::of(estimate, today)),
            bay: estimate.bay.clone(),
        }
    }
}

/// All events of the batch that hold.
async fn events(service: &Service, access: &Access, batch: &Batch) -> Result<Vec<RecordedEvent>, Error> {
    let (mut events, mut token) = (Vec::new(), String::new());
    let Access { caller, farm, .. } = access;
    loop {
        let shown = EventsShown::Current;
        let page = service.list_events(caller, farm, &batch.id, shown, Some(1000), &token).await?;
        events.extend(page.items);
        match page.next_page_token {
            Some(next) => token = next,
            None => return Ok(events),
        }
    }
}
