//! Batches as a grower would start and note them: bay, season, mix, filling, turns and covers.

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::history::{Addition, Cover, CoverState, Event, History, Turn, Watering};
use baycast_model::moment::Moment;
use baycast_model::site::{Normals, Site};
use jiff::civil::Date;

use crate::chance::Chance;
use crate::mix::{Mix, draw_mix};

/// Sizes of bay that are told apart in the tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Thin plastic bin of about 0.6 m³.
    Bin,
    /// Pallets of about a cubic metre, lined with cardboard.
    Pallet,
    /// Boards or slats, about 3 m³.
    Timber,
    /// A heap without walls, 2-5 m³.
    Open,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Bin, Self::Pallet, Self::Timber, Self::Open];
}

/// How often the grower reads the thermometer.
#[derive(Clone, Copy, Debug)]
pub struct Habits {
    /// Days between two readings of the core, none where it is never read.
    pub reads_every_days: Option<u32>,
    /// Share of those days on which the edge is read too.
    pub reads_edge: f64,
    /// Whether the depth is noted, or only the zone.
    pub notes_depth: bool,
    /// Number of moisture notes.
    pub moisture_notes: u32,
    /// Whether moisture is weighed and dried, or squeezed.
    pub measures_moisture: bool,
    /// Number of sightings of the level in the bay.
    pub level_sightings: u32,
    /// Whether a weather station stands nearby, so that the days up to the estimate are known.
    pub weather_station: bool,
}

/// A batch as it is told, without what is seen of it.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Its number, which all draws follow from.
    pub index: usize,
    /// Size of bay.
    pub kind: Kind,
    /// What is done to it, planned events after `as_of` included.
    pub history: History,
    /// Day of the first addition.
    pub start: Date,
    /// Day of the estimate.
    pub as_of: Date,
    /// What the grower looks at.
    pub habits: Habits,
}

/// `date`, `days` later.
pub fn later(date: Date, days: u32) -> Date {
    date.saturating_add(jiff::SignedDuration::from_hours(24 * i64::from(days)))
}

/// How amounts are given.
#[derive(Clone, Copy)]
enum Told {
    Weighed,
    Volume,
    Barrows,
}

impl Scenario {
    /// Batch number `index`.
    pub fn draw(index: usize) -> Self {
        let mut chance = Chance::new(index, 1);
        let kind = Kind::ALL[index % Kind::ALL.len()];
        let bay = bay(kind, &mut chance);
        let start = later(jiff::civil::date(2025, 1, 3), 7 * chance.whole(0, 51));
        let as_of = later(start, chance.whole(10, 150));
        let mut history = History {
            batch: format!("batch-{index}"),
            as_of: Some(Moment::Date(as_of)),
            site: site(&mut chance),
            bay,
            other_bays: Vec::new(),
            feedstocks: Vec::new(),
            barrow_m3: chance.happens(0.5).then_some(0.085),
            events: Vec::new(),
            sources: Vec::new(),
            criteria: Vec::new(),
            horizon_days: Some(365),
            forecast_step_days: Some(14),
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
        };
        let mix = draw_mix(&mut chance);
        let filled_by = fill(&mut history, &mix, start, &mut chance);
        if chance.happens(0.5) {
            let mut turn = Event::at(Moment::Date(later(filled_by, chance.whole(14, 60))));
            turn.turn = Some(Turn::default());
            history.events.push(turn);
        }
        if history.bay.top == Top::Open && chance.happens(0.5) {
            let mut cover = Event::at(Moment::Date(later(filled_by, chance.whole(0, 10))));
            cover.cover = Some(Cover { state: CoverState::On });
            history.events.push(cover);
        }
        let habits = Habits {
            reads_every_days: chance.one_of(&[None, Some(7), Some(7), Some(3), Some(1)]),
            reads_edge: chance.one_of(&[0.0, 0.0, 0.3, 1.0]),
            notes_depth: chance.happens(0.5),
            moisture_notes: chance.one_of(&[0, 0, 1, 2, 4]),
            measures_moisture: chance.happens(0.3),
            level_sightings: chance.one_of(&[0, 0, 1, 3]),
            weather_station: chance.happens(0.25),
        };
        Self { index, kind, history, start, as_of, habits }
    }
}

