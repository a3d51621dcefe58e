//! What is asked of every text that comes from outside, whatever it holds: it is read or refused, never more.
//!
//! The fuzzer makes up the texts, and an ordinary test feeds those that are kept in `seeds`.

pub mod document;
pub mod estimate;
pub mod history;
pub mod message;
pub mod probe;
pub mod request;
pub mod sheet;
pub mod told;
pub mod trace;

/// A target's name, and what it asks; it panics where the answer is wrong.
pub type Target = (&'static str, fn(&[u8]));

/// All targets.
pub const TARGETS: [Target; 8] = [
    ("document", document::ask),
    ("estimate", estimate::ask),
    ("history", history::ask),
    ("message", message::ask),
    ("probe", probe::ask),
    ("request", request::ask),
    ("sheet", sheet::ask),
    ("trace", trace::ask),
];
