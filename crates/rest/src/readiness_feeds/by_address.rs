//! The forms and values for whoever has a feed address. The token in it is the key: no header is asked for.

use std::sync::Arc;

use axum::extract::{FromRequestParts, RawPathParams, Request, State};
use axum::http::request::Parts;
use axum::response::Response;
use baycast_model::window::Use;
use baycast_service::readiness::Readiness;
use baycast_service::records::FeedReader;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::Feeds;
use super::form::Form;
use crate::names::Names;
use crate::parameters::Parameters;
use crate::problem::Problem;
use crate::refusals::AddressRefusals;

/// Whoever holds a feed address.
pub struct Opened(Arc<FeedReader>);

impl FromRequestParts<Feeds> for Opened {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, feeds: &Feeds) -> Result<Self, Problem> {
        let names = RawPathParams::from_request_parts(parts, feeds).await.ok();
        let token = names.as_ref().and_then(|names| names.iter().find(|(name, _)| *name == "token"));
        Ok(Self(feeds.0.service.feed_reader(token.map_or("", |(_, token)| token)).await?))
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
                State(feeds): State<Feeds>,
                Opened(reader): Opened,
                request: Request,
            ) -> Result<Response, Problem> {
                feeds.form(&reader.caller, &reader.farm, Form::$form, request.headers()).await
            }
        )*

        /// All routes for whoever has an address.
        pub fn routes() -> OpenApiRouter<Feeds> {
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
    feed_json_feed "feed_json_feed" "/feeds/{token}/readiness.feed.json" "application/feed+json" BTreeMap<String, Value>, JsonFeed
}

/// How much is ready for a use by a day, m³ as plain text.
#[utoipa::path(
    get,
    path = "/feeds/{token}/ready_m3",
    operation_id = "feed_ready_m3",
    tag = "feeds",
    params(
        ("token" = String, Path, description = "The token of the feed address"),
        ("use" = Use, Query, description = "What it is for"),
        ("by" = Option<String>, Query, format = Date, description = "The day, an RFC 3339 full-date; the farm's own day where absent"),
    ),
    responses(
        (status = 200, description = "The volume, m³", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        AddressRefusals,
    ),
)]
pub async fn feed_ready_m3(
    State(feeds): State<Feeds>,
    Opened(reader): Opened,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    feeds.ready_m3(&reader.caller, &reader.farm, parameters, request.headers()).await
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
        ("use" = Option<Use>, Query, description = "What it is for, for what is a window's"),
    ),
    responses(
        (status = 200, description = "The value", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        AddressRefusals,
    ),
)]
pub async fn feed_value(
    State(feeds): State<Feeds>,
    Opened(reader): Opened,
    Names((_, batch, name)): Names<(String, String, String)>,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    feeds.value(&reader.caller, &reader.farm, [&batch, &name], parameters, request.headers()).await
}
