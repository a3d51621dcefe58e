//! One parameter set against what growers report of bays of three sizes. Common practice, no source, unless said.

mod larkfield;

use baycast_model::advice::Subject;
use baycast_model::course::{Course, Snapshot};
use baycast_model::history::{History, Turn};
use baycast_model::parameters::Parameters;
use baycast_model::rosenbrock::Tolerance;
use baycast_model::timeline::Timeline;
use larkfield::{cardboard_pallet, filled_over, plastic_bin, timber_bay, with_event};

struct Run {
    start: f64,
    course: Course,
}

impl Run {
    fn of(history: &History) -> Self {
        let timeline = Timeline::new(history, jiff::civil::date(2026, 12, 31)).unwrap();
        let course =
            timeline.agenda.run(&Parameters::default(), Tolerance::default(), timeline.until).unwrap();
        Self { start: timeline.start, course }
    }

    fn on(&self, day: f64) -> Snapshot {
        self.course.at(self.start + day).unwrap()
    }

    fn core_c(&self, from: f64, to: f64) -> Vec<f64> {
        let quarter_days = ((to - from) * 4.0) as u32;
        (1..=quarter_days).map(|i| self.on(from + f64::from(i) / 4.0).heap.core.temperature_c).collect()
    }
}

fn highest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

fn put_in_kg(run: &Run) -> f64 {
    run.course.totals.flows.dry_in_kg + run.course.totals.flows.water_in_kg
}

#[test]
fn a_thin_plastic_bin_in_spring_stays_under_50_and_mostly_under_40() {
    let run = Run::of(&filled_over(plastic_bin(), "2026-04-01", 7, 300.0));
    let core = run.core_c(0.0, 120.0);
    assert!(highest(&core) <= 50.0, "peak {:.1}", highest(&core));
    let warm = core.iter().filter(|celsius| **celsius > 40.0).count() as f64 / core.len() as f64;
    assert!(warm < 0.5, "{warm:.2} of the time over 40 °C");
    // It stays wetter than the larger bays, and 0.6 m³ damp is up to about half a tonne.
    let moisture = run.on(120.0).heap.moisture_fraction();
    assert!((0.65..0.78).contains(&moisture), "moisture {moisture:.2}");
    let mut history = filled_over(plastic_bin(), "2026-04-01", 7, 300.0);
    history.as_of = Some("2026-07-30".parse().unwrap());
    let estimate = baycast_model::estimate(&history, jiff::civil::date(2026, 7, 30)).unwrap();
    assert!(estimate.advice.iter().any(|advice| advice.subject == Subject::TooWet), "{:?}", estimate.advice);
    let full_kg = run.on(120.0).heap.mass_kg() / run.on(120.0).heap.volume_m3() * 0.6;
    assert!((350.0..=520.0).contains(&full_kg), "0.6 m³ is {full_kg:.0} kg");
}

#[test]
fn a_lined_pallet_bay_is_over_60_while_filled_near_50_after_and_about_40_at_three_months() {
    let run = Run::of(&pallet_season());
    let peak = highest(&run.core_c(0.0, 49.0));
    assert!(peak > 60.0, "peak {peak:.1}");
    let after = run.on(49.0 + 10.0).heap.core.temperature_c;
    assert!((46.0..55.0).contains(&after), "ten days after {after:.1}");
    let later = run.on(91.0).heap.core.temperature_c;
    assert!((36.0..44.0).contains(&later), "three months {later:.1}");
}

#[test]
fn a_roofed_timber_bay_reaches_about_70_with_summer_filling() {
    let run = Run::of(&filled_over(timber_bay(), "2026-06-10", 5, 2183.0));
    let peak = highest(&run.core_c(0.0, 49.0));
    assert!((67.0..73.0).contains(&peak), "peak {peak:.1}");
}

#[test]
fn the_larger_bays_are_moist_and_halved_in_mass_at_four_months() {
    for (name, history) in
        [("pallet", pallet_season()), ("timber", filled_over(timber_bay(), "2026-06-10", 5, 2183.0))]
    {
        let run = Run::of(&history);
        let heap = run.on(120.0).heap;
        let moisture = heap.moisture_fraction();
        assert!((0.45..=0.65).contains(&moisture), "{name}: moisture {moisture:.3}");
        let left = heap.mass_kg() / put_in_kg(&run);
        assert!((0.40..0.60).contains(&left), "{name}: {left:.2} of the mass left");
        // Volume falls 40-60 % from full (from memory: Breitenbeck & Schellinger 2004, Compost Sci. Util. 12:365-371).
        let full = if name == "pallet" { 49.0 } else { 35.0 };
        let sunk = 1.0 - heap.volume_m3() / run.on(full).heap.volume_m3();
        assert!((0.35..0.65).contains(&sunk), "{name}: sunk by {sunk:.2}");
        // Dry mass lost: goat manure heaps 40.6-56.2 % (Eng. Agric. 27, 2007, SciELO S0100-69162007000400020, abstract
        // read), 30-50 % as the usual range (from memory).
        let lost = run.course.totals_until(run.start + 120.0).flows.dry_degraded_kg
            / run.course.totals.flows.dry_in_kg;
        assert!((0.30..0.57).contains(&lost), "{name}: {lost:.2} of the dry mass lost");
    }
}

#[test]
fn bays_hold_what_growers_say_they_hold() {
    let pallets = 3.0 * cardboard_pallet().capacity_m3();
    assert!((pallets / timber_bay().capacity_m3() - 1.0).abs() < 0.15);
    // Two pallet bays turned into one make well over a tonne.
    let run = Run::of(&pallet_season());
    let two_kg = 2.0 * run.on(60.0).heap.mass_kg();
    assert!(two_kg > 1100.0, "{two_kg:.0} kg");
}

#[test]
fn filled_and_once_turned_it_is_usable_at_about_three_months_in_the_growing_season() {
    let history = with_event(pallet_season(), "2026-06-30", |event| event.turn = Some(Turn::default()));
    let estimate = baycast_model::estimate(&history, jiff::civil::date(2026, 8, 1)).unwrap();
    let start = jiff::civil::date(2026, 5, 1);
    let opens = estimate.windows[1].opens.p50.unwrap();
    let days = (opens - start).get_days();
    assert!((70..=120).contains(&days), "bed dressing after {days} days");
}

/// Filled over seven weeks from 1 May, then covered.
fn pallet_season() -> History {
    with_event(filled_over(cardboard_pallet(), "2026-05-01", 7, 913.0), "2026-06-19", |event| {
        event.cover = Some(baycast_model::history::Cover { state: baycast_model::history::CoverState::On });
    })
}
