//! What an earlier estimate leaves behind saves work and changes no answer.

mod larkfield;

use baycast_model::bay::Construction;
use baycast_model::estimate::Estimate;
use baycast_model::history::{
    Addition, Cover, CoverState, Event, Firming, History, Level, Merge, MoistureNote, Move, Placement,
    Reading, Squeeze, Turn, Watering, Withdrawal, Zone,
};
use baycast_model::moment::{Moment, date_to_days, days_to_date};
use baycast_model::site::DailyWeather;
use baycast_model::{Checkpoint, EstimateError, estimate, estimate_from};
use jiff::civil::{Date, date};
use larkfield::{cardboard_pallet, filled_over, plastic_bin, timber_bay};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const TODAY: Date = date(2026, 7, 1);

/// Something that happens to a history between two estimates.
#[derive(Clone, Debug)]
enum Happening {
    /// An event, so many days before the day of the estimate.
    Event(f64, Detail),
    /// An event of the list takes place on another day, or never took place.
    Moved(prop::sample::Index, f64),
    Retracted(prop::sample::Index),
    /// Days go by.
    Later(i32),
    Horizon(u32),
    /// Weather becomes known for so many more days.
    Weather(usize, f64),
    /// Another batch is merged in, so many days before the day of the estimate.
    Merged(f64, u32, Placement),
    /// What is known of merged batches changes.
    OtherCorrected(f64),
    /// The bay, or the one beside it, turns out to have other walls, and its length with them.
    Rebuilt(bool, Construction, f64),
    /// A month of the site's normals is corrected.
    Normal(usize, f64),
}

#[derive(Clone, Debug)]
enum Detail {
    Reading(f64, Zone),
    Addition(f64),
    Mark(f64),
    Unknown,
    Measured(f64),
    Squeezed,
    Level(f64),
    Turn,
    Moved(bool),
    Cover(CoverState),
    Water(f64),
    Firm,
    Withdrawn(Option<f64>),
}

fn detail() -> impl Strategy<Value = Detail> {
    prop_oneof![
        4 => (5.0..75.0, prop_oneof![Just(Zone::Core), Just(Zone::Edge)]).prop_map(|(c, z)| Detail::Reading(c, z)),
        1 => (5.0..200.0).prop_map(Detail::Addition),
        1 => (0.2..0.9).prop_map(Detail::Mark),
        1 => Just(Detail::Unknown),
        1 => (35.0..75.0).prop_map(Detail::Measured),
        1 => Just(Detail::Squeezed),
        1 => (0.01..1.5).prop_map(Detail::Level),
        2 => Just(Detail::Turn),
        1 => any::<bool>().prop_map(Detail::Moved),
        1 => prop_oneof![Just(CoverState::On), Just(CoverState::Off)].prop_map(Detail::Cover),
        1 => (0.0..200.0).prop_map(Detail::Water),
        1 => Just(Detail::Firm),
        1 => prop::option::weighted(0.8, 0.01..0.3).prop_map(Detail::Withdrawn),
    ]
}

fn happening() -> impl Strategy<Value = Happening> {
    let construction = prop::sample::select(vec![Construction::Block, Construction::StrawBale]);
    let back = prop_oneof![2 => 0.0..2.0, 1 => 0.0..50.0, 1 => Just(3.5)];
    prop_oneof![
        8 => (back.clone(), detail()).prop_map(|(back, detail)| Happening::Event(back, detail)),
        1 => (any::<prop::sample::Index>(), back.clone()).prop_map(|(i, back)| Happening::Moved(i, back)),
        1 => any::<prop::sample::Index>().prop_map(Happening::Retracted),
        4 => (1..4).prop_map(Happening::Later),
        1 => (30..120_u32).prop_map(Happening::Horizon),
        1 => (1..20_usize, -3.0..25.0).prop_map(|(days, c)| Happening::Weather(days, c)),
        1 => (back, 1..3_u32, prop_oneof![Just(Placement::Mixed), Just(Placement::OnTop)])
            .prop_map(|(back, weeks, placement)| Happening::Merged(back, weeks, placement)),
        1 => (0.8..1.2).prop_map(Happening::OtherCorrected),
        2 => (any::<bool>(), construction, prop_oneof![Just(1.0), 0.8..1.3])
            .prop_map(|(other, wall, length_m)| Happening::Rebuilt(other, wall, length_m)),
        1 => (0..12_usize, 1.0..19.0).prop_map(|(month, c)| Happening::Normal(month, c)),
    ]
}

/// The moment `back` days before the end of the day of the estimate, to the millisecond.
fn moment(history: &History, back: f64) -> Moment {
    let day = date_to_days(history.as_of.map_or(TODAY, Moment::date)) + 0.9 - back;
    let milliseconds = (day * 86_400_000.0) as i64;
    Moment::Instant(jiff::Timestamp::from_millisecond(milliseconds).unwrap())
}

