//! The forms and values for whoever has a feed address. The token in it is the key: no header is asked for.

use std::sync::Arc;

use axum::extract::{Extension, FromRequestParts, RawPathParams, Request, State};
use axum::http::request::Parts;
use axum::response::Response;
use baycast_service::readiness::Readiness;
use baycast_service::{Caller, Service};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::form::Form;
use super::shelf::Shelf;
use crate::names::Names;
use crate::parameters::Parameters;
use crate::problem::Problem;
use crate::refusals::AddressRefusals;

/// Whoever holds a feed address, and the farm that it opens to reading.
pub struct Opened(Caller, String);

impl FromRequestParts<Service> for Opened {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, service: &Service) -> Result<Self, Problem> {
        let names = RawPathParams::from_request_parts(parts, service).await.ok();
        let token = names.as_ref().and_then(|names| names.iter().find(|(name, _)| *name == "token"));
        let (caller, farm) = service.feed_caller(token.map_or("", |(_, token)| token)).await?;
        Ok(Self(caller, farm))
    }
}

/// Routes that each answer a form.
macro_rules! forms {
    ($($(#[$doc:meta])* $operation:ident $id:tt $path:tt $media:tt $body:ty, $form:ident)*) => {
        $(
            $(#[$doc])*
            #[utoipa::path(
                get,
                path = $path,
                operation_id = $id,
                tag = "feeds",
                params(("token" = String, Path, description = "The token of the feed address")),
                responses(
                    (status = 200, description = "The form", body = $body, content_type = $media),
                    (status = 304, description = "The caller has it already"),
                    AddressRefusals,
                ),
            )]
            pub async fn $operation(
                State(service): State<Service>,
                Opened(caller, farm): Opened,
                Extension(shelf): Extension<Arc<Shelf>>,
                request: Request,
            ) -> Result<Response, Problem> {
                let told = service.readiness(&caller, &farm).await?;
                Ok(shelf.form(&told, Form::$form)?.answer(request.headers()))
            }
        )*

        /// All routes for whoever has an address.
        pub fn routes() -> OpenApiRouter<Service> {
            OpenApiRouter::new()
                $(.routes(routes!($operation)))*
                .routes(routes!(feed_ready_m3))
                .routes(routes!(feed_value))
        }
    };
}

forms! {
    /// The readiness of the address's farm.
    feed_json "feed_json" "/feeds/{token}/readiness.json" "application/json" Readiness, Json
    /// The same as a sheet.
    feed_csv "feed_csv" "/feeds/{token}/readiness.csv" "text/csv" String, Csv
    /// The same as a calendar.
    feed_calendar "feed_calendar" "/feeds/{token}/readiness.ics" "text/calendar" String, Calendar
    /// The same as an Atom feed.
    feed_atom "feed_atom" "/feeds/{token}/readiness.atom" "application/atom+xml" String, Atom
    /// The same as a JSON Feed.
    feed_json_feed "feed_json_feed" "/feeds/{token}/readiness.feed.json" "application/feed+json" String, JsonFeed
}

/// How much is ready for a use by a day, m³ as plain text.
#[utoipa::path(
    get,
    path = "/feeds/{token}/ready_m3",
    operation_id = "feed_ready_m3",
    tag = "feeds",
    params(
        ("token" = String, Path, description = "The token of the feed address"),
        ("use" = String, Query, description = "One of mulch, bed_dressing, potting"),
        ("by" = Option<String>, Query, description = "The day, an RFC 3339 full-date; the farm's own day where absent"),
    ),
    responses(
        (status = 200, description = "The volume, m³", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        AddressRefusals,
    ),
)]
pub async fn feed_ready_m3(
    State(service): State<Service>,
    Opened(caller, farm): Opened,
    Extension(shelf): Extension<Arc<Shelf>>,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    super::ready_m3(&service, &caller, &farm, &shelf, parameters, request.headers()).await
}

/// One value of a batch, as plain text.
#[utoipa::path(
    get,
    path = "/feeds/{token}/batches/{batch}/{value}",
    operation_id = "feed_value",
    tag = "feeds",
    params(
        ("token" = String, Path, description = "The token of the feed address"),
        ("batch" = String, Path, description = "The batch's id"),
        ("value" = String, Path, description = "A column of the sheet, `opens` or `best_by`"),
        ("use" = Option<String>, Query, description = "One of mulch, bed_dressing, potting, for what is a window's"),
    ),
    responses(
        (status = 200, description = "The value", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        AddressRefusals,
    ),
)]
pub async fn feed_value(
    State(service): State<Service>,
    Opened(caller, farm): Opened,
    Names((_, batch, name)): Names<(String, String, String)>,
    Extension(shelf): Extension<Arc<Shelf>>,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    super::one_value(&service, &caller, &farm, [&batch, &name], &shelf, parameters, request.headers()).await
}
