//! What webhooks are told of a batch when its readiness is published.

use baycast_records::{Listener, Tidings};

use crate::error::Error;
use crate::readiness::{BatchReadiness, occurrences};
use crate::records::webhooks::{interest, wants};
use crate::records::{message, refusal};
use crate::service::Service;

impl Service {
    /// The messages of what happened between what was told `before` and what is told `after`, and what each webhook knows
    /// then. To be put in by the transaction that publishes `after`, if nothing was published since `before`.
    pub(crate) async fn tidings(
        &self,
        farm: &str,
        before: Option<&BatchReadiness>,
        after: &BatchReadiness,
    ) -> Result<Tidings, Error> {
        let store = self.store()?;
        let listeners = store.records.listeners(farm, &after.batch).await.map_err(refusal::of)?;
        let (mut tidings, now) = (Tidings::default(), store.now());
        for Listener { webhook, told } in listeners {
            // What cannot be read is of another version: what was told to all goes for it.
            let known = told.as_deref().and_then(|text| serde_json::from_str(text).ok());
            let (found, knows) = occurrences(known, before, after, interest(&webhook.draft));
            for occurrence in found.iter().filter(|own| wants(&webhook.draft.kinds, own.kind())) {
                let last = tidings.deliveries.last().map(|last| last.id);
                tidings.deliveries.push(message::news(farm, &webhook.id, occurrence, after, last, now)?);
            }
            let knows = serde_json::to_string(&knows).map_err(|failure| {
                tracing::error!(%failure, "what a webhook knows cannot be written");
                Error::Internal
            })?;
            if told.as_ref() != Some(&knows) {
                tidings.told.push((webhook.id, knows));
            }
        }
        Ok(tidings)
    }
}
