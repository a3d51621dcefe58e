//! A farm's readiness in the forms that growers' programs read: a sheet, a calendar, feeds, single values.
//!
//! Each is under `/v1/farms/{farm}/…` for whoever has a key, and under `/feeds/{token}/…` for whoever has the address. A form
//! is rendered once for each state of the farm and then handed out as it is (`shelf`, `rendered`).

mod atom;
mod by_address;
mod by_key;
mod calendar;
mod columns;
mod content_line;
mod csv;
mod form;
mod identity;
mod json_feed;
mod quantities;
mod rendered;
mod sentences;
mod shelf;
mod telling;
mod value;

use std::sync::Arc;

use axum::Extension;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::{Caller, Error, Service};
use utoipa_axum::router::OpenApiRouter;

use self::shelf::Shelf;
use self::value::{USES, value};
use crate::parameters::{DATE, Parameters};
use crate::problem::Problem;

/// All of them, with what was rendered shared between them.
pub fn routes() -> OpenApiRouter<Service> {
    by_key::routes().merge(by_address::routes()).layer(Extension(Arc::<Shelf>::default()))
}

/// How much of a farm's compost is ready for a use by a day.
async fn ready_m3(
    service: &Service,
    caller: &Caller,
    farm: &str,
    shelf: &Shelf,
    parameters: Parameters,
    headers: &HeaderMap,
) -> Result<Response, Problem> {
    let asked =
        parameters.read(|own| own.needed("use", USES).map(|for_use| (for_use, own.parsed("by", DATE))))?;
    let (for_use, by) = asked.ok_or(Error::Internal)?;
    let ready = service.sum_ready_volume(caller, farm, for_use, by).await?;
    Ok(shelf.text(&ready.readiness, ready.ready_m3.to_string()).answer(headers))
}

/// One value of a batch, both named.
async fn one_value(
    service: &Service,
    caller: &Caller,
    farm: &str,
    [batch, name]: [&str; 2],
    shelf: &Shelf,
    parameters: Parameters,
    headers: &HeaderMap,
) -> Result<Response, Problem> {
    let for_use = parameters.read(|own| own.said("use", USES))?;
    let told = service.readiness(caller, farm).await?;
    let text = value(&told, batch, name, for_use)?;
    Ok(shelf.text(&told, text).answer(headers))
}
