//! The operations on what is kept: farms, bays, feedstocks, batches, events, keys, feed addresses, and estimates of stored batches.
//!
//! Every operation takes the [`Caller`] and checks what it may do before anything is looked up, so that what lies
//! outside a key's reach is answered like what is not there.

mod batches;
mod bays;
mod bring_in;
mod brought;
mod caller;
mod checkpoints;
mod deliveries;
mod estimates;
mod etag;
mod events;
mod farm_plans;
mod farms;
mod feeds;
mod feedstocks;
mod flights;
mod kept_seasons;
mod keys;
mod lessons;
mod message;
pub(crate) mod paging;
mod plans;
mod probe;
pub(crate) mod refusal;
mod repeat;
mod running;
mod seasons;
mod sheet_names;
mod state;
mod store;
mod tidings;
mod tidy;
mod values;
mod webhooks;

pub use batches::{Batch, BatchesShown};
pub use baycast_records::ClaimedDelivery;
pub use bays::FarmBay;
pub use bring_in::{BringIn, BringInFormat, BringInInput, BroughtIn, BroughtInEvent};
pub use brought::BatchEvent;
pub use caller::{Caller, key_shown};
pub use deliveries::{Attempted, DELIVERY_LEASE, DeliveriesShown, Delivery, DeliveryState, Replayed};
pub(crate) use estimates::Sought;
pub use estimates::{Asked, BatchEstimate, Kept};
pub use events::{
    AppendEvents, AppendMode, AppendOutcome, Appended, EventEntry, EventsShown, OwnIdTaken, RecordedEvent,
};
pub use farm_plans::{FarmPlan, FarmPlanSoon, TaggedFarmPlan};
pub use farms::Farm;
pub use feeds::{Feed, FeedDraft, FeedReader, IssuedFeed};
pub use feedstocks::FarmFeedstock;
pub use kept_seasons::TaggedSeason;
pub use keys::{ApiKey, IssuedKey, KeyDraft, KeyReach, KeyScope};
pub use paging::MAX_PAGE_SIZE;
pub use plans::FarmNeed;
pub use probe::{
    Attempt, DELIVERIES_REMEMBERED, ProbeIdentity, ProbeOutcome, ProbePlace, ProbeReading, ProbeTemperature,
};
pub use seasons::FarmSeason;
pub use state::ArchiveState;
pub use store::{Now, Store};
pub use webhooks::{IssuedWebhook, Webhook, WebhookState, usual_best_by_days, usual_moved_days};
