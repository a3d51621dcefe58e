//! All routes, with what holds for each of them.

use axum::Router;
use axum::http::HeaderMap;
use axum::routing::get;
use baycast_model::plan::season::Standing;
use baycast_service::Service;
use baycast_service::readiness::ReadinessChange;
use baycast_service::records::{
    AppendMode, ArchiveState, BatchEvent, BatchesShown, DeliveriesShown, EventsShown,
};
use baycast_service::sheet::{SheetDates, SheetUnits};
use bytes::Bytes;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, NotForContentType, Predicate};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::{Modify, OpenApi};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::readiness_feeds::Feeds;
use crate::{
    batch_estimates, batches, bays, bring_in, conditional, deliveries, estimates, estimates_stream, events,
    farm_feedstocks, farms, feeds, feedstocks, health, keys, plans, problem, readiness_changes,
    readiness_feeds, readiness_watch, recipes, requirements, season, webhooks,
};

/// What the description says about the whole.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "baycast",
        description = "Compost maturity forecasts: a batch's history in, its readiness windows out.",
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
    ),
    tags(
        (name = "estimates", description = "From a history to an estimate. Nothing is kept."),
        (name = "recipes", description = "What to mix from what is on hand, and from when on for compost that is needed. Nothing is kept."),
        (name = "plans", description = "What to do when with the bays of a season: of one that is asked about, or of the one that a farm keeps."),
        (name = "feedstocks", description = "The default feedstock table, with the source of each value, and farms' own."),
        (name = "farms", description = "Places, with their weather. Kept, like all that is below them."),
        (name = "bays", description = "Where heaps stand."),
        (name = "batches", description = "What is composted together, and its estimate from what is recorded."),
        (name = "events", description = "What was done and seen. Only ever added."),
        (name = "readiness", description = "When a farm's batches are ready, and every change of it as it happens."),
        (name = "feeds", description = "Private addresses that open one farm's readiness without a key."),
        (name = "keys", description = "Who may do what with which farms."),
        (name = "webhooks", description = "Where a farm's news is sent, as signed CloudEvents, and what became of each message."),
        (name = "health", description = "For whoever runs the service."),
    ),
    components(schemas(ReadinessChange, AppendMode, ArchiveState, BatchEvent, BatchesShown, DeliveriesShown, EventsShown, SheetDates, SheetUnits, Standing)),
    modifiers(&KeyScheme),
)]
struct Description;

/// How a caller shows a key: as a bearer token.
struct KeyScheme;

impl Modify for KeyScheme {
    fn modify(&self, description: &mut utoipa::openapi::OpenApi) {
        let components = description.components.get_or_insert_default();
        components.add_security_scheme("key", SecurityScheme::Http(Http::new(HttpAuthScheme::Bearer)));
    }
}

/// The REST side of the port. What is none of its routes is for whoever serves it to answer, with [`problem::no_route`].
pub fn router(service: Service) -> Router {
    let Described { routes, feeds, description } = described();
    let description = Bytes::from(description);
    // A stream's lines are sent as they come, which a compressor would hold back.
    let compressed = DefaultPredicate::new().and(NotForContentType::const_new("application/x-ndjson"));
    routes
        .with_state(service.clone())
        .route(
            "/openapi.json",
            get(async move |headers: HeaderMap| conditional::answer(&headers, description.clone())),
        )
        .method_not_allowed_fallback(problem::no_method)
        .layer(CompressionLayer::new().compress_when(compressed))
        .merge(feeds.with_state(Feeds::of(service)).method_not_allowed_fallback(problem::no_method))
}

/// The OpenAPI 3.1 description, as JSON.
#[must_use]
pub fn openapi() -> String {
    described().description
}

/// The routes with their description.
struct Described {
    routes: Router<Service>,
    /// Those that are answered from what is at hand, compressed already.
    feeds: Router<Feeds>,
    description: String,
}

fn described() -> Described {
    let (routes, mut description) = OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(estimates::estimate_maturity))
        .routes(routes!(estimates_stream::stream_estimates))
        .routes(routes!(recipes::suggest_recipe))
        .routes(routes!(recipes::suggest_farm_recipe))
        .routes(routes!(requirements::find_requirement))
        .routes(routes!(requirements::find_farm_requirement))
        .routes(routes!(plans::plan_season))
        .routes(routes!(plans::plan_farm))
        .routes(routes!(season::get_season, season::keep_season, season::delete_season))
        .routes(routes!(season::get_plan))
        .routes(routes!(feedstocks::list_feedstocks))
        .routes(routes!(feedstocks::get_feedstock))
        .routes(routes!(farms::list_farms, farms::create_farm))
        .routes(routes!(farms::get_farm, farms::update_farm))
        .routes(routes!(farms::archive_farm))
        .routes(routes!(bays::list_bays, bays::create_bay))
        .routes(routes!(bays::get_bay, bays::update_bay))
        .routes(routes!(bays::archive_bay))
        .routes(routes!(farm_feedstocks::list_farm_feedstocks, farm_feedstocks::create_farm_feedstock))
        .routes(routes!(farm_feedstocks::get_farm_feedstock, farm_feedstocks::update_farm_feedstock))
        .routes(routes!(farm_feedstocks::archive_farm_feedstock))
        .routes(routes!(batches::list_batches, batches::create_batch))
        .routes(routes!(batches::get_batch, batches::update_batch))
        .routes(routes!(batches::archive_batch))
        .routes(routes!(events::list_events, events::append_events))
        .routes(routes!(events::get_event))
        .routes(routes!(bring_in::bring_in_events))
        .routes(routes!(batch_estimates::estimate_batch))
        .routes(routes!(readiness_changes::list_readiness_changes))
        .routes(routes!(readiness_watch::watch_readiness))
        .routes(routes!(keys::list_keys, keys::create_key))
        .routes(routes!(keys::revoke_key))
        .routes(routes!(feeds::list_feeds, feeds::create_feed))
        .routes(routes!(feeds::revoke_feed))
        .routes(routes!(webhooks::list_webhooks, webhooks::create_webhook))
        .routes(routes!(webhooks::get_webhook, webhooks::update_webhook, webhooks::delete_webhook))
        .routes(routes!(webhooks::rotate_webhook_secret))
        .routes(routes!(webhooks::test_webhook))
        .routes(routes!(deliveries::list_deliveries))
        .routes(routes!(deliveries::get_delivery))
        .routes(routes!(deliveries::replay_delivery))
        .routes(routes!(deliveries::replay_deliveries))
        .routes(routes!(health::livez))
        .routes(routes!(health::readyz))
        .split_for_parts();
    let (feeds, of_feeds) = readiness_feeds::routes().split_for_parts();
    description.merge(of_feeds);
    let description = description.to_pretty_json().unwrap_or_default();
    Described { routes, feeds, description }
}
