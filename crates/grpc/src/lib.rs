//! The service over gRPC: conversions, and one function for each method.

mod arrival;
mod batch_estimates;
mod batches;
mod bays;
mod bring_in;
mod caller;
pub mod convert;
mod deadline;
mod deliveries;
mod estimates;
mod estimates_stream;
mod events;
mod farm_feedstocks;
mod farms;
mod feeds;
mod feedstocks;
mod keys;
mod maturity_service;
mod methods;
mod plan_service;
mod plans;
pub mod proto;
mod readiness;
mod readiness_changes;
mod readiness_watch;
mod ready_volume;
mod recipes;
mod records_service;
mod requirements;
mod router;
mod season;
pub mod status;
mod webhooks;

pub use methods::named as method;
pub use proto::records_service_server::SERVICE_NAME as RECORDS_SERVICE;
pub use router::router;
