//! What is brought in, and what became of it.

use baycast_model::problem::Problems;
use baycast_service::Error;
use baycast_service::pointer::Pointer;
use baycast_service::records::{BatchEvent, BringIn, BringInFormat, BringInInput, BroughtIn, BroughtInEvent};
use baycast_service::sheet::{SheetDates, SheetUnits};

use super::event::event;
use super::history::list;
use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(SheetDates, proto::SheetDates { Iso DayFirst });
word!(SheetUnits, proto::SheetUnits { Celsius Fahrenheit });

/// What a caller brings in and how, or everything in it that cannot be read. The words are mode, dates and units.
pub fn bring_in(
    events: Vec<proto::BatchEvent>,
    sheet: String,
    (mode, dates, units): (i32, i32, i32),
    dry_run: bool,
) -> Result<(BringInInput, BringIn), Error> {
    if !events.is_empty() && !sheet.is_empty() {
        let mut problems = Problems::default();
        problems.add("/sheet", "a sheet beside events", "one of the two");
        return Err(Error::Invalid(problems));
    }
    let mut incoming = Incoming::default();
    let how = BringIn {
        mode: incoming.optional_word(mode, Pointer::Root.member("mode")).unwrap_or_default(),
        dry_run,
        dates: incoming.optional_word(dates, Pointer::Root.member("dates")).unwrap_or_default(),
        units: incoming.optional_word(units, Pointer::Root.member("units")).unwrap_or_default(),
    };
    let events = list(events, Pointer::Root.member("events"), &mut incoming, batch_event);
    incoming.finish().map_err(Error::Invalid)?;
    let input = if sheet.is_empty() {
        BringInInput::Events(events.into_iter().flatten().collect())
    } else {
        BringInInput::Text(BringInFormat::Csv, sheet.into())
    };
    Ok((input, how))
}

/// An event of a batch, as far as it can be read.
fn batch_event(message: proto::BatchEvent, at: Pointer<'_>, incoming: &mut Incoming) -> Option<BatchEvent> {
    let proto::BatchEvent { batch, event: own } = message;
    let own = incoming.message(own, at.member("event"))?;
    Some(BatchEvent { batch, event: event(own, at.member("event"), incoming) })
}

impl From<BroughtIn> for proto::BringInEventsResponse {
    fn from(own: BroughtIn) -> Self {
        let BroughtIn { items, added, replaced, unchanged, refused } = own;
        let items = items.into_iter().map(Into::into).collect();
        Self { items, added, replaced, unchanged, refused }
    }
}

impl From<BroughtInEvent> for proto::BroughtInEvent {
    fn from(own: BroughtInEvent) -> Self {
        let BroughtInEvent { line, batch, id, external_id, outcome, errors } = own;
        let outcome = proto::AppendOutcome::from(outcome).into();
        Self { line, batch, id, external_id, outcome, errors: errors.into_iter().map(Into::into).collect() }
    }
}
