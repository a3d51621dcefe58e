//! Plans on the way out.

use baycast_model::plan::answer::{
    Conflict, ConflictKind, DemandOutlook, Draw, ExpectedVolume, Optimum, Plan, PlannedBatch, PlannedWindow,
    Remedy, RemedyKind, Step,
};
use baycast_service::records::FarmPlan;
use jiff::civil::Date;

use super::word::word;
use crate::proto;

word!(ConflictKind, proto::ConflictKind { Shortfall Unsure NoRoom NoFreeBay LateTurn PoorMix });
word!(RemedyKind, proto::RemedyKind { FinishedCompost MoreMaterial ExtraBay LaterDate ThinnerDressing });

fn text(date: Option<Date>) -> Option<String> {
    date.map(|date| date.to_string())
}

impl From<Plan> for proto::Plan {
    fn from(plan: Plan) -> Self {
        let Plan {
            model_version,
            from,
            until,
            steps,
            batches,
            demands,
            expected,
            conflicts,
            optimum,
            assumptions,
            cautions,
        } = plan;
        Self {
            model_version,
            from: from.to_string(),
            until: until.to_string(),
            steps: steps.into_iter().map(Into::into).collect(),
            batches: batches.into_iter().map(Into::into).collect(),
            demands: demands.into_iter().map(Into::into).collect(),
            expected: expected.into_iter().map(Into::into).collect(),
            conflicts: conflicts.into_iter().map(Into::into).collect(),
            optimum: Some(optimum.into()),
            assumptions: assumptions.into_iter().map(Into::into).collect(),
            cautions,
        }
    }
}

impl From<Step> for proto::PlanStep {
    fn from(step: Step) -> Self {
        let Step { on, action, batch, bay, to_bay, with_batch, demand, volume_m3, barrows, reason } = step;
        Self {
            on: on.to_string(),
            action: proto::Action::from(action).into(),
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
}

impl From<PlannedBatch> for proto::PlannedBatch {
    fn from(planned: PlannedBatch) -> Self {
        let PlannedBatch {
            batch,
            standing,
            bays,
            merged_into,
            filled_from,
            closed,
            turned,
            emptied,
            windows,
            seeds_killed_by,
        } = planned;
        Self {
            batch,
            standing,
            bays,
            merged_into,
            filled_from: text(filled_from),
            closed: text(closed),
            turned: text(turned),
            emptied: text(emptied),
            windows: windows.into_iter().map(Into::into).collect(),
            seeds_killed_by: text(seeds_killed_by),
        }
    }
}

impl From<PlannedWindow> for proto::PlannedWindow {
    fn from(window: PlannedWindow) -> Self {
        let PlannedWindow { for_use, opens, held_back_by, volume_m3 } = window;
        Self {
            r#use: proto::Use::from(for_use).into(),
            opens: Some(opens.into()),
            held_back_by: proto::Criterion::from(held_back_by).into(),
            volume_m3,
        }
    }
}

impl From<DemandOutlook> for proto::DemandOutlook {
    fn from(outlook: DemandOutlook) -> Self {
        let DemandOutlook {
            demand,
            for_use,
            by,
            needed_m3,
            expected_m3,
            short_m3,
            short_barrows,
            taken_from,
        } = outlook;
        Self {
            demand,
            r#use: proto::Use::from(for_use).into(),
            by: by.to_string(),
            needed_m3,
            expected_m3: Some(expected_m3.into()),
            short_m3,
            short_barrows,
            taken_from: taken_from.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<Draw> for proto::Draw {
    fn from(Draw { batch, volume_m3, ready_probability }: Draw) -> Self {
        Self { batch, volume_m3: Some(volume_m3.into()), ready_probability }
    }
}

impl From<ExpectedVolume> for proto::ExpectedVolume {
    fn from(ExpectedVolume { by, volume_m3 }: ExpectedVolume) -> Self {
        Self { by: by.to_string(), volume_m3: Some(volume_m3.into()) }
    }
}

impl From<Conflict> for proto::Conflict {
    fn from(conflict: Conflict) -> Self {
        let Conflict { kind, on, demand, batch, volume_m3, barrows, text, remedies } = conflict;
        Self {
            kind: proto::ConflictKind::from(kind).into(),
            on: on.to_string(),
            demand,
            batch,
            volume_m3,
            barrows,
            text,
            remedies: remedies.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<Remedy> for proto::Remedy {
    fn from(remedy: Remedy) -> Self {
        let Remedy { kind, mends_m3, volume_m3, barrows, on, depth_m, like_bay, text: told } = remedy;
        let kind = proto::RemedyKind::from(kind).into();
        Self { kind, mends_m3, volume_m3, barrows, on: text(on), depth_m, like_bay, text: told }
    }
}

impl From<FarmPlan> for proto::FarmPlan {
    fn from(FarmPlan { made_at, plan }: FarmPlan) -> Self {
        Self { made_at: made_at.to_string(), plan: Some(plan.into()) }
    }
}

impl From<Optimum> for proto::Optimum {
    fn from(Optimum { value_m3, bound_m3, gap_fraction }: Optimum) -> Self {
        Self { value_m3, bound_m3, gap_fraction }
    }
}
