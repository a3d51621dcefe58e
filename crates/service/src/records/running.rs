//! A kept season as it runs: what is left of it on a day, and of the plan that was made of it before.

use baycast_model::estimate::Assumption;
use baycast_model::plan::answer::{Action, Plan, Step};
use baycast_model::plan::season::Season;
use baycast_records::Yard;
use jiff::ToSpan;
use jiff::civil::Date;

use crate::error::{Conflict, Error};
use crate::records::seasons::FarmSeason;

/// Weeks that a season has where it does not say.
const USUAL_WEEKS: u32 = 52;

/// The fewest weeks that are planned, as few as the model takes: a season that is nearly over is looked beyond.
const FEWEST_WEEKS: i32 = 4;

/// The first day that is planned of a season on a day: that day, unless the season is to come.
pub fn first_day(season: &FarmSeason, today: Date) -> Date {
    season.from.map_or(today, |from| from.max(today))
}

/// What is left of a season on a day: its weeks from then on, with the demands that are still to come and the steps of the
/// plan `before`, each in the week of the season in which it was.
pub fn left(season: FarmSeason, today: Date, before: Option<&Plan>) -> Result<FarmSeason, Error> {
    let start = season.from.unwrap_or(today);
    let first = first_day(&season, today);
    let weeks = i32::try_from(season.weeks.unwrap_or(USUAL_WEEKS)).unwrap_or(i32::MAX);
    let gone = week_of(start, first);
    if gone >= weeks {
        let end = start.saturating_add(weeks.weeks());
        let detail = format!("the season ended on {end}: keep the next one");
        return Err(Error::Conflict(Conflict::State { detail }));
    }
    let FarmSeason { mut demands, .. } = season;
    demands.retain(|demand| demand.by >= first);
    Ok(FarmSeason {
        from: Some(first),
        weeks: u32::try_from((weeks - gone).max(FEWEST_WEEKS)).ok(),
        demands,
        earlier: before.map(|plan| carried(plan, start, first)).unwrap_or_default(),
        ..season
    })
}

/// The week of a season that began on `start` in which a day lies, from 0 on; those before it are negative.
fn week_of(start: Date, day: Date) -> i32 {
    (day - start).get_days().div_euclid(7)
}

/// The steps of a plan for one that begins on `first`, of a season that began on `start`. A plan's weeks begin on its own first day: a step stays in the week of
/// the season in which it was, and does not wander as plans are made from day to day.
pub fn carried(plan: &Plan, start: Date, first: Date) -> Vec<Step> {
    let later = week_of(start, first) - week_of(start, plan.from);
    let on = |step: &Step| first.saturating_add((week_of(plan.from, step.on) - later).weeks());
    plan.steps.iter().map(|step| Step { on: on(step), ..step.clone() }).collect()
}

/// Leaves out what a season says of batches that do not stand any more, and says so.
pub fn leave_out_gone(season: &mut FarmSeason, yard: &Yard) -> Vec<Assumption> {
    let stands = |batch: &String| yard.standing.iter().any(|own| own.batch == *batch);
    let mut assumed = Vec::new();
    if let Some(batch) = season.filling.take_if(|batch| !stands(batch)) {
        let assumed_now =
            format!("nothing is being filled: batch `{batch}` does not stand in a bay any more");
        assumed.push(Assumption { pointer: "/filling".into(), assumed: assumed_now });
    }
    season.kill_seeds.retain(stands);
    assumed
}

