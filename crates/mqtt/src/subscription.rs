//! A subscription as the configuration file says it.

use serde::{Deserialize, Serialize};

/// One `[[mqtt.subscription]]`: which topics, where their probes are, and how their messages read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Subscription {
    /// Topic filter; besides MQTT's `+` and `#`, a segment may be `{farm}`, `{batch}`, `{bay}` or `{zone}`.
    pub topic: String,
    /// The farm, where the topic does not tell it.
    pub farm: Option<String>,
    /// The farms that the topic may tell.
    #[serde(default)]
    pub farms: Vec<String>,
    /// The batch, where neither the topic nor a bay tells it.
    pub batch: Option<String>,
    /// The bay, in place of a batch: the batch that lay there when the probe measured.
    pub bay: Option<String>,
    /// `core` or `edge`, where known and the topic does not tell it.
    pub zone: Option<String>,
    /// How a message reads.
    #[serde(default)]
    pub payload: Form,
    /// JSON Pointer to the temperature; for JSON only, as those that follow.
    pub temperature: Option<String>,
    /// The temperature's unit.
    #[serde(default)]
    pub unit: Unit,
    /// JSON Pointer to the time of measurement; the time of arrival where not given.
    pub at: Option<String>,
    /// How that time is written.
    #[serde(default)]
    pub at_form: TimeForm,
    /// JSON Pointer to an id that the probe gives each reading and uses for no other.
    pub id: Option<String>,
    /// How deep the tip is, m: a number, or a JSON Pointer to it.
    pub depth_m: Option<Figure>,
    /// JSON Pointer to the air's temperature, °C.
    pub ambient_c: Option<String>,
}

/// How a message reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// JSON, from which pointers pick.
    #[default]
    Json,
    /// The text of a number, the temperature.
    Number,
}

/// The unit of a temperature.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// °C.
    #[default]
    C,
    /// °F.
    F,
}

/// How a time is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TimeForm {
    /// RFC 3339, such as 2026-04-30T18:00:00Z.
    #[default]
    Rfc3339,
    /// Seconds since 1970.
    UnixS,
    /// Milliseconds since 1970.
    UnixMs,
}

/// A figure that stands in the configuration, or in each message.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Figure {
    /// Always this.
    Fixed(f64),
    /// JSON Pointer to it.
    Found(String),
}
