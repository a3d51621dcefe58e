//! Interim: replaced by the log.
use std::sync::Arc;
use std::time::Duration;

use futures::{Stream, stream};
use jiff::Timestamp;

use crate::error::Error;
use crate::readiness::{BatchReadiness, Readiness};
use crate::records::{Asked, BatchesShown};
use crate::service::Service;
use crate::Caller;

#[derive(Clone, Debug)]
pub struct ReadinessChange { pub farm: String, pub sequence: u64, pub batch: String, pub changed_at: Timestamp, pub readiness: Option<BatchReadiness> }
#[derive(Clone, Debug)]
pub enum ReadinessNews { Whole(Arc<Readiness>), Change(Arc<ReadinessChange>) }

impl Service {
    pub async fn feed_caller(&self, token: &str) -> Result<(Caller, String), Error> {
        Err(Error::NotFound { what: "feed", name: token.to_owned() })
    }
    pub async fn readiness(&self, caller: &Caller, farm: &str) -> Result<Arc<Readiness>, Error> {
        let own = self.get_farm(caller, farm).await?;
        let page = self.list_batches(caller, farm, BatchesShown::Active, Some(1000), "").await?;
        let mut batches = Vec::new();
        let mut sequence = 0;
        let at = Timestamp::now();
        let mut as_of = self.today();
        for batch in page.items {
            sequence += batch.event_version;
            let Ok(answer) = self.estimate_batch(caller, farm, &batch.id, Asked::default(), |_| false).await else { continue };
            let Some(estimate) = answer.estimate else { continue };
            as_of = estimate.as_of;
            if estimate.stage == baycast_model::estimate::Stage::Emptied { continue }
            batches.push(BatchReadiness::told(&estimate, &batch.name, None, at));
        }
        Ok(Arc::new(Readiness { farm: own.id, name: own.name, time_zone: own.time_zone, as_of, sequence, changed_at: Some(at), pending: 0, batches }))
    }
    pub async fn watch_readiness(&self, caller: &Caller, farm: &str, after: Option<u64>) -> Result<impl Stream<Item = Result<ReadinessNews, Error>> + Send + use<>, Error> {
        self.get_farm(caller, farm).await?;
        let state = (self.clone(), caller.clone(), farm.to_owned(), after);
        Ok(Box::pin(stream::unfold(state, |(service, caller, farm, after)| async move {
            loop {
                let now = match service.readiness(&caller, &farm).await { Ok(now) => now, Err(error) => return Some((Err(error), (service, caller, farm, after))) };
                if after.is_none() { let seq = now.sequence; return Some((Ok(ReadinessNews::Whole(now)), (service, caller, farm, Some(seq)))) }
                if now.sequence > after.unwrap_or(0) {
                    let change = ReadinessChange { farm: farm.clone(), sequence: now.sequence, batch: now.batches.first().map(|b| b.batch.clone()).unwrap_or_default(), changed_at: Timestamp::now(), readiness: None };
                    return Some((Ok(ReadinessNews::Change(Arc::new(change))), (service, caller, farm, Some(now.sequence))));
                }
                tokio::time::sleep(Duration::from_millis(200)).await;
            }
        })))
    }
}
