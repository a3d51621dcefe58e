//! The season's plan: what to do week by week, how far each need of the beds is met, and what each bay holds.
//!
//! A plan takes some seconds to make. The page waits for one only a little: then it shows the one before, or says that it is
//! being made, and asks for itself again.

mod demands;
mod stays;
mod steps;

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::http::header::{CACHE_CONTROL, HeaderValue, REFRESH, VARY};
use axum::http::{HeaderMap, HeaderName};
use axum::response::{IntoResponse, Response};
use baycast_model::estimator::CAUTIONS;
use baycast_model::plan::answer::Plan;
use baycast_service::Error;
use baycast_service::readiness::Readiness;
use baycast_service::records::{Farm, FarmBay, FarmPlan, FarmPlanSoon};
use jiff::civil::Date;

use crate::access::{self, Access, Rights};
use crate::assets::{ASSETS, Assets};
use crate::drawing::season::Season;
use crate::refusal::{Refusal, html};
use crate::router::Board;
use crate::{dates, paths, words, yard};

use demands::{Demand, Trouble};
use stays::Row;
use steps::Week;

/// Longest wait for a plan that is being made.
const PATIENCE: Duration = Duration::from_secs(2);

/// When a page without its plan asks for itself again, s.
const AGAIN_S: u16 = 3;

/// Weeks that are shown large.
const SOON_WEEKS: i32 = 4;

#[derive(Template)]
#[template(path = "plan.html")]
struct Page<'a> {
    assets: &'static Assets,
    base: &'a str,
    path: String,
    sequence: u64,
    signed_in: bool,
    writes: bool,
    name: &'a str,
    day: String,
    /// When the plan was made and what it covers.
    made: Option<String>,
    /// Why there is none, or none of today.
    notice: Option<String>,
    /// How one comes to be, where no season is kept.
    how: Option<String>,
    shown: Option<Shown>,
    cautions: [&'static str; CAUTIONS.len()],
}

/// What stands on the page of a plan.
struct Shown {
    soon: Vec<Week>,
    later: Vec<Week>,
    demands: Vec<Demand>,
    troubles: Vec<Trouble>,
    axis: String,
    rows: Vec<Row>,
    assumed: Vec<String>,
}

/// What is needed to tell a plan.
struct Telling<'a> {
    plan: &'a Plan,
    farm: &'a Farm,
    bays: &'a [FarmBay],
    readiness: &'a Readiness,
    base: &'a str,
    today: Date,
}

impl Telling<'_> {
    /// What people call a batch that stands; nothing for one that is only planned.
    fn name(&self, batch: &str) -> Option<&str> {
        let own = self.readiness.batches.iter().find(|own| own.batch == batch)?;
        Some(if own.name.is_empty() { &own.batch } else { &own.name })
    }

    /// A text of the plan as people read it.
    fn sentence(&self, text: &str) -> String {
        words::sentence(&dates::in_text(&text.replace('`', ""), self.today))
    }

    fn shown(&self) -> Shown {
        let (soon, later) = steps::weeks(self).into_iter().partition(|week| week.number < SOON_WEEKS);
        let season = Season::until(self.today.max(self.plan.from), self.plan.until);
        Shown {
            soon,
            later,
            demands: demands::all(self),
            troubles: demands::troubles(self),
            axis: season.axis(),
            rows: stays::rows(self, &season),
            assumed: self.plan.assumptions.iter().map(|own| self.sentence(&own.assumed)).collect(),
        }
    }
}

/// The page.
pub async fn plan(
    State(board): State<Board>,
    access: Access,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let Access { caller, farm, base, rights, batch: _ } = access;
    let service = &board.service;
    let (farm, bays, readiness) = futures::try_join!(
        service.get_farm(&caller, &farm),
        yard::bays(service, &caller, &farm),
        service.readiness(&caller, &farm)
    )?;
    let today = readiness.as_of;
    let (mut notice, mut how) = (None, None);
    let soon = match service.get_plan_soon(&caller, &farm.id, PATIENCE).await {
        Ok(soon) => soon,
        Err(Error::NotFound { what: "season", .. }) => {
            notice = Some(words::NO_SEASON.to_owned());
            how = (rights == Rights::Write).then(|| words::how_a_season_is_kept(&farm.id));
            FarmPlanSoon { plan: None, in_the_making: false }
        }
        // The season has ended, or what is recorded since cannot be planned.
        Err(
            error @ (Error::Invalid(_)
            | Error::TooLarge { .. }
            | Error::Conflict(_)
            | Error::Busy { .. }
            | Error::Deadline),
        ) => {
            notice = Some(words::sentence(&error.detail()));
            FarmPlanSoon { plan: None, in_the_making: false }
        }
        Err(error) => return Err(error.into()),
    };
    let FarmPlanSoon { plan, in_the_making } = soon;
    if in_the_making {
        let before = plan.as_ref().map(|own| dates::day(own.plan.from, today));
        notice = Some(words::in_the_making(before.as_deref()));
    }
    let zone = dates::zone(&farm.time_zone);
    let made = plan.as_ref().map(|FarmPlan { made_at, plan }| {
        let (from, until) = (dates::day(plan.from, today), dates::day(plan.until, today));
        words::made(&dates::instant(*made_at, &zone, today), &from, &until)
    });
    let telling = |own: &FarmPlan| {
        let plan = &own.plan;
        Telling { plan, farm: &farm, bays: &bays, readiness: &readiness, base: &base, today }.shown()
    };
    let page = Page {
        assets: &ASSETS,
        base: &base,
        path: paths::plan(&base),
        sequence: readiness.sequence,
        signed_in: rights != Rights::Screen && access::key(&headers).is_some(),
        writes: rights == Rights::Write,
        name: if farm.name.is_empty() { &farm.id } else { &farm.name },
        day: dates::whole(today),
        made,
        notice,
        how,
        shown: plan.as_ref().map(telling),
        cautions: CAUTIONS,
    };
    let kept: [(HeaderName, &str); 2] = [(CACHE_CONTROL, "private, no-cache"), (VARY, "cookie")];
    let mut response = (kept, html(&page)).into_response();
    if in_the_making {
        response.headers_mut().insert(REFRESH, HeaderValue::from(AGAIN_S));
    }
    Ok(response)
}
