//! The operations that every front end shares.
//!
//! Policy lives here and nowhere else: what a history may weigh, how many are worked on at once, how long one
//! may take, how a table is paged, and the one closed set of errors that each front end renders in its own way.

pub mod capacity;
pub mod diagnosis;
pub mod error;
pub mod feedstocks;
pub mod limits;
pub mod parse;
pub mod pointer;
pub mod service;
pub mod strict;
pub mod tree;
pub mod weight;

pub use error::Error;
pub use feedstocks::Page;
pub use limits::Limits;
pub use service::{Clock, Input, Service, until_silent, within};
