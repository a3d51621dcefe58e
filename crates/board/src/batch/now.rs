//! How a batch stands today.

use baycast_model::estimate::Estimate;
use baycast_service::records::{Farm, FarmBay};

use crate::drawing::bay::{self, Scale};
use crate::{figures, words};

/// The heap today.
pub struct Now {
    /// The drawing; none where its bay is no longer in use.
    pub drawing: String,
    /// The stage, what it means, and its texture.
    pub stage: &'static str,
    pub means: &'static str,
    pub stage_class: &'static str,
    /// What else is known: words, value and range.
    pub figures: Vec<(&'static str, String, String)>,
}

impl Now {
    /// The heap of an estimate; none where nothing is left.
    pub fn of(estimate: &Estimate, bays: &[FarmBay], farm: &Farm) -> Option<Self> {
        let now = estimate.now.as_ref()?;
        let bay = bays.iter().find(|own| own.bay.id == estimate.bay).map(|own| &own.bay);
        let drawn = |bay| bay::drawing(bay, Some((estimate.stage, now)), Scale::of([bay].into_iter()));
        let degrees = |celsius: f64| format!("{} °C", figures::whole(celsius));
        let mut figures = vec![
            (words::CORE, degrees(now.core_c.p50), figures::celsius_range(&now.core_c)),
            (words::EDGE, degrees(now.edge_c.p50), figures::celsius_range(&now.edge_c)),
            (words::AIR, degrees(now.air_c), String::new()),
            (words::FULL, figures::percent(now.fill_fraction), figures::volume(now.volume_m3.p50, farm)),
            (
                words::MOISTURE,
                figures::percent(now.moisture_fraction.p50),
                figures::percent_range(&now.moisture_fraction),
            ),
            (words::CARBON, figures::whole(now.c_to_n), String::new()),
        ];
        if let Some(maturity) = &estimate.maturity {
            let index = &maturity.index;
            figures.push((words::BROKEN_DOWN, figures::percent(index.p50), figures::percent_range(index)));
        }
        Some(Self {
            drawing: bay.map(drawn).unwrap_or_default(),
            stage: words::stage(estimate.stage),
            means: words::stage_means(estimate.stage),
            stage_class: bay::texture(estimate.stage),
            figures,
        })
    }
}
