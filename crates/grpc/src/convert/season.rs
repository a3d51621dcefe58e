//! What a season brings and asks for: in, and a kept one out.

use baycast_model::history::History;
use baycast_model::plan::answer::{Action, Step};
use baycast_model::plan::season::{Demand, Inflow, Season, Standing};
use baycast_model::window::Use;
use baycast_service::pointer::Pointer;
use baycast_service::records::FarmSeason;
use jiff::civil::Date;

use super::bay::{bay, nothing};
use super::feedstock::feedstock;
use super::history::{list, read};
use super::incoming::Incoming;
use super::site::{nowhere, site};
use super::window::criteria;
use super::word::word;
use crate::proto;

word!(Action, proto::Action { Spread Empty Close Turn Fill Cure Cover });

/// Which dates are read.
const DATE: &str = "a date like 2026-04-30";

/// A caller's season, as far as it can be read.
pub fn season(message: proto::Season, at: Pointer<'_>, incoming: &mut Incoming) -> Season {
    let proto::Season {
        from,
        weeks,
        site: place,
        bays,
        batches,
        feedstocks,
        barrow_m3,
        inflows,
        demands,
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria: own_criteria,
        earlier,
    } = message;
    let place = incoming.message(place, at.member("site"));
    Season {
        from: day(from, at.member("from"), incoming),
        weeks,
        site: place.map_or_else(nowhere, |place| site(place, at.member("site"), incoming)),
        bays: list(bays, at.member("bays"), incoming, bay),
        batches: list(batches, at.member("batches"), incoming, standing),
        feedstocks: list(feedstocks, at.member("feedstocks"), incoming, feedstock),
        barrow_m3,
        inflows: list(inflows, at.member("inflows"), incoming, inflow),
        demands: list(demands, at.member("demands"), incoming, demand),
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria: list(own_criteria, at.member("criteria"), incoming, criteria),
        earlier: list(earlier, at.member("earlier"), incoming, step),
    }
}

/// A caller's season on a farm, as far as it can be read.
pub fn farm_season(message: proto::FarmSeason, at: Pointer<'_>, incoming: &mut Incoming) -> FarmSeason {
    let proto::FarmSeason {
        from,
        weeks,
        filling,
        kill_seeds,
        inflows,
        demands,
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria: own_criteria,
        earlier,
    } = message;
    FarmSeason {
        from: day(from, at.member("from"), incoming),
        weeks,
        filling,
        kill_seeds,
        inflows: list(inflows, at.member("inflows"), incoming, inflow),
        demands: list(demands, at.member("demands"), incoming, demand),
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria: list(own_criteria, at.member("criteria"), incoming, criteria),
        earlier: list(earlier, at.member("earlier"), incoming, step),
    }
}

/// The day, where one is named.
fn day(text: Option<String>, at: Pointer<'_>, incoming: &mut Incoming) -> Option<Date> {
    text.and_then(|text| incoming.parsed(&text, at, DATE))
}

fn standing(message: proto::Standing, at: Pointer<'_>, incoming: &mut Incoming) -> Standing {
    let proto::Standing { history, filling, kill_seeds } = message;
    let at = at.member("history");
    let history = incoming.message(history, at);
    Standing {
        history: history.map_or_else(unwritten, |history| read(history, at, incoming)),
        filling,
        kill_seeds,
    }
}

/// What stands for a history that is absent, which is a problem noted already.
fn unwritten() -> History {
    History {
        batch: String::new(),
        as_of: None,
        site: nowhere(),
        bay: nothing(),
        other_bays: Vec::new(),
        feedstocks: Vec::new(),
        barrow_m3: None,
        events: Vec::new(),
        sources: Vec::new(),
        criteria: Vec::new(),
        horizon_days: None,
        forecast_step_days: None,
        ready_by: Vec::new(),
        compare_futures: false,
        lesson: None,
    }
}

fn inflow(message: proto::Inflow, at: Pointer<'_>, incoming: &mut Incoming) -> Inflow {
    let proto::Inflow { feedstock, from, until, mass_kg_week, volume_m3_week, barrows_week, preparation } =
        message;
    Inflow {
        feedstock,
        from: day(from, at.member("from"), incoming),
        until: day(until, at.member("until"), incoming),
        mass_kg_week,
        volume_m3_week,
        barrows_week,
        preparation: incoming.optional_word(preparation, at.member("preparation")).unwrap_or_default(),
    }
}

fn demand(message: proto::Demand, at: Pointer<'_>, incoming: &mut Incoming) -> Demand {
    let proto::Demand { id, r#use: for_use, by, volume_m3, area_m2, depth_m, kill_seeds, priority } = message;
    Demand {
        id,
        for_use: incoming.word(for_use, at.member("use")).unwrap_or(Use::Mulch),
        by: incoming.parsed(&by, at.member("by"), DATE).unwrap_or(Date::ZERO),
        volume_m3,
        area_m2,
        depth_m,
        kill_seeds,
        priority,
    }
}

impl From<FarmSeason> for proto::FarmSeason {
    fn from(season: FarmSeason) -> Self {
        let FarmSeason {
            from,
            weeks,
            filling,
            kill_seeds,
            inflows,
            demands,
            turns_per_week,
            rest_weeks,
            keep_bay_free,
            criteria,
            earlier,
        } = season;
        Self {
            from: from.map(|day| day.to_string()),
            weeks,
            filling,
            kill_seeds,
            inflows: inflows.into_iter().map(Into::into).collect(),
            demands: demands.into_iter().map(Into::into).collect(),
            turns_per_week,
            rest_weeks,
            keep_bay_free,
            criteria: criteria.into_iter().map(Into::into).collect(),
            earlier: earlier.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<Inflow> for proto::Inflow {
    fn from(inflow: Inflow) -> Self {
        let Inflow { feedstock, from, until, mass_kg_week, volume_m3_week, barrows_week, preparation } =
            inflow;
        Self {
            feedstock,
            from: from.map(|day| day.to_string()),
            until: until.map(|day| day.to_string()),
            mass_kg_week,
            volume_m3_week,
            barrows_week,
            preparation: proto::Preparation::from(preparation).into(),
        }
    }
}

impl From<Demand> for proto::Demand {
    fn from(demand: Demand) -> Self {
        let Demand { id, for_use, by, volume_m3, area_m2, depth_m, kill_seeds, priority } = demand;
        Self {
            id,
            r#use: proto::Use::from(for_use).into(),
            by: by.to_string(),
            volume_m3,
            area_m2,
            depth_m,
            kill_seeds,
            priority,
        }
    }
}

/// A step of an earlier plan.
fn step(message: proto::PlanStep, at: Pointer<'_>, incoming: &mut Incoming) -> Step {
    let proto::PlanStep { on, action, batch, bay, to_bay, with_batch, demand, volume_m3, barrows, reason } =
        message;
    Step {
        on: incoming.parsed(&on, at.member("on"), DATE).unwrap_or(Date::ZERO),
        action: incoming.word(action, at.member("action")).unwrap_or(Action::Cure),
        batch,
        bay,
        to_bay,
        with_batch,
        demand,
        volume_m3,
        barrows,
        reason,
    }
}
