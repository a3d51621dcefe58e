//! A farm with one bay, for what only needs somewhere to add batches.

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::site::Site;
use baycast_records::{FarmDraft, Records};

/// Adds a farm with the bay `bay`.
pub async fn plant(records: &Records, farm: &str) {
    let site = Site { latitude_deg: 50.0, normals: None, daily: vec![] };
    let draft = FarmDraft { name: String::new(), site, time_zone: "Etc/UTC".into(), barrow_m3: None };
    records.create_farm(farm, &draft).await.expect("a farm");
    let bay = Bay {
        id: "bay".into(),
        length_m: 1.5,
        width_m: 1.5,
        height_m: 1.2,
        wall: Wall { construction: Construction::Block, layers: vec![] },
        base: Base::Soil,
        top: Top::Open,
    };
    records.create_bay(farm, &bay, 0).await.expect("a bay");
}
