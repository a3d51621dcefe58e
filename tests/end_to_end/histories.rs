//! Histories that tests send.

use serde_json::{Value, json};

/// One batch with an event of every kind, another merged into it, and every optional field set somewhere.
pub fn full() -> Value {
    json!({
        "batch": "pallet 2, spring",
        "as_of": "2026-07-20",
        "site": {
            "latitude_deg": 52.0,
            "normals": {
                "mean_air_c": [4.5, 4.8, 6.8, 9.2, 12.4, 15.4, 17.6, 17.3, 14.6, 11.0, 7.3, 5.0],
                "rain_mm": [55, 42, 45, 48, 52, 54, 56, 60, 54, 64, 62, 58]
            },
            "daily": [
                { "date": "2026-04-02", "mean_air_c": 9.5, "rain_mm": 3.5 },
                { "date": "2026-04-03", "mean_air_c": 11.25 }
            ]
        },
        "bay": bay("pallet-2"),
        "other_bays": [{
            "id": "timber-1", "length_m": 1.5, "width_m": 1.6, "height_m": 1.25, "base": "slab", "top": "roofed",
            "wall": { "construction": "timber_boards", "layers": [{ "thickness_m": 0.025, "conductivity_w_m_k": 0.14 }] }
        }],
        "feedstocks": [{
            "id": "hop_bines", "name": "Hop bines", "moisture_fraction": 0.7, "nitrogen_fraction": 0.02, "c_to_n": 20,
            "ash_fraction": 0.12, "bulk_density_kg_m3": 120, "fast_fraction": 0.25, "slow_fraction": 0.4,
            "structure": "porous", "note": "chop first",
            "sources": [{ "field": "c_to_n", "citation": "own analysis", "checked": "read" }]
        }],
        "barrow_m3": 0.09,
        "events": [
            { "at": "2026-04-01", "id": "a1",
              "addition": { "feedstock": "grass_mowings", "mass_kg": 220.5, "moisture_fraction": 0.78, "temperature_c": 14 } },
            { "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "barrows": 4, "preparation": "shredded" } },
            { "at": "2026-04-02T17:30:00+01:00", "reading": { "temperature_c": 48.5, "depth_m": 0.5, "ambient_c": 12 } },
            { "at": "2026-04-05", "reading": { "temperature_f": 140, "zone": "core" } },
            { "at": "2026-04-08", "addition": { "feedstock": "hop_bines", "volume_m3": 0.4 } },
            { "at": "2026-04-10", "addition": { "feedstock": "crop_stems", "filled_to_fraction": 0.9 } },
            { "at": "2026-04-11", "moisture": { "percent": 62.5 } },
            { "at": "2026-04-12", "watering": { "litres": 20 } },
            { "at": "2026-04-14", "firming": {} },
            { "at": "2026-04-20", "cover": { "state": "on" } },
            { "at": "2026-05-01", "turn": {} },
            { "at": "2026-05-10", "move": { "to_bay": "timber-1" } },
            { "at": "2026-05-11", "merge": { "source": "pallet 3, spring", "placement": "on_top" } },
            { "at": "2026-05-20", "moisture": { "squeeze": "damp" } },
            { "at": "2026-06-20", "withdrawal": { "volume_m3": 0.05 } },
            { "at": "2026-06-25", "reading": { "temperature_c": 31.5, "zone": "edge" } },
            { "at": "2026-06-26", "level": { "fill_fraction": 0.62 } }
        ],
        "sources": [{
            "batch": "pallet 3, spring",
            "site": { "latitude_deg": 52.0 },
            "bay": bay("pallet-3"),
            "events": [
                { "at": "2026-04-03", "addition": { "feedstock": "horse_manure_bedded", "mass_kg": 300 } },
                { "at": "2026-04-12", "reading": { "temperature_c": 55 } }
            ]
        }],
        "criteria": [{
            "use": "mulch", "min_maturity_index": 0.5, "max_respiration_mg_co2c_g_vs_day": 12, "max_above_air_c": 12,
            "max_c_to_n": 30, "min_moisture_fraction": 0.3, "max_moisture_fraction": 0.7, "max_shrinkage_fraction": 0.1
        }],
        "horizon_days": 240,
        "forecast_step_days": 14,
        "ready_by": ["2026-08-01", "2026-10-15"],
        "compare_futures": true,
        "lesson": {
            "batches": ["pallet 1, autumn"],
            "beliefs": [
                { "unknown": "kinetics", "factor": 1.15, "log_deviation": 0.12 },
                { "unknown": "heat_loss", "factor": 0.9, "log_deviation": 0.1 }
            ]
        }
    })
}

/// A short history of a few days, quick to estimate.
pub fn short(batch: &str) -> Value {
    json!({
        "batch": batch,
        "as_of": "2026-04-03",
        "site": { "latitude_deg": 52 },
        "bay": bay("pallet-1"),
        "events": [
            { "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } },
            { "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "mass_kg": 100 } },
            { "at": "2026-04-02", "reading": { "temperature_c": 38.5 } }
        ],
        "horizon_days": 1,
        "forecast_step_days": 1
    })
}

/// The full history with a value at each of some JSON Pointers; a member that is not there is added.
pub fn edited(edits: &[(&str, Value)]) -> Value {
    let mut history = full();
    for (pointer, value) in edits {
        set(&mut history, pointer, value.clone());
    }
    history
}

/// Puts `value` at `pointer`.
fn set(history: &mut Value, pointer: &str, value: Value) {
    let (parent, name) = pointer.rsplit_once('/').expect("a pointer below the top");
    match history.pointer_mut(parent).unwrap_or_else(|| panic!("nothing at {parent}")) {
        Value::Object(members) => {
            members.insert(name.to_owned(), value);
        }
        Value::Array(elements) => elements[name.parse::<usize>().expect("an index")] = value,
        other => panic!("{parent} is {other}"),
    }
}

/// The full history without what stands at `pointer`.
pub fn without(pointer: &str) -> Value {
    let mut history = full();
    let (parent, name) = pointer.rsplit_once('/').expect("a pointer below the top");
    let members = history.pointer_mut(parent).and_then(Value::as_object_mut).expect("an object");
    members.remove(name).expect("a member to take away");
    history
}

/// A pallet bay of 1.1 m³.
fn bay(id: &str) -> Value {
    json!({
        "id": id, "length_m": 1, "width_m": 1, "height_m": 1.1, "base": "soil", "top": "open",
        "wall": { "construction": "cardboard_lined" }
    })
}
