//! Larkfield's season from the middle of September on. Larkfield is invented.

use baycast_model::history::History;
use baycast_model::plan::season::{Season, Standing};

/// Its bays with what stands in them on 15 September 2026, what is expected to come in, and what its beds need.
pub fn larkfield() -> Season {
    let histories: Vec<History> =
        serde_json::from_str(include_str!("../../../baycast/demo/larkfield.json")).expect("histories");
    let mut season: Season = serde_json::from_value(serde_json::json!({
        "from": "2026-09-15",
        "site": histories[0].site,
        "bays": [],
        "barrow_m3": 0.085,
        "inflows": [
            {"feedstock": "grass_mowings", "mass_kg_week": 90.0, "from": "2026-09-15", "until": "2026-10-31"},
            {"feedstock": "grass_mowings", "mass_kg_week": 110.0, "from": "2027-04-01", "until": "2027-10-31"},
            {"feedstock": "leafy_crop_waste", "mass_kg_week": 45.0},
            {"feedstock": "horse_manure_bedded", "mass_kg_week": 40.0, "from": "2026-11-01", "until": "2027-03-31"},
            {"feedstock": "shredded_prunings", "mass_kg_week": 45.0},
            {"feedstock": "cardboard", "mass_kg_week": 11.0},
            {"feedstock": "coffee_grounds", "mass_kg_week": 12.0},
        ],
        "demands": [
            {"id": "garlic beds", "use": "bed_dressing", "by": "2026-10-20", "area_m2": 60.0, "depth_m": 0.02},
            {"id": "tunnel beds", "use": "bed_dressing", "by": "2027-03-15", "area_m2": 120.0, "depth_m": 0.025},
            {"id": "modules", "use": "potting", "by": "2027-02-15", "volume_m3": 0.3},
            {"id": "autumn beds", "use": "bed_dressing", "by": "2027-09-01", "area_m2": 200.0, "depth_m": 0.03},
        ],
    }))
    .expect("a season");
    for history in &histories {
        for bay in [&history.bay].into_iter().chain(&history.other_bays) {
            if season.bays.iter().all(|own| own.id != bay.id) {
                season.bays.push(bay.clone());
            }
        }
        // What was emptied since stands no more.
        if history.events.iter().all(|event| event.withdrawal.is_none_or(|taken| taken.volume_m3.is_some())) {
            season.batches.push(Standing { history: history.clone(), filling: false, kill_seeds: false });
        }
    }
    season
}
