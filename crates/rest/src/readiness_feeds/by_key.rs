//! The forms and values for whoever has a key.

use axum::extract::{Request, State};
use axum::response::Response;
use baycast_model::window::Use;
use baycast_service::readiness::Readiness;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::Feeds;
use super::form::Form;
use crate::authenticated::Authenticated;
use crate::names::Names;
use crate::parameters::Parameters;
use crate::problem::Problem;
use crate::refusals::Refusals;

/// Routes that each answer a form.
macro_rules! forms {
    ($($(#[$doc:meta])* $operation:ident $id:tt $path:tt $media:tt $body:ty, $form:ident)*) => {
        $(
            $(#[$doc])*
            #[utoipa::path(
                get,
                path = $path,
                operation_id = $id,
                tag = "readiness",
                params(("farm" = String, Path, description = "The farm's id")),
                responses(
                    (status = 200, description = "The form", body = $body, content_type = $media),
                    (status = 304, description = "The caller has it already"),
                    Refusals,
                ),
                security(("key" = []))
            )]
            pub async fn $operation(
                State(feeds): State<Feeds>,
                Authenticated(caller): Authenticated,
                Names(farm): Names<String>,
                request: Request,
            ) -> Result<Response, Problem> {
                feeds.form(&caller, &farm, Form::$form, request.headers()).await
            }
        )*

        /// All routes for whoever has a key.
        pub fn routes() -> OpenApiRouter<Feeds> {
            OpenApiRouter::new()
                $(.routes(routes!($operation)))*
                .routes(routes!(sum_ready_volume))
                .routes(routes!(get_readiness_value))
        }
    };
}

forms! {
    /// The readiness of a farm's batches.
    ///
    /// Batches that are due are worked out first, for two seconds at most; those left are counted as `pending`, and what is
    /// told of them is of before.
    get_readiness "get_readiness" "/v1/farms/{farm}/readiness" "application/json" Readiness, Json
    /// A farm's readiness as a sheet: a row for each batch and use.
    ///
    /// Columns, in this order: farm, batch, name, bay, as_of, stage, use, opens_p10, opens_p50, opens_p90, best_by_p10,
    /// best_by_p50, best_by_p90, open_now_probability, volume_at_opening_m3, volume_m3, fill_fraction, core_c, edge_c,
    /// moisture_fraction, maturity_index, turn_by, next_action, next_reason, changed_at. New ones are added at the end. Days are
    /// RFC 3339 full-dates; a cell is empty where nothing is known or the day lies beyond the horizon. Text that a spreadsheet
    /// would take for a formula has an apostrophe before it.
    get_readiness_csv "get_readiness_csv" "/v1/farms/{farm}/readiness.csv" "text/csv" String, Csv
    /// A farm's readiness as a calendar: an all-day event for each window and each turn that is advised.
    ///
    /// A window's event lasts from the middle of its opening days to the middle of its best-by days, and is the opening day
    /// alone where the latter lies beyond the horizon.
    get_readiness_calendar "get_readiness_calendar" "/v1/farms/{farm}/readiness.ics" "text/calendar" String, Calendar
    /// A farm's readiness as an Atom feed: an entry for each batch.
    get_readiness_atom "get_readiness_atom" "/v1/farms/{farm}/readiness.atom" "application/atom+xml" String, Atom
    /// A farm's readiness as a JSON Feed: an item for each batch.
    get_readiness_json_feed "get_readiness_json_feed" "/v1/farms/{farm}/readiness.feed.json" "application/feed+json" BTreeMap<String, Value>, JsonFeed
}

/// How much of a farm's compost is ready for a use by a day, m³ as plain text.
///
/// It is the sum of `volume_at_opening_m3`, each to the litre, over the windows of that use whose `opens_p50` is on or before
/// the day: what adding up the columns of the sheet under these conditions gives.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/readiness/ready_m3",
    operation_id = "sum_ready_volume",
    tag = "readiness",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("use" = Use, Query, description = "What it is for"),
        ("by" = Option<String>, Query, format = Date, description = "The day, an RFC 3339 full-date; the farm's own day where absent"),
    ),
    responses(
        (status = 200, description = "The volume, m³", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn sum_ready_volume(
    State(feeds): State<Feeds>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    feeds.ready_m3(&caller, &farm, parameters, request.headers()).await
}

/// One value of a batch's readiness, as plain text.
///
/// Values are named like the sheet's columns; `opens` and `best_by` are the middles of those days. What is a window's needs
/// its use. The text is empty where nothing is known or the day lies beyond the horizon.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches/{batch}/readiness/{value}",
    operation_id = "get_readiness_value",
    tag = "readiness",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("batch" = String, Path, description = "The batch's id"),
        ("value" = String, Path, description = "A column of the sheet, `opens` or `best_by`"),
        ("use" = Option<Use>, Query, description = "What it is for, for what is a window's"),
    ),
    responses(
        (status = 200, description = "The value", body = String, content_type = "text/plain"),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_readiness_value(
    State(feeds): State<Feeds>,
    Authenticated(caller): Authenticated,
    Names((farm, batch, name)): Names<(String, String, String)>,
    parameters: Parameters,
    request: Request,
) -> Result<Response, Problem> {
    feeds.value(&caller, &farm, [&batch, &name], parameters, request.headers()).await
}