fn bay(kind: Kind, chance: &mut Chance) -> Bay {
    let ([length_m, width_m, height_m], construction, top) = match kind {
        Kind::Bin => {
            let side_m = chance.between(0.70, 0.80);
            ([side_m, side_m, chance.between(0.95, 1.10)], Construction::ThinPlastic, Top::Lidded)
        }
        Kind::Pallet => {
            let sides = [chance.between(0.95, 1.10), chance.between(0.95, 1.10), chance.between(0.95, 1.10)];
            (sides, Construction::CardboardLined, chance.one_of(&[Top::Open, Top::Open, Top::Roofed]))
        }
        Kind::Timber => {
            let sides = [chance.between(1.4, 1.7), chance.between(1.4, 1.7), chance.between(1.15, 1.35)];
            let wall = chance.one_of(&[
                Construction::TimberBoards,
                Construction::TimberBoards,
                Construction::SlattedTimber,
            ]);
            (sides, wall, chance.one_of(&[Top::Open, Top::Roofed]))
        }
        Kind::Open => {
            let sides = [chance.between(1.4, 2.0), chance.between(1.4, 2.0), chance.between(1.0, 1.3)];
            (sides, Construction::OpenHeap, Top::Open)
        }
    };
    let base = if chance.happens(0.8) { Base::Soil } else { Base::Slab };
    Bay {
        id: "bay".into(),
        length_m,
        width_m,
        height_m,
        wall: Wall { construction, layers: Vec::new() },
        base,
        top,
    }
}

/// A maritime site at 52° N or a more continental one at 45° N. Normals invented, of the order of western and central
/// Europe's (from memory); half the sites give none.
fn site(chance: &mut Chance) -> Site {
    let (latitude_deg, mean_air_c, rain_mm) = if chance.happens(0.5) {
        let air_c = [4.5, 4.8, 6.8, 9.2, 12.4, 15.4, 17.6, 17.3, 14.6, 11.0, 7.3, 5.0];
        (52.0, air_c, [60.0, 50.0, 50.0, 48.0, 52.0, 55.0, 55.0, 60.0, 56.0, 64.0, 63.0, 62.0])
    } else {
        let air_c = [1.5, 3.5, 8.0, 12.0, 16.5, 20.5, 23.0, 22.3, 17.8, 12.5, 6.5, 2.5];
        (45.0, air_c, [50.0, 48.0, 58.0, 75.0, 90.0, 80.0, 65.0, 75.0, 80.0, 90.0, 85.0, 60.0])
    };
    let normals = Normals { mean_air_c: mean_air_c.to_vec(), rain_mm: rain_mm.to_vec() };
    Site { latitude_deg, normals: chance.happens(0.5).then_some(normals), daily: Vec::new() }
}

/// Moisture under which most growers water what they fill in, and what they bring it to (common practice, no source).
const DRY: f64 = 0.58;
const WATERED: f64 = 0.62;

/// Fills the bay with the mix, at once or over weeks, and returns the day of the last addition.
///
/// A bay filled at once takes loose matter of a quarter more than its volume, heaped, which sits down within days; one that
/// is filled over weeks takes more (common practice, no source).
fn fill(history: &mut History, mix: &Mix, start: Date, chance: &mut Chance) -> Date {
    let weeks = chance.one_of(&[0, 0, 0, 2, 5, 8]);
    let fills = if weeks == 0 { 1 } else { 1 + weeks };
    let fullness = chance.between(0.7, 1.0) * if weeks == 0 { 1.25 } else { 1.6 };
    let loose_m3 = fullness * history.bay.capacity_m3() / f64::from(fills);
    let told = chance.one_of(&[Told::Weighed, Told::Volume, Told::Barrows]);
    let waters = mix.moisture < DRY && chance.happens(0.8);
    let mut day = start;
    for fill in 0..fills {
        day = later(start, 7 * fill);
        // No week brings the same as another.
        let brought = if fills == 1 { 1.0 } else { chance.factor(0.25) };
        for part in &mix.parts {
            let mass_kg = mix.kg_m3 * loose_m3 * brought * part.mass_share;
            let volume_m3 = mass_kg / part.loose_kg_m3;
            let mut addition = Addition { feedstock: part.id.into(), ..Addition::default() };
            match told {
                Told::Weighed => addition.mass_kg = Some(round(mass_kg, 1.0)),
                Told::Volume => addition.volume_m3 = Some(round(volume_m3, 0.01)),
                Told::Barrows => addition.barrows = Some(round(volume_m3 / 0.085, 0.25)),
            }
            let mut event = Event::at(Moment::Date(day));
            event.addition = Some(addition);
            history.events.push(event);
        }
        if waters {
            let dry_kg = mix.kg_m3 * loose_m3 * brought * (1.0 - mix.moisture);
            let litres = dry_kg * (WATERED / (1.0 - WATERED) - mix.moisture / (1.0 - mix.moisture));
            let mut event = Event::at(Moment::Date(day));
            event.watering = Some(Watering { litres: round(litres, 5.0) });
            history.events.push(event);
        }
    }
    day
}

/// To the nearest multiple of `unit`, at least one.
fn round(value: f64, unit: f64) -> f64 {
    (value / unit).round().max(1.0) * unit
}
