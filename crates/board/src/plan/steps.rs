//! What to do, week by week.

use baycast_model::plan::answer::Action;

use super::Telling;
use crate::{dates, figures, paths, words};

/// A week in which something is to be done.
pub struct Week {
    /// Its number from the plan's first on.
    pub number: i32,
    /// When it is, in words.
    pub title: String,
    /// What is to be done in it.
    pub steps: Vec<Step>,
}

/// Something to do.
pub struct Step {
    /// What is done, for the picture beside it.
    pub class: &'static str,
    /// What is done, and where.
    pub title: String,
    /// The batch, with the path of its page, where it stands already.
    pub batch: Option<(String, String)>,
    /// How much.
    pub amount: Option<String>,
    /// For which need of the beds.
    pub demand: Option<String>,
    /// Why then and there.
    pub reason: String,
}

/// All weeks that have something to do.
pub fn weeks(telling: &Telling<'_>) -> Vec<Week> {
    let plan = telling.plan;
    let mut weeks: Vec<Week> = Vec::new();
    for own in &plan.steps {
        let number = (own.on - plan.from).get_days() / 7;
        if weeks.last().is_none_or(|week| week.number != number) {
            let day = dates::day(own.on, telling.today);
            let title = if number == 0 { words::this_week(&day) } else { words::week_of(&day) };
            weeks.push(Week { number, title, steps: Vec::new() });
        }
        let step = Step {
            class: class(own.action),
            title: words::step(own.action, &own.bay, own.to_bay.as_deref()),
            batch: telling
                .name(&own.batch)
                .map(|name| (paths::batch(telling.base, &own.batch), name.to_owned())),
            amount: own.volume_m3.map(|volume_m3| figures::volume(volume_m3, telling.farm)),
            demand: own.demand.as_deref().map(words::for_demand),
            reason: telling.sentence(&own.reason),
        };
        if let Some(week) = weeks.last_mut() {
            week.steps.push(step);
        }
    }
    weeks
}

/// An action, for the style sheet and the pictures.
fn class(action: Action) -> &'static str {
    match action {
        Action::Spread => "spread",
        Action::Empty => "empty",
        Action::Close => "close",
        Action::Turn => "turn",
        Action::Fill => "fill",
        Action::Cure => "cure",
        Action::Cover => "cover",
    }
}
