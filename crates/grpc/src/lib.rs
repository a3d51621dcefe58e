//! The service over gRPC: conversions, and one function for each method.

pub mod convert;
mod deadline;
mod estimates;
mod estimates_stream;
mod feedstocks;
mod maturity_service;
pub mod proto;
mod router;
pub mod status;

pub use router::router;
