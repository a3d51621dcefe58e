//! A bay in section, as it stands on the ground: walls, the heap to its level, and a thermometer beside it.

use std::fmt::Write;

use baycast_model::bay::{Bay, Construction, Top};
use baycast_model::estimate::{HeapNow, Stage};

use super::Short;
use crate::words;

/// Width and height of the drawing.
const SIZE: (f64, f64) = (200.0, 148.0);
/// Where the ground is.
const GROUND: f64 = 130.0;
/// Room for the bay: from the left edge, and above the ground.
const ROOM: (f64, f64) = (124.0, 96.0);
/// The thermometer: its left edge, its width, and its ends in °C.
const TUBE_X: f64 = 172.0;
const TUBE_WIDTH: f64 = 12.0;
const SCALE_C: (f64, f64) = (0.0, 80.0);
/// Its height.
const TUBE_HEIGHT: f64 = 112.0;
/// The mark on it: from here on heat counts against weeds and pathogens, °C.
const MARK_C: f64 = 55.0;
/// How far a heap bulges at its middle.
const BULGE: f64 = 5.0;

/// Metres to units of the drawing, the same for all bays of a yard.
#[derive(Clone, Copy, Debug)]
pub struct Scale(f64);

impl Scale {
    /// The scale at which the widest and the highest of the bays have room.
    pub fn of<'a>(bays: impl Iterator<Item = &'a Bay>) -> Self {
        let (width_m, height_m) = bays.fold((1.0_f64, 1.0_f64), |(width, height), bay| {
            (width.max(bay.width_m), height.max(bay.height_m))
        });
        Self((ROOM.0 / width_m).min(ROOM.1 / height_m))
    }
}

