//! What a season may hold: every value outside its range is noted, all of them at once.

use std::collections::HashSet;

use jiff::civil::Date;

use crate::check::{bay, criteria, feedstock, name, quoted, site};
use crate::feedstock::default_feedstocks;
use crate::moment::{ACCEPTED_DAYS, date_to_days};
use crate::plan::season::{Demand, Inflow, Season};
use crate::problem::Problems;

/// Weeks that a plan may take.
pub const WEEKS: std::ops::RangeInclusive<u32> = 4..=78;
/// Most bays.
pub const MOST_BAYS: usize = 16;
/// Most demands.
pub const MOST_DEMANDS: usize = 40;
/// Most inflows.
pub const MOST_INFLOWS: usize = 100;
/// Most steps of an earlier plan.
pub const MOST_STEPS: usize = 2000;

/// Notes every value of `season` that lies outside its range; it begins on `from` and ends before `until`.
pub fn check(season: &Season, from: Date, until: Date, problems: &mut Problems) {
    site(&season.site, "", problems);
    problems.range_if(
        "/weeks",
        season.weeks.map(f64::from),
        f64::from(*WEEKS.start()),
        f64::from(*WEEKS.end()),
    );
    if !ACCEPTED_DAYS.contains(&date_to_days(from)) {
        problems.add("/from", quoted(&from.to_string()), "1900-01-01 to 2199-12-31");
    }
    problems.range_if("/barrow_m3", season.barrow_m3, 0.01, 0.5);
    problems.range_if("/turns_per_week", season.turns_per_week.map(f64::from), 0.0, 14.0);
    problems.range_if("/rest_weeks", season.rest_weeks.map(f64::from), 0.0, 26.0);
    count("/bays", season.bays.len(), 1..=MOST_BAYS, problems);
    count("/demands", season.demands.len(), 0..=MOST_DEMANDS, problems);
    count("/inflows", season.inflows.len(), 0..=MOST_INFLOWS, problems);
    count("/earlier", season.earlier.len(), 0..=MOST_STEPS, problems);
    let mut ids = HashSet::new();
    for (index, own) in season.bays.iter().enumerate() {
        bay(own, &format!("/bays/{index}"), problems);
        if !ids.insert(own.id.as_str()) {
            problems.add(format!("/bays/{index}/id"), quoted(&own.id), "an id used once");
        }
    }
    let mut known: HashSet<String> = default_feedstocks().into_iter().map(|own| own.id).collect();
    let mut ids = HashSet::new();
    for (index, own) in season.feedstocks.iter().enumerate() {
        feedstock(own, &format!("/feedstocks/{index}"), problems);
        if !ids.insert(own.id.as_str()) {
            problems.add(format!("/feedstocks/{index}/id"), quoted(&own.id), "an id used once");
        }
        known.insert(own.id.clone());
    }
    let mut uses = HashSet::new();
    for (index, own) in season.criteria.iter().enumerate() {
        criteria(own, &format!("/criteria/{index}"), problems);
        if !uses.insert(own.for_use as u8) {
            problems.add(format!("/criteria/{index}/use"), format!("{:?}", own.for_use), "a use given once");
        }
    }
    for (index, own) in season.inflows.iter().enumerate() {
        inflow(own, &format!("/inflows/{index}"), &known, problems);
    }
    let mut ids = HashSet::new();
    for (index, own) in season.demands.iter().enumerate() {
        demand(own, &format!("/demands/{index}"), from, until, problems);
        if !ids.insert(own.id.as_str()) {
            problems.add(format!("/demands/{index}/id"), quoted(&own.id), "an id used once");
        }
    }
    standing(season, problems);
}

fn count(pointer: &str, count: usize, accepted: std::ops::RangeInclusive<usize>, problems: &mut Problems) {
    if !accepted.contains(&count) {
        problems.add(
            pointer,
            format!("{count} entries"),
            format!("{} to {}", accepted.start(), accepted.end()),
        );
    }
}

fn inflow(own: &Inflow, at: &str, known: &HashSet<String>, problems: &mut Problems) {
    if !known.contains(&own.feedstock) {
        problems.add(
            format!("{at}/feedstock"),
            quoted(&own.feedstock),
            "a feedstock of the default table or of `feedstocks`",
        );
    }
    problems.range_if(format!("{at}/mass_kg_week"), own.mass_kg_week, 0.0, 50_000.0);
    problems.range_if(format!("{at}/volume_m3_week"), own.volume_m3_week, 0.0, 100.0);
    problems.range_if(format!("{at}/barrows_week"), own.barrows_week, 0.0, 1000.0);
    let amounts = [own.mass_kg_week, own.volume_m3_week, own.barrows_week];
    let given = amounts.iter().flatten().count();
    if given != 1 {
        problems.add(
            at,
            format!("{given} amounts"),
            "exactly one of mass_kg_week, volume_m3_week, barrows_week",
        );
    }
    if let (Some(from), Some(until)) = (own.from, own.until)
        && until < from
    {
        problems.add(format!("{at}/until"), quoted(&until.to_string()), format!("{from} or later"));
    }
}

fn demand(own: &Demand, at: &str, from: Date, until: Date, problems: &mut Problems) {
    name(&own.id, format!("{at}/id"), problems);
    problems.range_if(format!("{at}/volume_m3"), own.volume_m3, 0.001, 1000.0);
    problems.range_if(format!("{at}/area_m2"), own.area_m2, 0.1, 100_000.0);
    problems.range_if(format!("{at}/depth_m"), own.depth_m, 0.001, 0.5);
    problems.range_if(format!("{at}/priority"), own.priority, 0.1, 10.0);
    match (own.volume_m3, own.area_m2, own.depth_m) {
        (Some(_), None, None) => {}
        (None, Some(_), Some(_)) if (0.001..=1000.0).contains(&own.needed_m3()) => {}
        (None, Some(_), Some(_)) => {
            problems.add(at, own.needed_m3(), "0.001 to 1000 m³ of area_m2 and depth_m together");
        }
        _ => problems.add(
            at,
            "neither a volume nor an area with a depth, or both",
            "volume_m3, or area_m2 and depth_m",
        ),
    }
    if own.by < from || own.by >= until {
        problems.add(
            format!("{at}/by"),
            quoted(&own.by.to_string()),
            format!("{from} or later, before {until}"),
        );
    }
}

/// Where batches stand; what their histories hold is looked at where they are read.
fn standing(season: &Season, problems: &mut Problems) {
    let (mut names, mut taken) = (HashSet::new(), HashSet::new());
    let mut filling = 0;
    for (index, own) in season.batches.iter().enumerate() {
        let at = format!("/batches/{index}");
        if !names.insert(own.history.batch.as_str()) {
            problems.add(format!("{at}/history/batch"), quoted(&own.history.batch), "a name used once");
        }
        let bay = own.bay();
        if !season.bays.iter().any(|known| known.id == bay) {
            problems.add(
                format!("{at}/history/bay/id"),
                quoted(bay),
                "at last in one of the season's `bays`",
            );
        } else if !taken.insert(bay) {
            problems.add(format!("{at}/history/bay/id"), quoted(bay), "a bay in which no other batch stands");
        }
        filling += usize::from(own.filling);
        if own.filling && filling > 1 {
            problems.add(format!("{at}/filling"), "true", "true for one batch at most");
        }
    }
}
