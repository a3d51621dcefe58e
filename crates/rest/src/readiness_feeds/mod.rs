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

use axum::extract::FromRef;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::{Caller, Error, Service};
use utoipa_axum::router::OpenApiRouter;

use self::form::Form;
use self::shelf::Shelf;
use self::value::{USES, value};
use crate::parameters::{DATE, Parameters};
use crate::problem::Problem;

/// What all of them are answered from.
#[derive(Clone)]
pub struct Feeds(Arc<AtHand>);

struct AtHand {
    service: Service,
    /// What was rendered.
    shelf: Shelf,
}

impl FromRef<Feeds> for Service {
    fn from_ref(feeds: &Feeds) -> Self {
        feeds.0.service.clone()
    }
}

/// All of them.
pub fn routes() -> OpenApiRouter<Feeds> {
    by_key::routes().merge(by_address::routes())
}

impl Feeds {
    /// With nothing rendered yet.
    pub fn of(service: Service) -> Self {
        Self(Arc::new(AtHand { service, shelf: Shelf::default() }))
    }

    /// A farm's readiness in a form.
    async fn form(
        &self,
        caller: &Caller,
        farm: &str,
        form: Form,
        headers: &HeaderMap,
    ) -> Result<Response, Problem> {
        let told = self.0.service.readiness(caller, farm).await?;
        Ok(self.0.shelf.form(&told, form)?.answer(headers))
    }

    /// How much of a farm's compost is ready for a use by a day.
    async fn ready_m3(
        &self,
        caller: &Caller,
        farm: &str,
        parameters: Parameters,
        headers: &HeaderMap,
    ) -> Result<Response, Problem> {
        let (for_use, by) = parameters.read(|own| (own.needed("use", USES), own.parsed("by", DATE)))?;
        let for_use = for_use.ok_or(Error::Internal)?;
        let ready = self.0.service.sum_ready_volume(caller, farm, for_use, by).await?;
        Ok(self.0.shelf.text(&ready.readiness, ready.ready_m3.to_string()).answer(headers))
    }

    /// One value of a batch, both named.
    async fn value(
        &self,
        caller: &Caller,
        farm: &str,
        [batch, name]: [&str; 2],
        parameters: Parameters,
        headers: &HeaderMap,
    ) -> Result<Response, Problem> {
        let for_use = parameters.read(|own| own.said("use", USES))?;
        let told = self.0.service.readiness(caller, farm).await?;
        let text = value(&told, batch, name, for_use)?;
        Ok(self.0.shelf.text(&told, text).answer(headers))
    }
}
