//! What is told of a farm.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::readiness::BatchReadiness;

/// The readiness of a farm's batches in use, those that are emptied left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Readiness {
    /// The farm's id.
    pub farm: String,
    /// What people call it.
    pub name: String,
    /// IANA name of its time zone.
    pub time_zone: String,
    /// The farm's day.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub as_of: Date,
    /// The place in the farm's changes up to which this is true: a watcher goes on from here.
    pub sequence: u64,
    /// When anything of it last changed; absent while nothing was told yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub changed_at: Option<Timestamp>,
    /// How many batches are being worked out anew: what is told of them is of before.
    pub pending: u32,
    /// The batches, by id.
    pub batches: Vec<BatchReadiness>,
}
