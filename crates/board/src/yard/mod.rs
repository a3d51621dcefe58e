//! A farm's board: what is to be done, the bays in their order on the ground, and the season.
//!
//! What stands on it is at hand in memory, and a page is written once for each change.

mod job;
mod plot;
mod row;

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_model::estimator::CAUTIONS;
use baycast_service::readiness::{BatchReadiness, Readiness};
use baycast_service::records::{Farm, FarmBay};
use baycast_service::{Caller, Error, Service};

use crate::access::{self, Access, Rights};
use crate::assets::{ASSETS, Assets, hash};
use crate::drawing::bay::Scale;
use crate::drawing::season::Season;
use crate::refusal::Refusal;
use crate::router::Board;
use crate::{dates, words};

use job::Jobs;
pub use job::urgency_class;
use plot::Plot;
use row::Row;

#[derive(Template)]
#[template(path = "yard.html")]
struct Page<'a> {
    assets: &'static Assets,
    base: &'a str,
    sequence: u64,
    signed_in: bool,
    writes: bool,
    name: &'a str,
    day: String,
    changed_at: Option<String>,
    pending: Option<String>,
    jobs: Vec<Jobs>,
    cautions: [&'static str; CAUTIONS.len()],
    plots: Vec<Plot>,
    axis: String,
    rows: Vec<Row>,
}

/// The board.
pub async fn yard(
    State(board): State<Board>,
    access: Access,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let Access { caller, farm, base, rights, batch: _ } = access;
    let service = &board.service;
    let (farm, bays, readiness) = futures::try_join!(
        service.get_farm(&caller, &farm),
        bays(service, &caller, &farm),
        service.readiness(&caller, &farm)
    )?;
    let Readiness { as_of, sequence, pending, changed_at, .. } = &*readiness;
    let signed_in = rights != Rights::Screen && access::key(&headers).is_some();
    // All that stands on it, and how it is written.
    let told = format!("{farm:?}{bays:?}{as_of}{sequence}{pending}{changed_at:?}{signed_in}");
    let tag = hash(&[&told, ASSETS.style(), ASSETS.script(), env!("CARGO_PKG_VERSION")]);
    let page =
        board.kept.page(&base, rights, tag, || written(&base, rights, signed_in, &farm, &bays, &readiness));
    let page = page.map_err(|error| {
        tracing::error!(%error, "the board could not be written");
        Error::Internal
    })?;
    Ok(page.answer(&headers))
}

/// A farm's bays in use, in their order on the ground.
pub async fn bays(service: &Service, caller: &Caller, farm: &str) -> Result<Vec<FarmBay>, Error> {
    let (mut bays, mut token) = (Vec::new(), String::new());
    loop {
        let page = service.list_bays(caller, farm, None, &token).await?;
        bays.extend(page.items.into_iter().filter(|bay| bay.archived.is_none()));
        match page.next_page_token {
            Some(next) => token = next,
            None => return Ok(bays),
        }
    }
}

/// The page's text.
fn written(
    base: &str,
    rights: Rights,
    signed_in: bool,
    farm: &Farm,
    bays: &[FarmBay],
    readiness: &Readiness,
) -> askama::Result<String> {
    let Readiness { as_of: today, sequence, changed_at, pending, batches, .. } = readiness;
    let zone = dates::zone(&readiness.time_zone);
    let season = Season::of(*today);
    let scale = Scale::of(bays.iter().map(|bay| &bay.bay));
    // As they stand on the ground; those whose bay is no longer in use come last.
    let place =
        |batch: &&BatchReadiness| bays.iter().position(|own| own.bay.id == batch.bay).unwrap_or(usize::MAX);
    let mut batches: Vec<&BatchReadiness> = batches.iter().collect();
    batches.sort_by_key(place);
    let plots = plot::all(base, farm, bays, &batches, scale);
    let page = Page {
        assets: &ASSETS,
        base,
        sequence: *sequence,
        signed_in,
        writes: rights == Rights::Write,
        name: if farm.name.is_empty() { &farm.id } else { &farm.name },
        day: dates::whole(*today),
        changed_at: changed_at.map(|at| dates::instant(at, &zone, *today)),
        pending: (*pending > 0).then(|| words::pending(*pending)),
        jobs: job::all(base, &batches),
        cautions: CAUTIONS,
        plots,
        axis: season.axis(),
        rows: row::all(base, &batches, &season, *today),
    };
    page.render()
}
