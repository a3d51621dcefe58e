//! Idempotency keys: the answer to a request is kept for a day beside what it recorded, in the same transaction.

use std::collections::HashMap;
use std::time::Duration;

use jiff::Timestamp;
use sha2::{Digest, Sha256};

use crate::append::{Append, Appended};
use crate::error::Result;
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, from_json, to_json, values};

/// How long an answer is kept.
const KEPT: Duration = Duration::from_hours(24);

/// Farm, caller and key: one caller's key tells another nothing.
pub(crate) type KeyPlace = (String, String, String);

/// A kept answer.
#[derive(Clone, Debug)]
pub(crate) struct KeptAnswer {
    /// Of the request it answers.
    pub request_hash: String,
    /// What became of each entry.
    pub entries: Vec<Result<Appended>>,
    /// Until when it is kept.
    pub expires_at: Timestamp,
}

/// SHA-256 of what is asked for; nothing where no key is given.
pub(crate) fn request_hash(append: &Append) -> Result<String> {
    if append.idempotency_key.is_none() {
        return Ok(String::new());
    }
    Ok(hex::encode(Sha256::digest(to_json(&(append.mode, &append.entries))?)))
}

/// When an answer given at `at` is no longer kept.
pub(crate) fn expiry(at: Timestamp) -> Timestamp {
    at.saturating_add(KEPT).unwrap_or(Timestamp::MAX)
}

const PLACE: &[(&str, Kind)] = &[("farm_id", Kind::Text), ("caller", Kind::Text), ("key", Kind::Text)];

/// The kept answers of these keys.
pub(crate) async fn load(
    session: &mut dyn Session,
    places: Vec<KeyPlace>,
) -> Result<HashMap<KeyPlace, KeptAnswer>> {
    if places.is_empty() {
        return Ok(HashMap::new());
    }
    let rows = places.iter().map(|(farm, caller, key)| values![farm, caller, key]).collect();
    let found = session
        .run_rows(
            "SELECT b.farm_id, b.caller, b.key, b.request_hash, b.answer, b.expires_at FROM {rows} \
             JOIN idempotency b ON b.farm_id = k.farm_id AND b.caller = k.caller AND b.key = k.key",
            Table::new(PLACE, rows),
        )
        .await?;
    let mut kept = HashMap::new();
    for mut row in found {
        let place = (row.text()?, row.text()?, row.text()?);
        let request_hash = row.text()?;
        let entries = from_json(&row.text()?)?;
        kept.insert(place, KeptAnswer { request_hash, entries, expires_at: row.instant()? });
    }
    Ok(kept)
}

/// Forgets these keys, whose time is over.
pub(crate) async fn forget(session: &mut dyn Session, places: &[KeyPlace]) -> Result<()> {
    if places.is_empty() {
        return Ok(());
    }
    let rows = places.iter().map(|(farm, caller, key)| values![farm, caller, key]).collect();
    session
        .run_rows(
            "DELETE FROM idempotency WHERE (farm_id, caller, key) IN \
             (SELECT k.farm_id, k.caller, k.key FROM {rows})",
            Table::new(PLACE, rows),
        )
        .await?;
    Ok(())
}

/// Keeps answers. Another replica that used the same key meanwhile is met as a conflict, and all is tried again.
pub(crate) async fn keep(session: &mut dyn Session, answers: &[(KeyPlace, KeptAnswer)]) -> Result<()> {
    if answers.is_empty() {
        return Ok(());
    }
    let mut rows = Vec::new();
    for ((farm, caller, key), answer) in answers {
        let text = to_json(&answer.entries)?;
        rows.push(values![farm, caller, key, &answer.request_hash, text, answer.expires_at]);
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("caller", Kind::Text),
        ("key", Kind::Text),
        ("request_hash", Kind::Text),
        ("answer", Kind::Text),
        ("expires_at", Kind::Text),
    ];
    session
        .run_rows(
            "INSERT INTO idempotency (farm_id, caller, key, request_hash, answer, expires_at) \
             SELECT k.farm_id, k.caller, k.key, k.request_hash, k.answer, k.expires_at FROM {rows}",
            Table::new(columns, rows),
        )
        .await?;
    Ok(())
}

impl Records {
    /// Forgets the idempotency keys whose time is over by `now`; how many. Keys past their time are never answered from,
    /// so this only frees room: once an hour is enough.
    pub async fn forget_expired_keys(&self, now: Timestamp) -> Result<usize> {
        let mut session = self.write().await?;
        let sql = "DELETE FROM idempotency WHERE expires_at <= $1 RETURNING expires_at";
        let gone = session.run(sql, values![now]).await?.len();
        session.commit().await?;
        Ok(gone)
    }
}
