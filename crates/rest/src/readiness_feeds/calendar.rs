//! The calendar: an all-day event for each window and for each turn that is advised (RFC 5545).
//!
//! A window's event lasts from the middle of its opening days to the middle of its best-by days. Where the best-by day lies
//! beyond the horizon the event is the opening day alone, so that it doesn't hide a year under one bar; a window that opens
//! beyond the horizon has none. Days are the farm's own, without a time: they are the same days wherever they are read.

use baycast_service::readiness::{BatchReadiness, Readiness};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use super::content_line::ContentLines;
use super::identity::uuid;
use super::sentences;

/// How often a calendar should look again.
const LOOK_AGAIN: &str = "PT1H";

/// One all-day event.
struct Event<'a> {
    uid: String,
    sequence: u32,
    changed_at: Timestamp,
    first: Date,
    last: Date,
    summary: String,
    description: String,
    bay: &'a str,
}

/// The whole calendar.
pub fn calendar(farm: &Readiness) -> Vec<u8> {
    let mut lines = ContentLines::default();
    let name = if farm.name.is_empty() { &farm.farm } else { &farm.name };
    let title = format!("{name}: compost");
    lines.put("BEGIN", "VCALENDAR");
    lines.put("VERSION", "2.0");
    lines.put("PRODID", "-//baycast//readiness//EN");
    lines.put("CALSCALE", "GREGORIAN");
    lines.put("METHOD", "PUBLISH");
    // RFC 7986 sections 5.1 and 5.7, and what was used before it.
    lines.text("NAME", &title);
    lines.text("X-WR-CALNAME", &title);
    lines.text("X-WR-TIMEZONE", &farm.time_zone);
    lines.put("REFRESH-INTERVAL;VALUE=DURATION", LOOK_AGAIN);
    lines.put("X-PUBLISHED-TTL", LOOK_AGAIN);
    for batch in &farm.batches {
        for event in windows(farm, batch).chain(turn(farm, batch)) {
            event.put(&mut lines);
        }
    }
    lines.put("END", "VCALENDAR");
    lines.finish()
}

/// The events of a batch's windows.
fn windows<'a>(farm: &Readiness, batch: &'a BatchReadiness) -> impl Iterator<Item = Event<'a>> {
    let farm = farm.farm.clone();
    batch.windows.iter().filter_map(move |window| {
        let first = window.opens.p50?;
        let for_use = super::columns::word(&window.for_use);
        Some(Event {
            uid: uuid("window", &[&farm, &batch.batch, &for_use]),
            sequence: window.sequence,
            changed_at: batch.changed_at,
            first,
            last: window.best_by.p50.unwrap_or(first).max(first),
            summary: format!("{}: {}", sentences::called(batch), sentences::purpose(window.for_use)),
            description: described(&sentences::window(window)),
            bay: &batch.bay,
        })
    })
}

/// The event of the turn that is advised.
fn turn<'a>(farm: &Readiness, batch: &'a BatchReadiness) -> Option<Event<'a>> {
    let turn = batch.turn.as_ref()?;
    Some(Event {
        uid: uuid("turn", &[&farm.farm, &batch.batch, &turn.since.to_string()]),
        sequence: turn.sequence,
        changed_at: batch.changed_at,
        first: turn.by,
        last: turn.by,
        summary: format!("{}: turn", sentences::called(batch)),
        description: described(&sentences::turn(turn)),
        bay: &batch.bay,
    })
}

/// A sentence and what to bear in mind with it.
fn described(sentence: &str) -> String {
    let cautions: Vec<&str> = sentences::cautions().collect();
    format!("{sentence}\n\n{}", cautions.join("\n"))
}

impl Event<'_> {
    fn put(&self, lines: &mut ContentLines) {
        let day = |day: Date| day.strftime("%Y%m%d").to_string();
        let instant = self.changed_at.strftime("%Y%m%dT%H%M%SZ").to_string();
        lines.put("BEGIN", "VEVENT");
        lines.put("UID", &self.uid);
        lines.put("DTSTAMP", &instant);
        lines.put("LAST-MODIFIED", &instant);
        lines.put("SEQUENCE", &self.sequence.to_string());
        lines.put("DTSTART;VALUE=DATE", &day(self.first));
        // The day after the last one: an end is exclusive (section 3.6.1).
        lines.put("DTEND;VALUE=DATE", &day(self.last.saturating_add(1.day())));
        lines.text("SUMMARY", &self.summary);
        lines.text("DESCRIPTION", &self.description);
        lines.text("LOCATION", self.bay);
        lines.put("STATUS", "TENTATIVE");
        lines.put("TRANSP", "TRANSPARENT");
        lines.put("END", "VEVENT");
    }
}
