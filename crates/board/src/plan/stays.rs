//! What each bay holds over the season.

use baycast_model::plan::answer::PlannedBatch;
use baycast_model::window::Use;
use jiff::civil::Date;

use super::Telling;
use crate::drawing::holding::{Phase, Stretch};
use crate::drawing::season::Season;
use crate::{dates, words};

/// A bay's row.
pub struct Row {
    /// The bay.
    pub bay: String,
    /// What it holds, in words.
    pub told: Vec<String>,
    /// The strip.
    pub strip: String,
}

/// A batch in a bay.
struct Stay<'a> {
    batch: &'a PlannedBatch,
    from: Date,
    until: Date,
}

/// All bays in their order on the ground.
pub fn rows(telling: &Telling<'_>, season: &Season) -> Vec<Row> {
    let row = |bay: &str| {
        let mut stays: Vec<Stay<'_>> =
            telling.plan.batches.iter().flat_map(|batch| stays(telling, batch, bay)).collect();
        stays.sort_by_key(|stay| stay.from);
        let stretches: Vec<Stretch> = stays.iter().flat_map(Stay::stretches).collect();
        let mut told: Vec<String> = stays.iter().map(|stay| stay.told(telling)).collect();
        if told.is_empty() {
            told.push(words::FREE_THROUGHOUT.to_owned());
        }
        let strip = season.holding(&stretches, &format!("{bay}: {}", told.join("; ")));
        Row { bay: bay.to_owned(), told, strip }
    };
    telling.bays.iter().map(|own| row(&own.bay.id)).collect()
}

/// When a batch is in a bay. One that is forked together with another is there with it.
fn stays<'a>(telling: &Telling<'_>, batch: &'a PlannedBatch, bay: &str) -> Vec<Stay<'a>> {
    let plan = telling.plan;
    let from = batch.filled_from.unwrap_or(plan.from);
    let end = batch.emptied.unwrap_or(plan.until);
    let mut stays = Vec::new();
    if batch.bays.first().is_some_and(|own| own == bay) {
        stays.push(Stay { batch, from, until: batch.turned.unwrap_or(end) });
    }
    if let (Some(turned), Some(own), None) = (batch.turned, batch.bays.get(1), &batch.merged_into)
        && own == bay
    {
        stays.push(Stay { batch, from: turned, until: end });
    }
    stays
}

impl Stay<'_> {
    /// Whether it is the bay that the batch was turned into, or the only one.
    fn is_last(&self) -> bool {
        self.batch.turned.is_none_or(|turned| turned == self.from)
    }

    /// The day on which it is filled no more, where that is in this bay.
    fn closed(&self) -> Option<Date> {
        let filled = self.batch.filled_from.is_some_and(|from| from == self.from);
        filled.then(|| self.batch.closed.unwrap_or(self.until).min(self.until))
    }

    /// The day from which it is fit for beds, in the middle, where that is in this bay.
    fn ready(&self) -> Option<Date> {
        let beds = self.batch.windows.iter().find(|window| window.for_use == Use::BedDressing)?;
        let opens = beds.opens.p50?.max(self.from);
        (self.is_last() && opens < self.until).then_some(opens)
    }

    fn stretches(&self) -> Vec<Stretch> {
        let closed = self.closed().unwrap_or(self.from);
        let ready = self.ready().unwrap_or(self.until).max(closed);
        // What was filled here waits for its turn; what came here by one, or is left where it stands, breaks down to its end.
        let turned_or_left = self.batch.turned.is_some() || self.batch.standing;
        let between = if self.is_last() && turned_or_left { Phase::Maturing } else { Phase::Resting };
        let all = [
            Stretch { phase: Phase::Filling, from: self.from, until: closed },
            Stretch { phase: between, from: closed, until: ready },
            Stretch { phase: Phase::Ready, from: ready, until: self.until },
        ];
        all.into_iter().filter(|own| own.until > own.from).collect()
    }

    /// What it is and until when.
    fn told(&self, telling: &Telling<'_>) -> String {
        let day = |day: Date| dates::day(day, telling.today);
        let name = telling.name(&self.batch.batch).unwrap_or(words::NEW_BATCH);
        let from = (self.from > telling.plan.from).then(|| day(self.from));
        let closed = self.closed().filter(|closed| *closed < telling.plan.until).map(day);
        let ready = self.ready().filter(|ready| *ready > telling.plan.from).map(day);
        let until = (self.until < telling.plan.until).then(|| day(self.until));
        words::stay(name, from.as_deref(), closed.as_deref(), ready.as_deref(), until.as_deref())
    }
}