/// Takes the steps of the plan before up: those of a batch that was begun as planned go to it under its own name, and those of
/// weeks that are over are left out.
pub fn take_up(season: &mut Season) {
    let Some(from) = season.from else { return };
    let mut names = Vec::new();
    for own in &season.batches {
        let (batch, bay) = (&own.history.batch, own.bay());
        if season.earlier.iter().any(|step| step.batch == *batch) {
            continue;
        }
        let begun = |step: &&Step| step.action == Action::Fill && step.bay == bay && step.on <= from;
        if let Some(step) = season.earlier.iter().rev().find(begun) {
            names.push((step.batch.clone(), batch.clone()));
        }
    }
    let own = |name: &mut String| {
        if let Some((_, batch)) = names.iter().find(|(planned, _)| planned == name) {
            name.clone_from(batch);
        }
    };
    season.earlier.retain(|step| step.on >= from);
    for step in &mut season.earlier {
        own(&mut step.batch);
        step.with_batch.iter_mut().for_each(own);
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use serde_json::json;

    use super::*;

    /// Sixteen weeks from a Tuesday on.
    fn season() -> FarmSeason {
        let demand = |id: &str, by: &str| json!({ "id": id, "use": "mulch", "by": by, "volume_m3": 0.2 });
        let season = json!({ "from": "2026-09-15", "weeks": 16,
            "demands": [demand("soon", "2026-09-20"), demand("later", "2026-12-20")] });
        serde_json::from_value(season).expect("a season")
    }

    fn plan(from: Date, steps: &[(Date, &str, &str)]) -> Plan {
        let step = |(on, action, batch): &(Date, &str, &str)| json!({ "on": on, "action": action, "batch": batch, "bay": "east", "reason": "so" });
        let steps: Vec<_> = steps.iter().map(step).collect();
        let plan = json!({ "model_version": "1", "from": from, "until": "2027-01-05", "steps": steps, "batches": [],
            "demands": [], "expected": [], "conflicts": [], "assumptions": [], "cautions": [],
            "optimum": { "value_m3": 0.0, "bound_m3": 0.0, "gap_fraction": 0.0 } });
        serde_json::from_value(plan).expect("a plan")
    }

    #[test]
    fn a_step_stays_in_its_week_of_the_season_whatever_the_day() {
        let start = date(2026, 9, 15);
        // Made anew each day from the plan of the day before.
        let mut plan = plan(start, &[(date(2026, 9, 29), "turn", "spring")]);
        for day in 1..21 {
            let today = start.saturating_add(day.days());
            let own = left(season(), today, Some(&plan)).expect("it runs");
            let on = own.earlier[0].on;
            assert_eq!(week_of(today, on), 2 - day / 7, "on day {day}: {on}");
            assert_eq!((own.from, own.weeks), (Some(today), Some(16 - day as u32 / 7)));
            plan.from = today;
            plan.steps = own.earlier;
        }
    }

    #[test]
    fn what_is_past_is_left_out() {
        let own = left(season(), date(2026, 9, 21), None).expect("it runs");
        assert_eq!(own.demands.iter().map(|own| own.id.as_str()).collect::<Vec<_>>(), ["later"]);
        let early = left(season(), date(2026, 8, 1), None).expect("it is to come");
        assert_eq!((early.from, early.weeks), (Some(date(2026, 9, 15)), Some(16)));
        assert_eq!(left(season(), date(2027, 1, 4), None).expect("its last day").weeks, Some(4));
        let over = left(season(), date(2027, 1, 5), None).expect_err("it is over");
        assert!(over.to_string().contains("ended on 2027-01-05"), "{over}");
    }

    #[test]
    fn a_batch_that_was_begun_as_planned_has_its_steps() {
        let from = date(2026, 9, 22);
        let text = json!({ "from": from, "site": { "latitude_deg": 52.0 }, "bays": [], "batches": [{ "history": {
            "batch": "autumn", "site": { "latitude_deg": 52.0 },
            "bay": { "id": "east", "length_m": 1, "width_m": 1, "height_m": 1, "wall": { "construction": "block" } },
            "events": [] } }] });
        let mut season: Season = serde_json::from_value(text).expect("a season");
        let fill = (date(2026, 9, 15), "fill", "east 2026-09-15");
        season.earlier = plan(from, &[fill, (date(2026, 10, 6), "close", "east 2026-09-15")]).steps;
        take_up(&mut season);
        let told: Vec<_> = season.earlier.iter().map(|step| (step.action, step.batch.as_str())).collect();
        assert_eq!(told, [(Action::Close, "autumn")]);
    }
}
