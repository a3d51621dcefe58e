//! What is to be done, with its reasons.

use baycast_model::advice::Urgency;
use baycast_service::readiness::BatchReadiness;

use crate::{paths, words};

/// Jobs that press alike.
pub struct Jobs {
    /// How they press, in words.
    pub urgency: &'static str,
    /// The same, for the style sheet.
    pub class: &'static str,
    /// The jobs.
    pub all: Vec<Job>,
}

/// One of them.
pub struct Job {
    /// Path of the batch's page.
    pub path: String,
    /// The batch.
    pub batch: String,
    /// The bay that it stands in.
    pub bay: String,
    /// What to do.
    pub action: String,
    /// Why.
    pub reason: String,
}

/// What a batch is called.
pub fn name(batch: &BatchReadiness) -> &str {
    if batch.name.is_empty() { &batch.batch } else { &batch.name }
}

/// All jobs, the most pressing first; those of a batch stay in their order.
pub fn all(base: &str, batches: &[&BatchReadiness]) -> Vec<Jobs> {
    let groups = [Urgency::Now, Urgency::Soon, Urgency::Whenever].map(|urgency| {
        let jobs = batches.iter().flat_map(|batch| {
            let pressing = batch.advice.iter().filter(move |advice| advice.urgency == urgency);
            pressing.map(|advice| Job {
                path: paths::batch(base, &batch.batch),
                batch: name(batch).to_owned(),
                bay: batch.bay.clone(),
                action: advice.action.clone(),
                reason: words::sentence(&advice.reason),
            })
        });
        Jobs { urgency: words::urgency(urgency), class: urgency_class(urgency), all: jobs.collect() }
    });
    groups.into_iter().filter(|group| !group.all.is_empty()).collect()
}

/// How something presses, for the style sheet.
pub fn urgency_class(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Now => "at-once",
        Urgency::Soon => "soon",
        Urgency::Whenever => "whenever",
    }
}
