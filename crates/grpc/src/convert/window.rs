//! Criteria in both directions, windows on the way out.

use baycast_model::window::{Criteria, Criterion, DateSpread, ReadyBy, Use, Window};
use baycast_service::pointer::Pointer;

use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(Use, proto::Use { Mulch BedDressing Potting });
word!(Criterion, proto::Criterion { MaturityIndex Respiration AboveAir CToN TooDry TooWet });

/// A caller's criteria, as far as they can be read.
pub fn criteria(message: proto::Criteria, at: Pointer<'_>, incoming: &mut Incoming) -> Criteria {
    let proto::Criteria {
        r#use: for_use,
        min_maturity_index,
        max_respiration_mg_co2c_g_vs_day: max_respiration,
        max_above_air_c,
        max_c_to_n,
        min_moisture_fraction,
        max_moisture_fraction,
        max_shrinkage_fraction,
    } = message;
    Criteria {
        for_use: incoming.word(for_use, at.member("use")).unwrap_or(Use::Mulch),
        min_maturity_index: incoming.number(min_maturity_index, at.member("min_maturity_index")),
        max_respiration_mg_co2c_g_vs_day: incoming
            .number(max_respiration, at.member("max_respiration_mg_co2c_g_vs_day")),
        max_above_air_c: incoming.number(max_above_air_c, at.member("max_above_air_c")),
        max_c_to_n: incoming.number(max_c_to_n, at.member("max_c_to_n")),
        min_moisture_fraction: incoming.number(min_moisture_fraction, at.member("min_moisture_fraction")),
        max_moisture_fraction: incoming.number(max_moisture_fraction, at.member("max_moisture_fraction")),
        max_shrinkage_fraction: incoming.number(max_shrinkage_fraction, at.member("max_shrinkage_fraction")),
    }
}

impl From<Criteria> for proto::Criteria {
    fn from(criteria: Criteria) -> Self {
        let Criteria {
            for_use,
            min_maturity_index,
            max_respiration_mg_co2c_g_vs_day,
            max_above_air_c,
            max_c_to_n,
            min_moisture_fraction,
            max_moisture_fraction,
            max_shrinkage_fraction,
        } = criteria;
        Self {
            r#use: proto::Use::from(for_use).into(),
            min_maturity_index: Some(min_maturity_index),
            max_respiration_mg_co2c_g_vs_day: Some(max_respiration_mg_co2c_g_vs_day),
            max_above_air_c: Some(max_above_air_c),
            max_c_to_n: Some(max_c_to_n),
            min_moisture_fraction: Some(min_moisture_fraction),
            max_moisture_fraction: Some(max_moisture_fraction),
            max_shrinkage_fraction: Some(max_shrinkage_fraction),
        }
    }
}

impl From<DateSpread> for proto::DateSpread {
    fn from(DateSpread { p10, p50, p90 }: DateSpread) -> Self {
        let text = |date: Option<jiff::civil::Date>| date.map(|date| date.to_string());
        Self { p10: text(p10), p50: text(p50), p90: text(p90) }
    }
}

impl From<ReadyBy> for proto::ReadyBy {
    fn from(ReadyBy { date, probability }: ReadyBy) -> Self {
        Self { date: date.to_string(), probability }
    }
}

impl From<Window> for proto::Window {
    fn from(window: Window) -> Self {
        let Window {
            for_use,
            opens,
            best_by,
            open_now_probability,
            ready_by,
            binding,
            volume_at_opening_m3,
            criteria,
        } = window;
        Self {
            r#use: proto::Use::from(for_use).into(),
            opens: Some(opens.into()),
            best_by: Some(best_by.into()),
            open_now_probability,
            binding: proto::Criterion::from(binding).into(),
            volume_at_opening_m3,
            criteria: Some(criteria.into()),
            ready_by: ready_by.into_iter().map(Into::into).collect(),
        }
    }
}
