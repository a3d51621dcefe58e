//! The service over HTTP and JSON: routes, the problem document, the OpenAPI description.

mod authenticated;
mod batch_estimates;
mod batches;
mod bays;
mod body;
mod bring_in;
mod conditional;
mod deliveries;
mod estimates;
mod estimates_stream;
mod events;
mod farm_feedstocks;
mod farms;
mod feeds;
mod feedstocks;
mod health;
mod if_match;
mod kept;
mod keys;
mod lines;
mod media_type;
mod names;
mod pages;
mod parameters;
mod plans;
pub mod problem;
mod readiness_changes;
mod readiness_feeds;
mod readiness_watch;
mod recipes;
mod refusals;
mod requirements;
mod router;
mod season;
mod webhooks;

pub use router::{openapi, router};
