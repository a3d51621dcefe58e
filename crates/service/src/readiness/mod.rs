//! The readiness of a farm's batches: what feeds, watchers, webhooks and the board tell.
//!
//! A batch's readiness is the part of its estimate that people live with. It is for the farm's own day, told in its time
//! zone. What was told last is remembered, so that a change is known as one.

mod batch;
mod farm;

pub use batch::{BatchReadiness, SuggestedTurn, WindowReadiness};
pub use farm::Readiness;
#[allow(missing_docs, reason = "interim")]
mod interim;
#[allow(missing_docs, reason = "interim")]
pub use interim::{ReadinessChange, ReadinessNews};
