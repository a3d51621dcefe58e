//! The operations that every front end shares.
//!
//! Policy lives here and nowhere else: what a history may weigh, how many are worked on at once, how long one
//! may take, how a table is paged, who may do what with which farm, and the one closed set of errors that each front end renders in its own way.

pub mod capacity;
pub mod destination;
pub mod diagnosis;
pub mod error;
pub mod feedstocks;
mod hash;
pub mod limits;
pub mod page;
pub mod parse;
pub mod plans;
pub mod pointer;
pub mod rates;
pub mod readiness;
pub mod recipes;
pub mod records;
pub mod requirements;
pub mod service;
pub mod sheet;
pub mod strict;
pub mod tree;
pub mod weight;

pub use error::Error;
pub use limits::Limits;
pub use page::Page;
pub use rates::Rates;
pub use records::{Caller, Now};
pub use service::{Clock, Input, Service, until_silent, within};