/// The bay with what stands in it.
pub fn drawing(bay: &Bay, heap: Option<(Stage, &HeapNow)>, Scale(scale): Scale) -> String {
    let (width, height) = (bay.width_m * scale, bay.height_m * scale);
    let left = 10.0 + (ROOM.0 - width) / 2.0;
    let top = GROUND - height;
    let mut out = String::with_capacity(1000);
    let told = heap.map_or_else(
        || words::FREE.to_owned(),
        |(stage, now)| words::drawn(words::stage(stage), now.fill_fraction * 100.0, now.core_c.p50),
    );
    let (across, down) = SIZE;
    let _ =
        write!(out, r#"<svg class="section" viewBox="0 0 {across} {down}" role="img" aria-label="{told}">"#);
    if let Some((stage, now)) = heap {
        let level = GROUND - height * now.fill_fraction.clamp(0.02, 1.3);
        let (right, middle) = (left + width, left + width / 2.0);
        let _ = write!(
            out,
            r#"<path class="heap" fill="url(#{})" d="M{} {GROUND}V{}Q{} {} {} {}V{GROUND}z"/>"#,
            texture(stage),
            Short(left),
            Short(level),
            Short(middle),
            Short(level - 2.0 * BULGE),
            Short(right),
            Short(level),
        );
    }
    walls(&mut out, bay, (left, top, width, height));
    let _ = write!(out, r#"<path class="ground" d="M0 {GROUND}H{across}"/>"#);
    let _ = write!(
        out,
        r#"<rect class="earth" fill="url(#earth)" y="{GROUND}" width="{across}" height="{}"/>"#,
        down - GROUND
    );
    if let Some((_, now)) = heap {
        thermometer(&mut out, now);
    }
    out.push_str("</svg>");
    out
}

/// The pattern that a stage is drawn with.
pub fn texture(stage: Stage) -> &'static str {
    match stage {
        Stage::Emptied | Stage::Filling => "filling",
        Stage::Hot => "hot",
        Stage::Curing => "curing",
        Stage::Stalled => "stalled",
        Stage::Ready => "ready",
    }
}

/// Sides and top, as they are built.
fn walls(out: &mut String, bay: &Bay, (left, top, width, height): (f64, f64, f64, f64)) {
    let (built, thick) = match bay.wall.construction {
        Construction::ThinPlastic => ("plastic", 3.0),
        Construction::SlattedTimber => ("slats", 6.0),
        Construction::TimberBoards | Construction::CardboardLined => ("boards", 6.0),
        Construction::StrawBale => ("bales", 10.0),
        Construction::Block => ("blocks", 8.0),
        Construction::OpenHeap => ("open", 0.0),
    };
    if thick > 0.0 {
        let half = thick / 2.0;
        let _ = write!(
            out,
            r#"<path class="wall {built}" stroke-width="{thick}" d="M{} {}V{}M{} {}V{}"/>"#,
            Short(left - half),
            Short(top),
            Short(top + height),
            Short(left + width + half),
            Short(top),
            Short(top + height),
        );
    }
    let edge = thick + 2.0;
    match bay.top {
        Top::Open => {}
        Top::Roofed => {
            let _ = write!(
                out,
                r#"<path class="roof" d="M{} {}L{} {}"/>"#,
                Short(left - edge - 4.0),
                Short(top - 12.0),
                Short(left + width + edge + 4.0),
                Short(top - 21.0),
            );
        }
        Top::Lidded => {
            let _ = write!(
                out,
                r#"<path class="lid" d="M{} {y}H{}"/>"#,
                Short(left - edge),
                Short(left + width + edge),
                y = Short(top - 3.0),
            );
        }
    }
}

/// The column to the core's temperature, its range beside it, and the mark at 55 °C.
fn thermometer(out: &mut String, now: &HeapNow) {
    let height =
        |celsius: f64| TUBE_HEIGHT * ((celsius - SCALE_C.0) / (SCALE_C.1 - SCALE_C.0)).clamp(0.0, 1.0);
    let at = |celsius: f64| Short(GROUND - height(celsius));
    let (right, core) = (TUBE_X + TUBE_WIDTH, now.core_c);
    let _ = write!(
        out,
        r#"<rect class="tube" x="{TUBE_X}" y="{}" width="{TUBE_WIDTH}" height="{TUBE_HEIGHT}"/><rect class="heat" x="{TUBE_X}" y="{}" width="{TUBE_WIDTH}" height="{}"/>"#,
        GROUND - TUBE_HEIGHT,
        at(core.p50),
        Short(height(core.p50)),
    );
    let _ = write!(
        out,
        r#"<path class="range" d="M{from} {high}h8M{middle} {high}V{low}M{from} {low}h8"/><path class="mark" d="M{} {mark}h20"/>"#,
        TUBE_X - 4.0,
        from = right + 3.0,
        middle = right + 7.0,
        high = at(core.p90),
        low = at(core.p10),
        mark = at(MARK_C),
    );
}

#[cfg(test)]
mod tests {
    use baycast_model::estimate::Spread;

    use super::*;

    fn bay(top: Top) -> Bay {
        let wall = baycast_model::bay::Wall { construction: Construction::Block, layers: Vec::new() };
        Bay {
            id: "1".to_owned(),
            length_m: 1.0,
            width_m: 2.0,
            height_m: 1.0,
            wall,
            base: baycast_model::bay::Base::default(),
            top,
        }
    }

    fn now(fill_fraction: f64, core_c: f64) -> HeapNow {
        let spread = |p50: f64| Spread { p10: p50 - 5.0, p50, p90: p50 + 5.0 };
        HeapNow {
            core_c: spread(core_c),
            edge_c: spread(30.0),
            air_c: 10.0,
            volume_m3: spread(1.0),
            fill_fraction,
            mass_kg: 400.0,
            dry_mass_kg: 200.0,
            moisture_fraction: Spread { p10: 0.5, p50: 0.55, p90: 0.6 },
            free_air_space_fraction: 0.4,
            c_to_n: 20.0,
            nitrogen_kg: 4.0,
        }
    }

    #[test]
    fn a_heap_stands_to_its_level_and_the_column_to_its_temperature() {
        let bay = bay(Top::Roofed);
        let scale = Scale::of([&bay].into_iter());
        let drawn = drawing(&bay, Some((Stage::Hot, &now(0.5, 40.0))), scale);
        // 2 m across has 124 units, so 1 m stands 62 high, and half of it 31 over the ground at 130.
        assert!(drawn.contains("M10 130V99Q"), "{drawn}");
        assert!(drawn.contains(r#"y="74" width="12" height="56""#), "40 of 80 °C is half of 112: {drawn}");
        assert!(drawn.contains("url(#hot)") && drawn.contains(r#"class="roof""#), "{drawn}");
        assert!(drawn.contains("50 % full") && drawn.contains("40 °C"), "told in words too: {drawn}");
    }

    #[test]
    fn an_empty_bay_has_neither_heap_nor_thermometer() {
        let bay = bay(Top::Lidded);
        let drawn = drawing(&bay, None, Scale::of([&bay].into_iter()));
        assert!(!drawn.contains("heap") && !drawn.contains("tube"), "{drawn}");
        assert!(drawn.contains(words::FREE) && drawn.contains(r#"class="lid""#), "{drawn}");
    }

    #[test]
    fn what_is_heaped_over_the_walls_or_past_the_scale_stays_in_the_drawing() {
        let bay = bay(Top::Open);
        let drawn = drawing(&bay, Some((Stage::Ready, &now(9.0, 120.0))), Scale::of([&bay].into_iter()));
        assert!(
            drawn.contains(r#"height="112"/><rect class="heat" x="172" y="18" width="12" height="112""#),
            "{drawn}"
        );
    }
}
