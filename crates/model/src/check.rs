//! What a history may hold: every value outside its range is noted, all of them at once.

use std::collections::HashSet;

use jiff::civil::Date;

use crate::bay::Bay;
use crate::feedstock::Feedstock;
use crate::history::{Addition, Event, History, Reading};
use crate::lesson::{FACTORS, KEPT, Lesson};
use crate::moment::{ACCEPTED_DAYS, Moment};
use crate::problem::Problems;
use crate::site::Site;
use crate::window::Criteria;

/// Longest name taken.
const NAME_LENGTH: usize = 128;
/// Most days that `ready_by` names.
pub const READY_BY_DATES: usize = 24;
/// How deep `sources` may nest.
pub const SOURCE_DEPTH: usize = 4;

/// Notes every value of `history` that lies outside its range; `at` is the pointer it stands under.
pub fn check(history: &History, at: &str, depth: usize, problems: &mut Problems) {
    name(&history.batch, format!("{at}/batch"), problems);
    if let Some(as_of) = history.as_of {
        moment(as_of, format!("{at}/as_of"), problems);
    }
    site(&history.site, at, problems);
    bay(&history.bay, &format!("{at}/bay"), problems);
    let mut bays = HashSet::from([history.bay.id.as_str()]);
    for (index, other) in history.other_bays.iter().enumerate() {
        bay(other, &format!("{at}/other_bays/{index}"), problems);
        if !bays.insert(&other.id) {
            problems.add(format!("{at}/other_bays/{index}/id"), quoted(&other.id), "an id used once");
        }
    }
    let mut ids = HashSet::new();
    for (index, own) in history.feedstocks.iter().enumerate() {
        feedstock(own, &format!("{at}/feedstocks/{index}"), problems);
        if !ids.insert(own.id.as_str()) {
            problems.add(format!("{at}/feedstocks/{index}/id"), quoted(&own.id), "an id used once");
        }
    }
    problems.range_if(format!("{at}/barrow_m3"), history.barrow_m3, 0.01, 0.5);
    problems.range_if(format!("{at}/horizon_days"), history.horizon_days.map(f64::from), 1.0, 730.0);
    problems.range_if(
        format!("{at}/forecast_step_days"),
        history.forecast_step_days.map(f64::from),
        1.0,
        90.0,
    );
    ready_by(&history.ready_by, &format!("{at}/ready_by"), problems);
    if let Some(own) = &history.lesson {
        lesson(own, &format!("{at}/lesson"), problems);
    }
    let mut uses = HashSet::new();
    for (index, own) in history.criteria.iter().enumerate() {
        criteria(own, &format!("{at}/criteria/{index}"), problems);
        if !uses.insert(own.for_use as u8) {
            problems.add(
                format!("{at}/criteria/{index}/use"),
                format!("{:?}", own.for_use),
                "a use given once",
            );
        }
    }
    let mut ids = HashSet::new();
    for (index, own) in history.events.iter().enumerate() {
        event(own, &format!("{at}/events/{index}"), problems);
        if let Some(id) = own.id.as_deref()
            && !ids.insert(id)
        {
            problems.add(format!("{at}/events/{index}/id"), quoted(id), "an id used once");
        }
    }
    if depth >= SOURCE_DEPTH && !history.sources.is_empty() {
        problems.add(
            format!("{at}/sources"),
            format!("{} batches", history.sources.len()),
            format!("sources nested at most {SOURCE_DEPTH} deep"),
        );
        return;
    }
    let mut batches = HashSet::from([history.batch.as_str()]);
    for (index, source) in history.sources.iter().enumerate() {
        check(source, &format!("{at}/sources/{index}"), depth + 1, problems);
        if !batches.insert(&source.batch) {
            problems.add(format!("{at}/sources/{index}/batch"), quoted(&source.batch), "a name used once");
        }
    }
}

/// Text as it stands in JSON.
pub fn quoted(text: &str) -> String {
    let shown: String = text.chars().take(64).collect();
    format!("{shown:?}")
}

pub(crate) fn name(text: &str, pointer: String, problems: &mut Problems) {
    if text.is_empty() || text.chars().count() > NAME_LENGTH {
        problems.add(pointer, quoted(text), format!("1 to {NAME_LENGTH} characters"));
    }
}

fn moment(moment: Moment, pointer: String, problems: &mut Problems) {
    if !ACCEPTED_DAYS.contains(&moment.days()) {
        problems.add(pointer, quoted(&moment.to_string()), "1900-01-01 to 2199-12-31");
    }
}

/// The days asked about; whether they lie within the batch's time shows only when its events are in order.
fn ready_by(dates: &[Date], at: &str, problems: &mut Problems) {
    if dates.len() > READY_BY_DATES {
        problems.add(at, format!("{} dates", dates.len()), format!("at most {READY_BY_DATES} dates"));
        return;
    }
    let mut asked = HashSet::new();
    for (index, date) in dates.iter().enumerate() {
        if !asked.insert(date) {
            problems.add(format!("{at}/{index}"), quoted(&date.to_string()), "a date given once");
        }
    }
}

