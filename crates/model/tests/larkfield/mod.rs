//! Bays and fillings of Larkfield, an invented market garden, that tests share.
#![allow(dead_code, reason = "each test binary uses its own part")]

pub mod measured;
pub mod year;

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::history::{Addition, Event, History};
use baycast_model::site::{Normals, Site};

pub fn site() -> Site {
    Site {
        latitude_deg: 52.0,
        normals: Some(Normals {
            mean_air_c: vec![4.5, 4.8, 6.8, 9.2, 12.4, 15.4, 17.6, 17.3, 14.6, 11.0, 7.3, 5.0],
            rain_mm: vec![60.0, 50.0, 50.0, 48.0, 52.0, 55.0, 55.0, 60.0, 56.0, 64.0, 63.0, 62.0],
        }),
        daily: Vec::new(),
    }
}

fn bay(id: &str, [length_m, width_m, height_m]: [f64; 3], construction: Construction, top: Top) -> Bay {
    let wall = Wall { construction, layers: Vec::new() };
    Bay { id: id.into(), length_m, width_m, height_m, wall, base: Base::Soil, top }
}

pub fn plastic_bin() -> Bay {
    bay("plastic", [0.75, 0.75, 1.07], Construction::ThinPlastic, Top::Lidded)
}

pub fn cardboard_pallet() -> Bay {
    bay("pallet", [1.0, 1.0, 1.1], Construction::CardboardLined, Top::Open)
}

pub fn timber_bay() -> Bay {
    bay("timber", [1.5, 1.6, 1.25], Construction::TimberBoards, Top::Roofed)
}

/// Shares by wet mass of what a market garden fills a bay with: C:N near 31, moisture near 69 %.
pub const MIX: [(&str, f64); 5] = [
    ("grass_mowings", 0.43),
    ("leafy_crop_waste", 0.13),
    ("crop_stems", 0.14),
    ("cardboard", 0.065),
    ("shredded_prunings", 0.235),
];

pub fn empty(bay: Bay) -> History {
    History {
        batch: "invented".into(),
        as_of: None,
        site: site(),
        bay,
        other_bays: Vec::new(),
        feedstocks: Vec::new(),
        barrow_m3: None,
        events: Vec::new(),
        sources: Vec::new(),
        criteria: Vec::new(),
        horizon_days: None,
        forecast_step_days: None,
        ready_by: Vec::new(),
        compare_futures: false,
        lesson: None,
    }
}

/// `bay` filled twice a week from `start` for `weeks` with `total_kg` in all.
pub fn filled_over(bay: Bay, start: &str, weeks: u32, total_kg: f64) -> History {
    let mut history = empty(bay);
    let times = weeks * 2;
    let start: jiff::Timestamp = format!("{start}T12:00:00Z").parse().unwrap();
    for time in 0..times {
        let at = start + jiff::SignedDuration::from_hours(84 * i64::from(time));
        for (feedstock, share) in MIX {
            let mut event = Event::at(baycast_model::moment::Moment::Instant(at));
            event.addition = Some(Addition {
                feedstock: feedstock.into(),
                mass_kg: Some(total_kg * share / f64::from(times)),
                ..Addition::default()
            });
            history.events.push(event);
        }
    }
    history
}

/// The history with one more event.
pub fn with_event(mut history: History, at: &str, detail: impl FnOnce(&mut Event)) -> History {
    let mut event = Event::at(at.parse().unwrap());
    detail(&mut event);
    history.events.push(event);
    history
}
