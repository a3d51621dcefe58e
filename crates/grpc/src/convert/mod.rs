//! Between the contract's messages and the domain's types: a file for each family of messages.
//!
//! Every conversion takes its source apart field by field, so that a field added on one side doesn't compile
//! until it stands on the other.

mod batch;
mod bay;
mod bring_in;
mod estimate;
mod event;
mod event_out;
mod farm;
mod farm_bay;
mod farm_feedstock;
mod feed;
mod feedstock;
mod finding;
mod future;
mod history;
mod incoming;
mod key;
mod learned;
mod lesson;
mod mask;
mod plan;
mod problem;
mod readiness;
mod recipe;
mod recorded_event;
mod request;
mod requirement;
mod season;
mod site;
mod webhook;
mod window;
mod word;

pub use batch::batch;
pub use bring_in::bring_in;
pub use farm::farm;
pub use farm_bay::farm_bay;
pub use farm_feedstock::farm_feedstock;
pub use history::history;
pub use key::key_draft;
pub use mask::Mask;
pub use problem::problem;
pub use recorded_event::append;
pub use request::{day, days, etag, farm_need, farm_season, need, needed, on_hand, said, season};
pub use webhook::webhook;
