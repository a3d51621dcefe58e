//! Estimates, on the way out.

use baycast_model::estimate::{
    Assumption, Balance, Estimate, ForecastPoint, HeapNow, Provenance, Spread, Stage, ThermalTime,
};
use baycast_model::maturity::{RespirationClass, SelfHeatingClass};

use super::word::word;
use crate::proto;

word!(Stage, proto::Stage { Emptied Filling Hot Curing Stalled Ready });
word!(RespirationClass, proto::RespirationClass { VeryStable Stable ModeratelyUnstable Unstable Raw });
word!(SelfHeatingClass, proto::SelfHeatingClass { I Ii Iii Iv V });

impl From<Estimate> for proto::Estimate {
    fn from(estimate: Estimate) -> Self {
        let Estimate {
            batch,
            model_version,
            as_of,
            bay,
            stage,
            now,
            balance,
            thermal_time,
            maturity,
            windows,
            sanitisation,
            seeds,
            learned,
            futures,
            forecast,
            advice,
            suspect_readings,
            assumptions,
            provenance,
            cautions,
        } = estimate;
        Self {
            batch,
            model_version,
            as_of: as_of.to_string(),
            bay,
            stage: proto::Stage::from(stage).into(),
            now: now.map(Into::into),
            balance: Some(balance.into()),
            thermal_time: Some(thermal_time.into()),
            maturity: maturity.map(Into::into),
            windows: all(windows),
            sanitisation: all(sanitisation),
            seeds: all(seeds),
            learned: Some(learned.into()),
            futures: all(futures),
            forecast: all(forecast),
            advice: all(advice),
            suspect_readings: all(suspect_readings),
            assumptions: all(assumptions),
            provenance: all(provenance),
            cautions,
        }
    }
}

/// Each element as a message.
pub fn all<T, M: From<T>>(values: Vec<T>) -> Vec<M> {
    values.into_iter().map(M::from).collect()
}

impl From<Spread> for proto::Spread {
    fn from(Spread { p10, p50, p90 }: Spread) -> Self {
        Self { p10, p50, p90 }
    }
}

impl From<HeapNow> for proto::HeapNow {
    fn from(now: HeapNow) -> Self {
        let HeapNow {
            core_c,
            edge_c,
            air_c,
            volume_m3,
            fill_fraction,
            mass_kg,
            dry_mass_kg,
            moisture_fraction,
            free_air_space_fraction,
            c_to_n,
            nitrogen_kg,
        } = now;
        Self {
            core_c: Some(core_c.into()),
            edge_c: Some(edge_c.into()),
            air_c,
            volume_m3: Some(volume_m3.into()),
            fill_fraction,
            mass_kg,
            dry_mass_kg,
            moisture_fraction: Some(moisture_fraction.into()),
            free_air_space_fraction,
            c_to_n,
            nitrogen_kg,
        }
    }
}

impl From<Balance> for proto::Balance {
    fn from(balance: Balance) -> Self {
        let Balance {
            dry_in_kg,
            dry_degraded_kg,
            dry_withdrawn_kg,
            water_in_kg,
            rain_kg,
            metabolic_water_kg,
            evaporated_kg,
            drained_kg,
            water_withdrawn_kg,
            water_corrected_kg,
            mix_c_to_n,
            mix_moisture_fraction,
            volume_in_m3,
        } = balance;
        Self {
            dry_in_kg,
            dry_degraded_kg,
            dry_withdrawn_kg,
            water_in_kg,
            rain_kg,
            metabolic_water_kg,
            evaporated_kg,
            drained_kg,
            water_withdrawn_kg,
            water_corrected_kg,
            mix_c_to_n,
            mix_moisture_fraction,
            volume_in_m3,
        }
    }
}

impl From<ThermalTime> for proto::ThermalTime {
    fn from(time: ThermalTime) -> Self {
        let ThermalTime {
            base_c,
            cap_c,
            degree_days_c,
            measured_fraction,
            measured_degree_days_fraction,
            effective_days,
        } = time;
        Self {
            base_c,
            cap_c,
            degree_days_c,
            measured_fraction,
            measured_degree_days_fraction,
            effective_days: effective_days.map(Into::into),
        }
    }
}

impl From<baycast_model::estimate::Maturity> for proto::Maturity {
    fn from(maturity: baycast_model::estimate::Maturity) -> Self {
        let baycast_model::estimate::Maturity {
            index,
            respiration_mg_co2c_g_vs_day,
            respiration_class,
            respiration_scheme,
            self_heating_rise_c,
            self_heating_class,
        } = maturity;
        Self {
            index: Some(index.into()),
            respiration_mg_co2c_g_vs_day,
            respiration_class: proto::RespirationClass::from(respiration_class).into(),
            respiration_scheme,
            self_heating_rise_c,
            self_heating_class: proto::SelfHeatingClass::from(self_heating_class).into(),
        }
    }
}

impl From<ForecastPoint> for proto::ForecastPoint {
    fn from(point: ForecastPoint) -> Self {
        let ForecastPoint { date, core_c, edge_c, volume_m3, moisture_fraction, maturity_index } = point;
        Self {
            date: date.to_string(),
            core_c: Some(core_c.into()),
            edge_c: Some(edge_c.into()),
            volume_m3: Some(volume_m3.into()),
            moisture_fraction: Some(moisture_fraction.into()),
            maturity_index: Some(maturity_index.into()),
        }
    }
}

impl From<Assumption> for proto::Assumption {
    fn from(Assumption { pointer, assumed }: Assumption) -> Self {
        Self { pointer, assumed }
    }
}

impl From<Provenance> for proto::Provenance {
    fn from(Provenance { batch, dry_in_kg, share }: Provenance) -> Self {
        Self { batch, dry_in_kg, share }
    }
}
