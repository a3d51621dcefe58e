//! What the dates of a batch rest on.

use baycast_model::estimate::Estimate;
use jiff::civil::Date;

use crate::{dates, words};

/// What was learned.
pub struct Learned {
    /// What the ranges rest on.
    pub trust: &'static str,
    /// Why.
    pub reason: String,
    /// How each kind of input moved the day of opening.
    pub moved: Vec<String>,
    /// What to look at next, and what it is worth.
    pub look_next: Option<String>,
    /// What had to be assumed.
    pub assumed: Vec<String>,
}

impl Learned {
    /// Of an estimate.
    pub fn of(estimate: &Estimate, today: Date) -> Self {
        let own = &estimate.learned;
        let moved =
            own.moved.iter().map(|own| words::moved(&words::input(own.by, own.count), own.later_days));
        let look = |own: &baycast_model::learned::NextLook| {
            let day = dates::day(own.on, today);
            words::worth(words::look(own.at), &day, own.range_now_days, own.range_then_days)
        };
        // That the day is today is not worth telling.
        let told = estimate.assumptions.iter().filter(|own| own.pointer != "/as_of");
        let assumed = told.map(|own| words::sentence(&own.assumed));
        Self {
            trust: words::trust(own.trust),
            reason: words::sentence(&own.reason),
            moved: moved.collect(),
            look_next: own.next_look.as_ref().map(look),
            assumed: assumed.collect(),
        }
    }
}
