//! Which names are taken, for farms, bays, batches, feedstocks and events.

use crate::error::{Error, Result};

/// Longest name, characters; the model's own limit.
const LONGEST: usize = 128;

/// Checks an id or own id: 1 to 128 characters, none of them a control character.
pub(crate) fn check(field: &str, text: &str) -> Result<()> {
    if taken(text) {
        return Ok(());
    }
    Err(Error::invalid(field, text, format!("1 to {LONGEST} characters without control characters")))
}

/// Whether it can be the name of anything.
pub(crate) fn taken(text: &str) -> bool {
    (1..=LONGEST).contains(&text.chars().count()) && !text.chars().any(char::is_control)
}

/// Checks a name that people read: as an id, or empty.
pub(crate) fn check_shown(field: &str, text: &str) -> Result<()> {
    if text.is_empty() { Ok(()) } else { check(field, text) }
}
