//! Farms, bays, batches and events that are never lost.
//!
//! [`Records`] is opened by URL on SQLite or PostgreSQL. Events are only ever added: a correction is a new event that
//! supersedes an older one. An append returns when it is on disk; appends that wait at the same time share one
//! transaction. Every operation on what a farm owns takes the farm's id into its `WHERE`, so that another farm's things
//! are simply not there. The crate reads no clock: callers say what time it is and who they are ([`Stamp`]).
//!
//! The tables are documented in `SCHEMA.md`.

mod append;
mod attended;
mod backup;
mod batches;
mod bays;
mod changes;
mod classify;
mod decision;
mod deliveries;
mod door;
mod earlier;
mod error;
mod event_id;
mod events;
mod export;
mod farms;
mod feeds;
mod feedstocks;
mod group;
mod history;
mod idempotency;
mod import;
mod instant;
mod keys;
mod ledger;
mod merges;
mod migrate;
mod names;
mod outbox;
mod page;
mod postgres;
mod publishing;
mod readiness;
mod readiness_changes;
mod records;
mod seasons;
mod secret;
mod sqlite;
mod stamp;
mod stands;
mod statement;
mod store;
mod sweep;
mod tidings;
mod trouble;
mod value;
mod version;
mod webhooks;
mod writer;
mod yard;

pub use append::{Answer, Append, Appended, Entry, Mode, Outcome, Placed};
pub use backup::restore;
pub use batches::{Batch, BatchDraft};
pub use bays::BayRecord;
pub use changes::Change;
pub use deliveries::{ClaimedDelivery, Delivery, DeliveryState, NewDelivery, Settled};
pub use earlier::EarlierBatch;
pub use error::{Clash, Error, Refusal, Result, Thing};
pub use event_id::EventId;
pub use events::{EventRecord, Which};
pub use farms::{Farm, FarmDraft};
pub use feeds::{Feed, IssuedFeed};
pub use feedstocks::FeedstockRecord;
pub use history::HistoryVersion;
pub use keys::{ApiKey, IssuedKey, Reach, Scope};
pub use outbox::Claim;
pub use page::{Page, PageRequest, all};
pub use publishing::Publication;
pub use readiness::{FarmReadiness, Told};
pub use readiness_changes::{LoggedChange, LoggedChanges};
pub use records::Records;
pub use seasons::{KeptPlan, KeptSeason};
pub use stamp::Stamp;
pub use stands::Stand;
pub use tidings::{Listener, Tidings};
pub use webhooks::{IssuedWebhook, MOST_WEBHOOKS, Webhook, WebhookDraft};
pub use yard::Yard;