fn event(at: Moment, detail: &Detail) -> Event {
    let mut event = Event::at(at);
    let addition = |own: Addition| Some(Addition { feedstock: "grass_mowings".into(), ..own });
    match *detail {
        Detail::Reading(celsius, zone) => {
            event.reading =
                Some(Reading { temperature_c: Some(celsius), zone: Some(zone), ..Reading::default() });
        }
        Detail::Addition(kg) => {
            event.addition = addition(Addition { mass_kg: Some(kg), ..Addition::default() });
        }
        Detail::Mark(fraction) => {
            event.addition = addition(Addition { filled_to_fraction: Some(fraction), ..Addition::default() });
        }
        Detail::Unknown => event.addition = addition(Addition::default()),
        Detail::Measured(percent) => {
            event.moisture = Some(MoistureNote { percent: Some(percent), squeeze: None });
        }
        Detail::Squeezed => {
            event.moisture = Some(MoistureNote { percent: None, squeeze: Some(Squeeze::Crumbles) });
        }
        Detail::Level(fill_fraction) => event.level = Some(Level { fill_fraction }),
        Detail::Turn => event.turn = Some(Turn::default()),
        Detail::Moved(back) => {
            event.moved = Some(Move { to_bay: if back { "pallet" } else { "plastic" }.into() });
        }
        Detail::Cover(state) => event.cover = Some(Cover { state }),
        Detail::Water(litres) => event.watering = Some(Watering { litres }),
        Detail::Firm => event.firming = Some(Firming::default()),
        Detail::Withdrawn(volume_m3) => event.withdrawal = Some(Withdrawal { volume_m3 }),
    }
    event
}

/// Lets something happen to `history`.
fn happen(history: &mut History, happening: &Happening, number: usize) {
    match happening {
        Happening::Event(back, detail) => {
            let event = event(moment(history, *back), detail);
            history.events.push(event);
        }
        Happening::Moved(index, back) => {
            let at = moment(history, *back);
            let place = index.index(history.events.len());
            history.events[place].at = at;
        }
        Happening::Retracted(index) => {
            let place = index.index(history.events.len());
            history.events.remove(place);
        }
        Happening::Later(days) => {
            let date = history.as_of.map_or(TODAY, Moment::date);
            let later = days_to_date(date_to_days(date) + f64::from(*days));
            history.as_of = Some(Moment::Date(later));
        }
        Happening::Horizon(days) => history.horizon_days = Some(*days),
        Happening::Weather(days, celsius) => {
            let known = history.site.daily.last().map_or(date(2026, 5, 10), |day| day.date);
            for ahead in 1..=*days {
                history.site.daily.push(DailyWeather {
                    date: days_to_date(date_to_days(known) + ahead as f64),
                    mean_air_c: celsius + ahead as f64 / 10.0,
                    rain_mm: (ahead % 3 == 0).then_some(4.0),
                });
            }
        }
        Happening::Merged(back, weeks, placement) => {
            let mut other = filled_over(timber_bay(), "2026-04-05", *weeks, 300.0);
            other.batch = format!("other {number}");
            let mut event = Event::at(moment(history, *back));
            event.merge = Some(Merge { source: other.batch.clone(), placement: *placement });
            history.sources.push(other);
            history.events.push(event);
        }
        Happening::OtherCorrected(factor) => {
            for event in history.sources.iter_mut().flat_map(|other| &mut other.events) {
                if let Some(Addition { mass_kg: Some(mass_kg), .. }) = &mut event.addition {
                    *mass_kg *= factor;
                }
            }
        }
        Happening::Rebuilt(other, wall, length_m) => {
            let bay = if *other { &mut history.other_bays[0] } else { &mut history.bay };
            bay.wall.construction = *wall;
            bay.length_m = *length_m;
        }
        Happening::Normal(month, celsius) => {
            if let Some(normals) = &mut history.site.normals {
                normals.mean_air_c[*month] = *celsius;
            }
        }
    }
}

fn season() -> History {
    let mut history = filled_over(cardboard_pallet(), "2026-05-01", 3, 500.0);
    history.other_bays.push(plastic_bin());
    history.as_of = Some(Moment::Date(date(2026, 6, 10)));
    history.horizon_days = Some(60);
    history
}

/// The estimate as it is sent, or why there is none.
fn told(estimate: Result<Estimate, EstimateError>) -> Result<String, String> {
    let estimate = estimate.map_err(|error| format!("{error:?}"))?;
    Ok(serde_json::to_string(&estimate).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 32,
        rng_seed: RngSeed::Fixed(20_260_610),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn an_answer_does_not_depend_on_what_was_kept(
        happenings in prop::collection::vec(happening(), 4..16)
    ) {
        let mut history = season();
        let mut kept: Option<Checkpoint> = None;
        let mut answered = 0;
        for (number, happening) in happenings.iter().enumerate() {
            let before = history.clone();
            happen(&mut history, happening, number);
            let again = estimate_from(&history, TODAY, kept.as_ref());
            let (again, checkpoint) = match again {
                Ok((again, checkpoint)) => (Ok(again), Some(checkpoint)),
                Err(error) => (Err(error), None),
            };
            let same = told(again) == told(estimate(&history, TODAY));
            prop_assert!(same, "another answer after {happening:?}");
            // What can't be is taken back, as a service refuses it.
            if checkpoint.is_some() {
                kept = checkpoint;
                answered += 1;
            } else {
                history = before;
            }
        }
        prop_assert!(2 * answered >= happenings.len(), "only {answered} of {}", happenings.len());
    }
}

#[test]
fn the_checkpoint_of_another_batch_does_no_harm() {
    let mut other = filled_over(timber_bay(), "2026-03-01", 4, 900.0);
    other.as_of = Some(Moment::Date(date(2026, 6, 10)));
    let (_, kept) = estimate_from(&other, TODAY, None).unwrap();
    let (again, _) = estimate_from(&season(), TODAY, Some(&kept)).unwrap();
    assert_eq!(again, estimate(&season(), TODAY).unwrap());
}