pub(crate) fn site(site: &Site, at: &str, problems: &mut Problems) {
    let at = format!("{at}/site");
    problems.range(format!("{at}/latitude_deg"), site.latitude_deg, -66.0, 66.0);
    if let Some(normals) = &site.normals {
        for (field, values, low, high) in
            [("mean_air_c", &normals.mean_air_c, -40.0, 45.0), ("rain_mm", &normals.rain_mm, 0.0, 2000.0)]
        {
            if values.len() != 12 {
                problems.add(
                    format!("{at}/normals/{field}"),
                    format!("{} values", values.len()),
                    "12 values",
                );
            }
            for (month, value) in values.iter().enumerate() {
                problems.range(format!("{at}/normals/{field}/{month}"), *value, low, high);
            }
        }
    }
    let mut dates = HashSet::new();
    for (index, day) in site.daily.iter().enumerate() {
        moment(Moment::Date(day.date), format!("{at}/daily/{index}/date"), problems);
        problems.range(format!("{at}/daily/{index}/mean_air_c"), day.mean_air_c, -50.0, 50.0);
        problems.range_if(format!("{at}/daily/{index}/rain_mm"), day.rain_mm, 0.0, 500.0);
        if !dates.insert(day.date) {
            problems.add(
                format!("{at}/daily/{index}/date"),
                quoted(&day.date.to_string()),
                "a date given once",
            );
        }
    }
}

pub(crate) fn bay(bay: &Bay, at: &str, problems: &mut Problems) {
    name(&bay.id, format!("{at}/id"), problems);
    problems.range(format!("{at}/length_m"), bay.length_m, 0.3, 20.0);
    problems.range(format!("{at}/width_m"), bay.width_m, 0.3, 20.0);
    problems.range(format!("{at}/height_m"), bay.height_m, 0.3, 4.0);
    if bay.wall.layers.len() > 8 {
        problems.add(
            format!("{at}/wall/layers"),
            format!("{} layers", bay.wall.layers.len()),
            "at most 8 layers",
        );
    }
    for (index, layer) in bay.wall.layers.iter().enumerate() {
        let at = format!("{at}/wall/layers/{index}");
        problems.range(format!("{at}/thickness_m"), layer.thickness_m, 0.0005, 1.0);
        problems.range(format!("{at}/conductivity_w_m_k"), layer.conductivity_w_m_k, 0.01, 5.0);
    }
}

pub(crate) fn feedstock(own: &Feedstock, at: &str, problems: &mut Problems) {
    name(&own.id, format!("{at}/id"), problems);
    problems.range(format!("{at}/moisture_fraction"), own.moisture_fraction, 0.0, 0.98);
    problems.range(format!("{at}/nitrogen_fraction"), own.nitrogen_fraction, 0.0001, 0.2);
    problems.range(format!("{at}/c_to_n"), own.c_to_n, 1.0, 2000.0);
    problems.range(format!("{at}/ash_fraction"), own.ash_fraction, 0.0, 0.99);
    problems.range(format!("{at}/bulk_density_kg_m3"), own.bulk_density_kg_m3, 10.0, 2000.0);
    problems.range(format!("{at}/fast_fraction"), own.fast_fraction, 0.0, 1.0);
    problems.range(format!("{at}/slow_fraction"), own.slow_fraction, 0.0, 1.0);
    // What goes together is told of values that could each be right.
    let fractions = [own.fast_fraction, own.slow_fraction].iter().all(|own| (0.0..=1.0).contains(own));
    if fractions && own.fast_fraction + own.slow_fraction > 1.0 + 1e-12 {
        problems.add(
            format!("{at}/slow_fraction"),
            own.slow_fraction,
            format!("0 to {}, with fast_fraction at most 1", 1.0 - own.fast_fraction),
        );
    }
    let ranges = (0.0001..=0.2).contains(&own.nitrogen_fraction) && (0.0..=0.99).contains(&own.ash_fraction);
    let most = 0.75 * (1.0 - own.ash_fraction);
    if ranges && own.nitrogen_fraction * own.c_to_n > most {
        let holds = "more is more carbon than organic matter holds";
        let most_c_to_n = most / own.nitrogen_fraction;
        if most_c_to_n >= 1.0 {
            let accepted = format!("1 to {most_c_to_n:.1}: with this nitrogen and ash {holds}");
            problems.add(format!("{at}/c_to_n"), own.c_to_n, accepted);
        } else {
            let accepted = format!("0.0001 to {most}: with this ash {holds}, whatever its C:N");
            problems.add(format!("{at}/nitrogen_fraction"), own.nitrogen_fraction, accepted);
        }
    }
}

