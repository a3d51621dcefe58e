//! Between the contract's messages and the domain's types: a file for each family of messages.
//!
//! Every conversion takes its source apart field by field, so that a field added on one side doesn't compile
//! until it stands on the other.

mod bay;
mod estimate;
mod event;
mod feedstock;
mod finding;
mod history;
mod incoming;
mod site;
mod window;
mod word;

pub use history::history;
