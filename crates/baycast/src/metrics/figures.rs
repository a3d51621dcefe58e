//! The figures that others keep, read when they are asked for.

use std::fmt;
use std::sync::Arc;

use baycast_mqtt::Tally as ProbeTally;
use baycast_service::Service;
use baycast_webhooks::Tally as WebhookTally;
use prometheus_client::collector::Collector;
use prometheus_client::encoding::{DescriptorEncoder, EncodeLabelSet};
use prometheus_client::metrics::MetricType;

use crate::listen::Crowd;
use crate::metrics::Requests;

/// Who keeps figures.
pub struct Sources {
    /// Of requests.
    pub requests: Arc<Requests>,
    /// Of connections.
    pub crowd: Arc<Crowd>,
    /// Of work and of the records.
    pub service: Service,
    /// Of messages to webhooks, where there are records.
    pub webhooks: Option<Arc<WebhookTally>>,
    /// Of messages from probes, where they are taken.
    pub probes: Option<Arc<ProbeTally>>,
}

impl fmt::Debug for Sources {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sources").finish_non_exhaustive()
    }
}

/// What is written to.
struct Sheet<'a>(DescriptorEncoder<'a>);

impl Sheet<'_> {
    /// A figure that only rises, by one label.
    fn counts(&mut self, name: &str, help: &str, label: &str, counts: &[(&str, u64)]) -> fmt::Result {
        let mut family = self.0.encode_descriptor(name, help, None, MetricType::Counter)?;
        for (value, count) in counts {
            family
                .encode_family(&[(label, *value)])?
                .encode_counter::<[(&str, &str); 0], _, f64>(count, None)?;
        }
        Ok(())
    }

    /// A figure that rises and falls, by labels where there are any.
    fn levels<S: EncodeLabelSet>(&mut self, name: &str, help: &str, levels: &[(S, usize)]) -> fmt::Result {
        let mut family = self.0.encode_descriptor(name, help, None, MetricType::Gauge)?;
        for (labels, level) in levels {
            family.encode_family(labels)?.encode_gauge(level)?;
        }
        Ok(())
    }

    /// A figure that rises and falls.
    fn level(&mut self, name: &str, help: &str, level: usize) -> fmt::Result {
        self.0.encode_descriptor(name, help, None, MetricType::Gauge)?.encode_gauge(&level)
    }
}

impl Collector for Sources {
    fn encode(&self, mut encoder: DescriptorEncoder) -> fmt::Result {
        self.requests.encode(&mut encoder)?;
        let mut sheet = Sheet(encoder);
        let build = [("version", env!("CARGO_PKG_VERSION")), ("model", baycast_model::VERSION)];
        sheet.levels("build_info", "Versions of the service and of its model", &[(build, 1)])?;
        sheet.level("connections", "Connections that are open", self.crowd.count())?;
        sheet.level(
            "requests_under_way",
            "Requests whose answers are not sent to their end",
            self.crowd.asked(),
        )?;

        let load = self.service.load();
        sheet.level("work_running", "Estimates, plans and other work being worked out", load.running)?;
        sheet.level("queue_places_taken", "Work that runs or waits in the queue", load.queued)?;
        sheet.levels(
            "streams_open",
            "Streams that are open",
            &[([("kind", "estimates")], load.streams), ([("kind", "readiness")], load.watchers)],
        )?;
        sheet.counts("work_done", "Work that was worked out", "kind", &[("all", load.done)])?;
        let shed =
            [("queue", load.shed_queue), ("estimates", load.shed_streams), ("readiness", load.shed_watchers)];
        sheet.counts("shed", "Work, and streams, turned away for want of room", "room", &shed)?;

        if let Some((idle, in_use)) = self.service.store_connections() {
            let states = [([("state", "idle")], idle), ([("state", "in_use")], in_use)];
            sheet.levels("store_connections", "Connections to the records' database", &states)?;
        }
        if let Some(webhooks) = &self.webhooks {
            let help = "Attempts to deliver a message to a webhook";
            sheet.counts("webhook_attempts", help, "outcome", &webhooks.counts())?;
        }
        if let Some(probes) = &self.probes {
            let help = "Messages from probes; postponed ones are counted at each attempt";
            sheet.counts("probe_messages", help, "outcome", &probes.counts())?;
        }
        Ok(())
    }
}
