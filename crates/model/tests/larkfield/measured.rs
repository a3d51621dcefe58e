//! What is measured of a heap that differs from the middle of all heaps.

use baycast_model::draw::Draw;
use baycast_model::history::{Event, History, Level, Reading, Zone};
use baycast_model::moment::{Moment, days_to_date};
use baycast_model::rosenbrock::Tolerance;
use baycast_model::timeline::Timeline;
use baycast_model::variant::Variant;
use jiff::civil::Date;

/// Days between two readings, and between two sightings of the level.
const READ_EVERY_DAYS: f64 = 3.0;
const SEEN_EVERY_DAYS: f64 = 14.0;

/// The history with what the core's temperature and the level were until a day if its heap lay at `draw`; each reading is
/// half a degree off, one up, the next down.
pub fn measured(mut history: History, draw: &Draw, until: Date) -> History {
    let timeline = Timeline::new(&history, until).expect("a sound history");
    let heap = Variant::new(draw, &timeline);
    let course = heap.agenda.run(&heap.parameters, Tolerance::default(), timeline.as_of).expect("a course");
    let at = |day: f64| Event::at(Moment::Date(days_to_date(day)));
    let mut day = timeline.start.floor() + 10.5;
    let mut off_c = 0.5;
    while let Some(core_c) = course.temperature_c(Zone::Core, day).filter(|_| day < timeline.as_of) {
        let reading =
            Reading { temperature_c: Some(core_c + off_c), zone: Some(Zone::Core), ..Reading::default() };
        history.events.push(Event { reading: Some(reading), ..at(day) });
        (day, off_c) = (day + READ_EVERY_DAYS, -off_c);
    }
    let mut day = timeline.start.floor() + 10.5;
    while let Some(seen) = course.at(day).filter(|_| day < timeline.as_of) {
        let fill_fraction = seen.heap.volume_m3() / timeline.agenda.bays[seen.bay].capacity_m3();
        history.events.push(Event { level: Some(Level { fill_fraction }), ..at(day) });
        day += SEEN_EVERY_DAYS;
    }
    history
}
