//! An estimate with something in every field, for tests of how it is written.

use baycast_model::estimate::Estimate;
use serde_json::{Value, json};

/// A made-up estimate of a batch in a pallet bay.
pub fn estimate() -> Estimate {
    let point = |date: &str, volume_m3: f64| {
        json!({
            "date": date, "core_c": spread(20.0, 21.0, 22.0), "edge_c": spread(18.0, 19.0, 20.0),
            "volume_m3": spread(0.5, volume_m3, 0.7), "moisture_fraction": spread(0.5, 0.55, 0.6),
            "maturity_index": spread(0.7, 0.8, 0.9),
        })
    };
    let criteria = |purpose: &str| {
        json!({
            "use": purpose, "min_maturity_index": 0.7, "max_respiration_mg_co2c_g_vs_day": 8.0,
            "max_above_air_c": 10.0, "max_c_to_n": 25.0, "min_moisture_fraction": 0.35,
            "max_moisture_fraction": 0.65, "max_shrinkage_fraction": 0.1,
        })
    };
    let seed = |name: &str, tolerance: &str, p50: f64, p90: f64| {
        json!({
            "species": name, "name": name, "tolerance": tolerance, "core_fraction": 0.0, "edge_fraction": 0.2,
            "p10_fraction": 0.0, "p50_fraction": p50, "p90_fraction": p90, "source": "made up",
        })
    };
    let rule = |rule: &str, verdict: &str, from: Option<&str>, to: Option<&str>| {
        json!({
            "rule": rule, "verdict": verdict, "from": from, "to": to, "shown_days": 3.0, "required_days": 3.0,
            "turns": 0, "explanation": "made up", "source": "made up",
        })
    };
    serde_json::from_value(json!({
        "batch": "spring, first", "model_version": "0", "as_of": "2026-09-15", "bay": "pallet-3", "stage": "ready",
        "now": {
            "core_c": spread(18.0, 21.0, 24.0), "edge_c": spread(15.0, 17.5, 20.0), "air_c": 14.6,
            "volume_m3": spread(0.55, 0.6125, 0.66), "fill_fraction": 0.557, "mass_kg": 412.25,
            "dry_mass_kg": 180.0, "moisture_fraction": spread(0.53, 0.57, 0.61),
            "free_air_space_fraction": 0.4, "c_to_n": 14.5, "nitrogen_kg": 4.0,
        },
        "balance": {
            "dry_in_kg": 1.0, "dry_degraded_kg": 1.0, "dry_withdrawn_kg": 1.0, "water_in_kg": 1.0, "rain_kg": 1.0,
            "metabolic_water_kg": 1.0, "evaporated_kg": 1.0, "drained_kg": 1.0, "water_withdrawn_kg": 1.0,
            "water_corrected_kg": 0.0, "mix_c_to_n": 27.0, "mix_moisture_fraction": 0.66, "volume_in_m3": 3.0,
        },
        "thermal_time": {
            "base_c": 10.0, "cap_c": 60.0, "degree_days_c": 4200.0, "measured_fraction": 0.72,
            "measured_degree_days_fraction": 0.81,
            "effective_days": spread(40.0, 44.0, 48.0),
        },
        "maturity": {
            "index": spread(0.78, 0.83, 0.87), "respiration_mg_co2c_g_vs_day": 3.5, "respiration_class": "stable",
            "respiration_scheme": "made up", "self_heating_rise_c": 9.0, "self_heating_class": "v",
        },
        "windows": [
            {
                "use": "mulch", "opens": {"p10": "2026-08-14", "p50": "2026-08-20", "p90": "2026-09-20"},
                "best_by": {"p10": "2026-11-01", "p50": "2026-11-12", "p90": null}, "open_now_probability": 0.85,
                "binding": "above_air", "volume_at_opening_m3": 0.65, "criteria": criteria("mulch"),
            },
            {
                "use": "bed_dressing", "opens": {"p10": "2026-09-20", "p50": "2026-10-02", "p90": null},
                "best_by": {"p10": null, "p50": null, "p90": null}, "open_now_probability": 0.05,
                "ready_by": [
                    {"date": "2026-10-01", "probability": 0.4}, {"date": "2026-11-01", "probability": 0.75},
                ],
                "binding": "too_wet", "volume_at_opening_m3": 0.6, "criteria": criteria("bed_dressing"),
            },
        ],
        "sanitisation": [
            rule("psrp_composting", "met", Some("2026-03-14"), Some("2026-03-18")),
            rule("pfrp_windrow", "not_met", None, None),
            rule("pas100_default", "not_enough_readings", None, None),
            rule("lethality_equation", "indicative_only", None, None),
        ],
        "seeds": [
            seed("a", "soft", 0.001, 0.02), seed("b", "soft", 0.0, 0.01), seed("c", "hard", 0.61, 0.8),
        ],
        "learned": learned(), "futures": futures(),
        "forecast": [point("2026-11-08", 0.60), point("2026-11-15", 0.53)],
        "advice": [
            {"subject": "spread", "urgency": "soon", "action": "spread it, or cover it", "reason": "it shrinks from 2026-10-01"},
        ],
        "suspect_readings": [
            {"pointer": "/events/4", "at": "2026-04-26", "temperature_c": 66.5, "reason": "stuck", "weight": 0.0},
            {"pointer": "/events/3", "at": "2026-04-25", "temperature_c": 66.5, "reason": "stuck", "weight": 0.0},
            {"pointer": "/events/5", "at": "2026-05-02", "temperature_c": 31.0, "reason": "in_the_shell", "weight": 0.2},
        ],
        "assumptions": [
            {"pointer": "/events/1", "assumed": "a layer a tenth of the bay high"},
            {"pointer": "/events/2", "assumed": "a layer a tenth of the bay high"},
        ],
        "provenance": [
            {"batch": "spring, first", "dry_in_kg": 200.0, "share": 0.4},
            {"batch": "spring, second", "dry_in_kg": 300.0, "share": 0.6},
        ],
        "cautions": ["a share of hard-seeded weeds comes through"],
    }))
    .expect("the sample is an estimate")
}

