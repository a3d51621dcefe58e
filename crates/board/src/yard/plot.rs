//! The bays in their order on the ground, each with what stands in it.

use baycast_model::estimate::{HeapNow, Stage};
use baycast_service::readiness::BatchReadiness;
use baycast_service::records::{Farm, FarmBay};

use super::job::name;
use crate::drawing::bay::{self, Scale};
use crate::{figures, paths, words};

/// A place on the ground, with one batch or none.
pub struct Plot {
    /// The bay's id.
    pub bay: String,
    /// The drawing.
    pub drawing: String,
    /// What stands there; nothing where it is free.
    pub heap: Option<Heap>,
    /// What would go in.
    pub capacity: String,
}

/// A batch in its bay.
pub struct Heap {
    /// Path of its page.
    pub path: String,
    /// Its name.
    pub name: String,
    /// The stage, and what it means.
    pub stage: &'static str,
    pub stage_class: &'static str,
    /// Temperature in the core, °C, and its range; none where nothing is left.
    pub core: Option<(String, String)>,
    /// How full the bay is, and how much that is.
    pub fill: Option<(String, String)>,
}

/// All bays; a batch whose bay is not among them has a place of its own behind them.
pub fn all(
    base: &str,
    farm: &Farm,
    bays: &[FarmBay],
    batches: &[&BatchReadiness],
    scale: Scale,
) -> Vec<Plot> {
    let mut plots = Vec::new();
    for FarmBay { bay, .. } in bays {
        let capacity = figures::volume(bay.capacity_m3(), farm);
        let inside: Vec<_> = batches.iter().filter(|batch| batch.bay == bay.id).collect();
        for batch in &inside {
            let standing = batch.now.as_ref().map(|now| (batch.stage, now));
            let drawing = bay::drawing(bay, standing, scale);
            let heap = Some(heap(base, farm, batch));
            plots.push(Plot { bay: bay.id.clone(), drawing, heap, capacity: capacity.clone() });
        }
        if inside.is_empty() {
            let drawing = bay::drawing(bay, None, scale);
            plots.push(Plot { bay: bay.id.clone(), drawing, heap: None, capacity });
        }
    }
    let elsewhere = batches.iter().filter(|batch| bays.iter().all(|own| own.bay.id != batch.bay));
    plots.extend(elsewhere.map(|batch| Plot {
        bay: format!("{} · {}", batch.bay, words::ELSEWHERE_BAY),
        drawing: String::new(),
        heap: Some(heap(base, farm, batch)),
        capacity: String::new(),
    }));
    plots
}

fn heap(base: &str, farm: &Farm, batch: &BatchReadiness) -> Heap {
    let now = batch.now.as_ref();
    let core = |now: &HeapNow| (figures::whole(now.core_c.p50), figures::celsius_range(&now.core_c));
    let fill =
        |now: &HeapNow| (figures::percent(now.fill_fraction), figures::volume(now.volume_m3.p50, farm));
    Heap {
        path: paths::batch(base, &batch.batch),
        name: name(batch).to_owned(),
        stage: words::stage(batch.stage),
        stage_class: stage_class(batch.stage),
        core: now.map(core),
        fill: now.map(fill),
    }
}

/// A stage for the style sheet.
pub fn stage_class(stage: Stage) -> &'static str {
    bay::texture(stage)
}