pub(crate) fn criteria(own: &Criteria, at: &str, problems: &mut Problems) {
    problems.range(format!("{at}/min_maturity_index"), own.min_maturity_index, 0.0, 1.0);
    problems.range(
        format!("{at}/max_respiration_mg_co2c_g_vs_day"),
        own.max_respiration_mg_co2c_g_vs_day,
        0.0,
        100.0,
    );
    problems.range(format!("{at}/max_above_air_c"), own.max_above_air_c, 0.0, 60.0);
    problems.range(format!("{at}/max_c_to_n"), own.max_c_to_n, 5.0, 100.0);
    problems.range(format!("{at}/min_moisture_fraction"), own.min_moisture_fraction, 0.0, 1.0);
    problems.range(format!("{at}/max_moisture_fraction"), own.max_moisture_fraction, 0.0, 1.0);
    let (least, most) = (own.min_moisture_fraction, own.max_moisture_fraction);
    if [least, most].iter().all(|own| (0.0..=1.0).contains(own)) && least > most {
        let accepted = format!("min_moisture_fraction, {least}, to 1");
        problems.add(format!("{at}/max_moisture_fraction"), most, accepted);
    }
    problems.range(format!("{at}/max_shrinkage_fraction"), own.max_shrinkage_fraction, 0.01, 0.9);
}

fn event(event: &Event, at: &str, problems: &mut Problems) {
    moment(event.at, format!("{at}/at"), problems);
    if let Some(id) = &event.id {
        name(id, format!("{at}/id"), problems);
    }
    let details = event.details();
    if details.len() != 1 {
        let given = if details.is_empty() { "none".to_owned() } else { details.join(" and ") };
        problems.add(at, given, format!("exactly one of {}", Event::DETAILS.join(", ")));
    }
    if let Some(own) = &event.addition {
        addition(own, &format!("{at}/addition"), problems);
    }
    if let Some(own) = &event.reading {
        reading(own, &format!("{at}/reading"), problems);
    }
    if let Some(own) = &event.moisture {
        let at = format!("{at}/moisture");
        problems.range_if(format!("{at}/percent"), own.percent, 5.0, 95.0);
        if own.percent.is_some() == own.squeeze.is_some() {
            problems.add(
                at,
                if own.percent.is_some() { "both" } else { "neither" },
                "one of percent and squeeze",
            );
        }
    }
    if let Some(own) = &event.level {
        problems.range(format!("{at}/level/fill_fraction"), own.fill_fraction, 0.01, 1.5);
    }
    if let Some(own) = &event.watering {
        problems.range(format!("{at}/watering/litres"), own.litres, 0.0, 20_000.0);
    }
    if let Some(own) = &event.withdrawal {
        problems.range_if(format!("{at}/withdrawal/volume_m3"), own.volume_m3, 0.0, 1000.0);
    }
}

fn addition(own: &Addition, at: &str, problems: &mut Problems) {
    problems.range_if(format!("{at}/mass_kg"), own.mass_kg, 0.0, 50_000.0);
    problems.range_if(format!("{at}/volume_m3"), own.volume_m3, 0.0, 100.0);
    problems.range_if(format!("{at}/barrows"), own.barrows, 0.0, 1000.0);
    problems.range_if(format!("{at}/filled_to_fraction"), own.filled_to_fraction, 0.0, 1.2);
    problems.range_if(format!("{at}/moisture_fraction"), own.moisture_fraction, 0.0, 0.98);
    problems.range_if(format!("{at}/temperature_c"), own.temperature_c, -10.0, 80.0);
    let amounts = [
        ("mass_kg", own.mass_kg),
        ("volume_m3", own.volume_m3),
        ("barrows", own.barrows),
        ("filled_to_fraction", own.filled_to_fraction),
    ];
    let given: Vec<_> =
        amounts.iter().filter(|(_, value)| value.is_some()).map(|(field, _)| *field).collect();
    if given.len() > 1 {
        problems.add(
            at,
            given.join(" and "),
            "at most one of mass_kg, volume_m3, barrows, filled_to_fraction",
        );
    }
}

fn reading(own: &Reading, at: &str, problems: &mut Problems) {
    problems.range_if(format!("{at}/temperature_c"), own.temperature_c, -20.0, 95.0);
    problems.range_if(format!("{at}/temperature_f"), own.temperature_f, -4.0, 203.0);
    problems.range_if(format!("{at}/depth_m"), own.depth_m, 0.0, 4.0);
    problems.range_if(format!("{at}/ambient_c"), own.ambient_c, -40.0, 55.0);
    if own.temperature_c.is_some() == own.temperature_f.is_some() {
        problems.add(
            at,
            if own.temperature_c.is_some() { "both" } else { "neither" },
            "one of temperature_c and temperature_f",
        );
    }
}

fn lesson(lesson: &Lesson, at: &str, problems: &mut Problems) {
    for (index, batch) in lesson.batches.iter().enumerate() {
        name(batch, format!("{at}/batches/{index}"), problems);
    }
    let mut known = Vec::new();
    for (index, belief) in lesson.beliefs.iter().enumerate() {
        let at = format!("{at}/beliefs/{index}");
        if known.contains(&belief.unknown) || !KEPT.iter().any(|(unknown, ..)| *unknown == belief.unknown) {
            let accepted = "kinetics, heat_loss or slow_part, each once";
            problems.add(format!("{at}/unknown"), format!("{:?}", belief.unknown), accepted);
        }
        known.push(belief.unknown);
        problems.range(format!("{at}/factor"), belief.factor, *FACTORS.start(), *FACTORS.end());
        problems.range(format!("{at}/log_deviation"), belief.log_deviation, 0.01, 1.0);
    }
}