/// A range.
fn spread(p10: f64, p50: f64, p90: f64) -> Value {
    json!({"p10": p10, "p50": p50, "p90": p90})
}

/// What was learned.
fn learned() -> Value {
    json!({
        "trust": "readings_disagree", "reason": "3 of 9 readings are doubted.", "observations": 7,
        "factors": [{"unknown": "kinetics", "before": spread(0.7, 1.0, 1.4), "after": spread(0.9, 1.0, 1.2)}],
        "probe_bias_c": spread(-3.0, -1.0, 1.0), "volume_factor": spread(0.8, 0.95, 1.1),
        "moved": [{"by": "core_readings", "count": 6, "later_days": -4.0}],
        "next_look": {"at": "moisture", "on": "2026-09-16", "range_now_days": 31.4, "range_then_days": 24.6},
    })
}

/// What could be done: one step that helps, and one of which nothing is dated.
fn futures() -> Value {
    let future = |step: &str, opens: Option<&str>, earlier, volume_m3: f64, seeds: [f64; 3]| {
        json!({
            "step": step, "on": "2026-09-15", "opens": {"p10": opens, "p50": opens, "p90": null},
            "earlier_days": earlier, "volume_m3": spread(0.5, volume_m3, 0.7),
            "seeds": {"soft_fraction": seeds[0], "medium_fraction": seeds[1], "hard_fraction": seeds[2]},
        })
    };
    json!([
        future("leave", Some("2026-10-02"), Some(spread(0.0, 0.0, 0.0)), 0.6, [0.0, 0.03, 0.61]),
        future("turn_now", Some("2026-09-20"), Some(spread(3.0, 12.0, 20.0)), 0.58, [0.0, 0.004, 0.5]),
        future("turn_in_two_weeks", None, None, 0.6, [0.001, 0.02, 0.55]),
    ])
}
