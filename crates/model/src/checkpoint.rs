//! What an estimate worked out and the next one of the same batch need not work out again.
//!
//! A course is a chain of stretches, each a pure outcome of what it was entered with. A run that finds an earlier
//! stretch in the same place, entered alike to the last digit, takes it over; whatever was appended, corrected or taken
//! back, the answer is the one that a run from the start gives. A reading changes no course; a change leaves what was
//! before it; an addition mostly leaves nothing, since it changes the error of all amounts together, by which members
//! differ from the first day on.

use std::sync::Arc;

use crate::agenda::Agenda;
use crate::course::{Course, Merged};
use crate::draw::Draw;
use crate::ensemble::Basis;
use crate::observation::Observations;
use crate::prior::Prior;
use crate::stretch::{Entry, Stretch};
use crate::timeline::Timeline;

/// How far past a stretch's end the integrator may ask for the weather, days.
const BEYOND_DAYS: f64 = 1e-4;

/// The courses behind an estimate, with what they were worked out from.
#[derive(Clone, Debug)]
pub struct Checkpoint {
    agenda: Agenda,
    amount_error: f64,
    basis: Basis,
    courses: Vec<(Draw, Course)>,
}

impl Checkpoint {
    pub(crate) fn new(timeline: Timeline, basis: Basis, courses: Vec<(Draw, Course)>) -> Self {
        Self { agenda: timeline.agenda, amount_error: timeline.amount_error, basis, courses }
    }

    /// Bytes that it takes, those included that it shares with the checkpoint it was made from.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let courses: usize = self.courses.iter().map(|(_, course)| size_of::<Draw>() + course.bytes()).sum();
        size_of::<Self>() + self.agenda.bytes() + self.basis.by.bytes() + courses
    }

    /// The course at a draw.
    pub(crate) fn course(&self, draw: &Draw) -> Option<&Course> {
        self.courses.iter().find(|(own, _)| own == draw).map(|(_, course)| course)
    }

    /// Where members were placed, if it was by the same observations of what is the same up to the last of them.
    pub(crate) fn basis(&self, timeline: &Timeline, prior: &Prior, by: &Observations) -> Option<&Basis> {
        let until = by.last_day()? + BEYOND_DAYS;
        let same = self.basis.by == *by
            && self.basis.prior == *prior
            && self.amount_error.total_cmp(&timeline.amount_error).is_eq()
            && self.agenda.same_until(&timeline.agenda, until);
        same.then_some(&self.basis)
    }

    /// What `timeline` has in common with the one that this was made from.
    pub(crate) fn alike(&self, timeline: &Timeline) -> Alike {
        let (then, now) = (&self.agenda, &timeline.agenda);
        // Members' amounts, and with them what they merge in, differ by the error of all amounts together.
        let same_amounts = self.amount_error.total_cmp(&timeline.amount_error).is_eq();
        let sources = then.sources.iter().zip(&now.sources);
        Alike {
            bays: then.bays.iter().zip(&now.bays).take_while(|(then, now)| then == now).count(),
            weather_until: then.weather.alike_until(&now.weather),
            sources_until: sources
                .take_while(|_| same_amounts)
                .map(|(then, now)| then.alike_until(now))
                .collect(),
        }
    }
}

/// What two plans have in common beside what their stretches are entered with.
#[derive(Clone, Debug)]
pub(crate) struct Alike {
    /// Bays that are the same, from the first on.
    bays: usize,
    /// Day up to which the weather is the same.
    weather_until: f64,
    /// Day up to which each source is the same.
    sources_until: Vec<f64>,
}

impl Alike {
    /// A agenda and itself.
    pub(crate) fn itself(agenda: &Agenda) -> Self {
        Self {
            bays: agenda.bays.len(),
            weather_until: f64::INFINITY,
            sources_until: vec![f64::INFINITY; agenda.sources.len()],
        }
    }
}

/// An earlier course, and what its agenda has in common with the one that is run.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Earlier<'a> {
    pub(crate) course: &'a Course,
    pub(crate) alike: &'a Alike,
}

