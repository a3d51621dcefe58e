//! The readiness of a farm's batches: what feeds, watchers, webhooks and the board tell.
//!
//! A batch's readiness is the part of its estimate that people live with. It is for the farm's own day, told in its time
//! zone. What was told last is remembered, so that a change is known as one.

mod at_hand;
mod batch;
mod changes;
pub(crate) mod day;
mod farm;
mod known;
mod occurrence;
mod publisher;
mod ready;
mod tail;
mod watching;
mod working_out;

pub(crate) use at_hand::AtHand;
pub use batch::{BatchReadiness, SuggestedTurn, WindowReadiness};
pub use changes::{ReadinessChange, ReadinessChanges, ReadinessNews};
pub use farm::Readiness;
pub use occurrence::OccurrenceKind;
pub(crate) use occurrence::{Interest, Occurrence, occurrences};
pub use ready::{Ready, to_litre};
pub(crate) use tail::Tails;
