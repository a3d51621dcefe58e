//! Working out what is to be told of one batch, and publishing it.

use baycast_model::estimate::{Estimate, Stage};
use baycast_records::{Claim, Publication, Tidings, Told};
use jiff::Timestamp;
use jiff::civil::Date;

use crate::error::Error;
use crate::readiness::{BatchReadiness, day};
use crate::records::{Sought, refusal};
use crate::service::{Service, within};

/// How often it is worked out anew because something changed meanwhile.
const TRIES: usize = 8;

/// What is told of a batch by one estimate of it, or by there being none.
struct Telling {
    etag: String,
    version: baycast_records::HistoryVersion,
    /// None where no day alone changes it.
    day: Option<Date>,
    content: Option<BatchReadiness>,
}

impl Service {
    /// Works out what is to be told of a batch and publishes it, settling the notices of `claim`.
    pub(super) async fn work_out(&self, farm: &str, batch: &str, claim: Option<&Claim>) -> Result<(), Error> {
        let store = self.store()?;
        for _ in 0..TRIES {
            // As fine as the records keep it.
            let now = store.now();
            let now = Timestamp::from_microsecond(now.as_microsecond()).unwrap_or(now);
            let told = store.records.told(farm, batch, now).await.map_err(refusal::of)?;
            let publication = self.publication(told, now, claim.cloned()).await?;
            match store.records.publish(&publication).await {
                Err(baycast_records::Error::Stale { .. }) => {}
                outcome => return outcome.map(drop).map_err(refusal::of),
            }
        }
        Err(Error::Busy { retry_after_s: 1 })
    }

    /// What is to be published of a batch, after what was told of it.
    async fn publication(
        &self,
        told: Told,
        now: Timestamp,
        claim: Option<Claim>,
    ) -> Result<Publication, Error> {
        let before: Option<BatchReadiness> = told.content.as_deref().and_then(|text| {
            let read = serde_json::from_str(text);
            read.inspect_err(|error| tracing::warn!(%error, "what was told of a batch cannot be read")).ok()
        });
        let Telling { etag, version, day, content } = self.telling(&told, before.as_ref(), now).await?;
        let changed = match (&before, &content) {
            (Some(before), Some(content)) => content.differs(before),
            (None, None) => told.content.is_some(),
            _ => true,
        };
        let tidings = match &content {
            Some(after) => self.tidings(&told.farm.id, before.as_ref(), after).await?,
            None => Tidings::default(),
        };
        let content = content.map(|content| serde_json::to_string(&content)).transpose();
        let content = content.map_err(|error| {
            tracing::error!(%error, "a batch's readiness cannot be written");
            Error::Internal
        })?;
        Ok(Publication {
            farm: told.farm.id,
            batch: told.batch.id,
            expected_revision: told.revision,
            batch_version: told.batch.version,
            version,
            etag,
            surroundings: told.farm.surroundings,
            model_version: baycast_model::VERSION.to_owned(),
            day,
            content,
            changed,
            at: now,
            claim,
            tidings,
        })
    }

    /// What is to be told of a batch at `now`. One that is put away, emptied, joined to another or that cannot be estimated
    /// is not in the feed.
    async fn telling(
        &self,
        told: &Told,
        before: Option<&BatchReadiness>,
        now: Timestamp,
    ) -> Result<Telling, Error> {
        let day = day::of(told, now);
        let sought = Sought {
            farm: told.farm.id.clone(),
            batch: told.batch.id.clone(),
            today: day,
            asked: crate::records::Asked::default(),
        };
        let found = self.find(&sought).await?;
        let (etag, version) = (found.tag(), found.version().clone());
        if told.batch.archived.is_some() || told.farm.archived.is_some() || is_joined(told, day) {
            return Ok(Telling { etag: String::new(), version, day: None, content: None });
        }
        if etag == told.etag {
            return Ok(Telling { etag, version, day: told.day, content: before.cloned() });
        }
        // Nothing to tell until something is recorded, or what is planned comes.
        let nothing = told.last_at.filter(|at| at.date() > day).map(|_| day);
        match within(self.limits().timeout, self.make(&sought, found, None)).await {
            Ok((origin, estimate)) => {
                let content = in_feed(&estimate)
                    .then(|| BatchReadiness::told(&estimate, &told.batch.name, before, now));
                let day = if content.is_some() { Some(day) } else { nothing };
                Ok(Telling { etag: origin.tag(), version: origin.version().clone(), day, content })
            }
            Err(Error::Invalid(_) | Error::TooLarge { .. }) => {
                Ok(Telling { etag, version, day: nothing, content: None })
            }
            Err(error) => Err(error),
        }
    }
}

/// Whether there is anything to tell of a batch in use.
fn in_feed(estimate: &Estimate) -> bool {
    estimate.stage != Stage::Emptied
}

/// Whether it was joined to another batch by the end of `day`, and not filled again since.
fn is_joined(told: &Told, day: Date) -> bool {
    let filled = told.filled_at.filter(|at| at.date() <= day);
    told.joined_at.is_some_and(|joined| {
        joined.date() <= day && filled.is_none_or(|filled| filled.days() <= joined.days())
    })
}
