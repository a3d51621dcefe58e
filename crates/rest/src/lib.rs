//! The service over HTTP and JSON: routes, the problem document, the OpenAPI description.

mod body;
mod conditional;
mod estimates;
mod estimates_stream;
mod feedstocks;
mod health;
mod lines;
mod media_type;
pub mod problem;
mod router;

pub use router::{openapi, router};
