//! What is told of a farm, on the way out.

use baycast_service::readiness::{
    BatchReadiness, Readiness, ReadinessChange, ReadinessChanges, ReadinessNews, SuggestedTurn,
    WindowReadiness,
};

use super::estimate::all;
use crate::proto;
use crate::proto::watch_readiness_response::News;

impl From<Readiness> for proto::Readiness {
    fn from(readiness: Readiness) -> Self {
        let Readiness { farm, name, time_zone, as_of, sequence, changed_at, pending, batches } = readiness;
        Self {
            farm,
            name,
            time_zone,
            as_of: as_of.to_string(),
            sequence,
            changed_at: changed_at.map(|at| at.to_string()),
            pending,
            batches: all(batches),
        }
    }
}

impl From<BatchReadiness> for proto::BatchReadiness {
    fn from(readiness: BatchReadiness) -> Self {
        let BatchReadiness {
            batch,
            name,
            bay,
            as_of,
            changed_at,
            model_version,
            stage,
            now,
            maturity_index,
            windows,
            turn,
            advice,
            suspect_readings,
            sanitisation_met,
        } = readiness;
        Self {
            batch,
            name,
            bay,
            as_of: as_of.to_string(),
            changed_at: changed_at.to_string(),
            model_version,
            stage: proto::Stage::from(stage).into(),
            now: now.map(Into::into),
            maturity_index: maturity_index.map(Into::into),
            windows: all(windows),
            turn: turn.map(Into::into),
            advice: all(advice),
            suspect_readings: all(suspect_readings),
            sanitisation_met: all(sanitisation_met),
        }
    }
}

impl From<WindowReadiness> for proto::WindowReadiness {
    fn from(window: WindowReadiness) -> Self {
        let WindowReadiness {
            for_use,
            opens,
            best_by,
            open_now_probability,
            binding,
            volume_at_opening_m3,
            sequence,
            changed_at,
        } = window;
        Self {
            r#use: proto::Use::from(for_use).into(),
            opens: Some(opens.into()),
            best_by: Some(best_by.into()),
            open_now_probability,
            binding: proto::Criterion::from(binding).into(),
            volume_at_opening_m3,
            sequence,
            changed_at: changed_at.to_string(),
        }
    }
}

impl From<SuggestedTurn> for proto::SuggestedTurn {
    fn from(SuggestedTurn { since, by, action, reason, sequence, changed_at }: SuggestedTurn) -> Self {
        Self {
            since: since.to_string(),
            by: by.to_string(),
            action,
            reason,
            sequence,
            changed_at: changed_at.to_string(),
        }
    }
}

impl From<ReadinessChange> for proto::ReadinessChange {
    fn from(change: ReadinessChange) -> Self {
        let ReadinessChange { farm, sequence, batch, changed_at, readiness } = change;
        Self {
            farm,
            sequence,
            batch,
            changed_at: changed_at.to_string(),
            readiness: readiness.map(Into::into),
        }
    }
}

impl From<ReadinessChanges> for proto::ListReadinessChangesResponse {
    fn from(ReadinessChanges { readiness, changes, sequence }: ReadinessChanges) -> Self {
        Self { readiness: readiness.map(Into::into), changes: all(changes), sequence }
    }
}

impl From<ReadinessNews> for proto::WatchReadinessResponse {
    fn from(news: ReadinessNews) -> Self {
        let news = match news {
            ReadinessNews::Whole(readiness) => News::Readiness(Readiness::clone(&readiness).into()),
            ReadinessNews::Change(change) => News::Change(ReadinessChange::clone(&change).into()),
        };
        Self { news: Some(news) }
    }
}
