//! The JSON Feed, version 1.1: an item for each batch.

use baycast_service::readiness::Readiness;
use serde_json::json;

use super::atom::title;
use super::columns::word;
use super::identity::uuid;
use super::sentences;
use super::telling::Telling;

/// The whole feed.
pub fn json_feed(farm: &Readiness) -> Vec<u8> {
    let items = farm.batches.iter().map(|batch| {
        let told = Telling::of(batch);
        json!({
            "id": format!("urn:uuid:{}", uuid("batch", &[&farm.farm, &batch.batch])),
            "title": sentences::headline(batch),
            "content_text": told.text(),
            "content_html": told.html(),
            "date_modified": format!("{:.0}", batch.changed_at),
            "tags": [word(&batch.stage)],
        })
    });
    let feed = json!({
        "version": "https://jsonfeed.org/version/1.1",
        "title": title(farm),
        "description": sentences::ESTIMATE,
        "language": "en",
        "authors": [{ "name": "baycast" }],
        "items": items.collect::<Vec<_>>(),
    });
    feed.to_string().into_bytes()
}