impl<'a> Earlier<'a> {
    /// The stretch in the same place, if it was entered alike.
    pub(crate) fn stretch(&self, place: usize, entry: &Entry) -> Option<&'a Arc<Stretch>> {
        let stretch = &self.course.stretches.get(place)?.stretch;
        let same = entry.bay < self.alike.bays
            && entry.to + BEYOND_DAYS <= self.alike.weather_until
            && stretch.entry == *entry;
        same.then_some(stretch)
    }

    /// What a source brought on `day`, if it was merged in then and is what it was.
    pub(crate) fn merged(&self, source: usize, day: f64) -> Option<&'a Merged> {
        let same = day + BEYOND_DAYS <= *self.alike.sources_until.get(source)?;
        let merged = self.course.merged.iter().find(|merged| merged.source == source)?;
        (same && merged.day.total_cmp(&day).is_eq()).then_some(merged)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimator::estimate_from;
    use crate::history::History;

    /// A bay filled once, read a few times and asked about four months later.
    fn history(events: &str, as_of: &str) -> History {
        // Fifty-one readings: one more leaves members where they were placed.
        let reading = |day: u32| {
            let date = jiff::civil::date(2026, 5, 10).saturating_add(jiff::Span::new().days(day));
            format!(r#"{{"at":"{date}","reading":{{"temperature_c":{}}}}}"#, 55.0 - 0.5 * f64::from(day))
        };
        let readings = (0..51).map(reading).collect::<Vec<_>>().join(",");
        let text = format!(
            r#"{{"batch":"b","as_of":"{as_of}","site":{{"latitude_deg":52}},"bay":{{"id":"1","length_m":1.5,
            "width_m":1.6,"height_m":1.2,"wall":{{"construction":"block"}}}},"events":[
            {{"at":"2026-05-01","addition":{{"feedstock":"grass_mowings","mass_kg":300}}}},
            {{"at":"2026-05-01","addition":{{"feedstock":"shredded_prunings","mass_kg":300}}}},
            {readings}{events}]}}"#
        );
        serde_json::from_str(&text).expect("a history")
    }

    /// Courses, their stretches, and how many of those are taken over when `events` are added and the day is `as_of`.
    fn taken_over(events: &str, as_of: &str) -> (usize, usize, usize) {
        let run = |history: &History, kept: Option<&Checkpoint>| {
            estimate_from(history, jiff::civil::date(2026, 9, 1), kept).expect("an estimate").1
        };
        let before = run(&history("", "2026-09-01"), None);
        let after = run(&history(events, as_of), Some(&before));
        let courses = before.courses.iter().zip(&after.courses);
        let shared = courses.flat_map(|(before, after)| {
            let stretches = before.1.stretches.iter().zip(&after.1.stretches);
            stretches.filter(|(before, after)| Arc::ptr_eq(&before.stretch, &after.stretch))
        });
        let stretches = after.courses.iter().map(|(_, course)| course.stretches.len());
        (after.courses.len(), stretches.sum(), shared.count())
    }

    #[test]
    fn a_reading_leaves_nothing_to_work_out_again() {
        let reading = r#",{"at":"2026-09-01","reading":{"temperature_c":31}}"#;
        let (_, stretches, shared) = taken_over(reading, "2026-09-01");
        assert_eq!(shared, stretches);
    }

    #[test]
    fn a_day_later_the_last_stretch_alone_is_worked_out_again() {
        let (courses, stretches, shared) = taken_over("", "2026-09-02");
        assert_eq!(stretches - shared, courses);
    }

    #[test]
    fn a_turn_leaves_what_was_before_it() {
        let turn = r#",{"at":"2026-09-01","turn":{}}"#;
        let (courses, stretches, shared) = taken_over(turn, "2026-09-01");
        // Corners stand in mid-month: four lie between the first of May and the first of September.
        assert_eq!(shared, 4 * courses);
        assert!(stretches > 3 * shared, "{stretches} stretches");
    }

    #[test]
    fn weather_that_becomes_known_leaves_what_was_before_it() {
        let day = |date: &str| serde_json::from_str(&format!(r#"{{"date":"{date}","mean_air_c":15}}"#));
        let weather = |dates: &[&str]| {
            let mut site = history("", "2026-09-01").site;
            site.daily = dates.iter().map(|date| day(date).expect("a day")).collect();
            crate::weather::Weather::new(&site)
        };
        let noon = |date: jiff::civil::Date| crate::moment::date_to_days(date) + 0.5;
        let known = weather(&["2026-06-01", "2026-06-02"]);
        let more = weather(&["2026-06-01", "2026-06-02", "2026-06-03"]);
        assert_eq!(known.alike_until(&more), noon(jiff::civil::date(2026, 6, 2)));
        let apart = weather(&["2026-06-01", "2026-06-02", "2026-07-01"]);
        assert_eq!(known.alike_until(&apart), noon(jiff::civil::date(2026, 7, 1)) - 0.5);
        assert_eq!(known.alike_until(&weather(&[])), noon(jiff::civil::date(2026, 6, 1)) - 0.5);
        assert_eq!(known.alike_until(&known), f64::INFINITY);
    }
}
