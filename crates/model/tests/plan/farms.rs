//! Generated farms, invented.

use baycast_model::plan::season::Season;
use fastrand::Rng;
use jiff::ToSpan;
use jiff::civil::date;
use serde_json::json;

/// A farm of 2 to 12 bays, with what stands, comes in and is asked for in half a year to a year.
pub fn season(seed: u64) -> Season {
    let mut rng = Rng::with_seed(seed);
    let sizes = [
        (
            "plastic",
            json!({"length_m": 0.75, "width_m": 0.75, "height_m": 1.07, "wall": {"construction": "thin_plastic"}, "top": "lidded"}),
        ),
        (
            "pallet",
            json!({"length_m": 1.0, "width_m": 1.0, "height_m": 1.1, "wall": {"construction": "cardboard_lined"}}),
        ),
        (
            "timber",
            json!({"length_m": 1.5, "width_m": 1.6, "height_m": 1.25, "wall": {"construction": "timber_boards"}, "top": "roofed"}),
        ),
    ];
    let count = 2 + (seed as usize) % 11;
    let mut bays = Vec::new();
    let mut room_m3 = 0.0;
    for index in 0..count {
        let (name, size) = &sizes[rng.usize(0..3)];
        let mut bay = size.clone();
        bay["id"] = json!(format!("{name}-{index}"));
        room_m3 += ["length_m", "width_m", "height_m"]
            .iter()
            .map(|side| bay[*side].as_f64().unwrap())
            .product::<f64>();
        bays.push(bay);
    }
    let from = date(2026, 1 + rng.i8(0..12), 5);
    let weeks = rng.u32(20..=30);
    let a_week_m3 = room_m3 * (0.015 + 0.04 * rng.f64());
    let inflows = json!([
        {"feedstock": "grass_mowings", "volume_m3_week": 0.45 * a_week_m3},
        {"feedstock": "shredded_prunings", "volume_m3_week": 0.35 * a_week_m3},
        {"feedstock": "leafy_crop_waste", "volume_m3_week": 0.2 * a_week_m3},
    ]);
    let mut batches = Vec::new();
    for bay in &bays {
        if !rng.bool() {
            continue;
        }
        let weeks_ago = rng.i64(3..30);
        let start = from.saturating_sub((weeks_ago * 7).days());
        let filled = |day: i64, share: f64, feedstock: &str| {
            json!({"at": start.saturating_add(day.days()).to_string(),
                   "addition": {"feedstock": feedstock, "filled_to_fraction": share}})
        };
        let mut events = vec![
            filled(0, 0.3, "shredded_prunings"),
            filled(0, 0.8, "grass_mowings"),
            filled(7, 0.95, "leafy_crop_waste"),
        ];
        if weeks_ago > 12 && rng.bool() {
            events.push(json!({"at": start.saturating_add(60.days()).to_string(), "turn": {}}));
        }
        if rng.bool() {
            let at = start.saturating_add(10.days()).to_string();
            events.push(json!({"at": at, "reading": {"temperature_c": 45.0 + 20.0 * rng.f64()}}));
        }
        let batch = format!("heap in {}", bay["id"].as_str().unwrap());
        batches.push(json!({"history": {"batch": batch, "site": {"latitude_deg": 52.0}, "bay": bay, "events": events}}));
    }
    let demands: Vec<_> = (0..rng.usize(1..5))
        .map(|index| {
            let by = from.saturating_add(rng.i64(21..i64::from(weeks) * 7).days());
            let uses = ["mulch", "bed_dressing", "bed_dressing", "potting"];
            json!({"id": format!("beds {index}"), "use": uses[rng.usize(0..4)], "by": by.to_string(),
                   "area_m2": room_m3 * (0.5 + 4.0 * rng.f64()), "depth_m": 0.02})
        })
        .collect();
    let season = json!({
        "from": from.to_string(), "weeks": weeks, "site": {"latitude_deg": 52.0}, "bays": bays, "batches": batches,
        "inflows": inflows, "demands": demands, "turns_per_week": rng.u32(1..=3), "rest_weeks": rng.u32(2..=6),
    });
    serde_json::from_value(season).expect("a season")
}
