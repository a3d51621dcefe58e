//! What is brought in, line by line: out of a sheet, NDJSON, or a JSON list.

use baycast_model::history::Event;
use baycast_model::problem::{Problem, Problems};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use crate::error::{Error, Quantity};
use crate::limits::Limits;
use crate::parse;
use crate::pointer::escaped;
use crate::records::bring_in::BringInFormat;
use crate::records::sheet_names::Known;
use crate::records::{refusal, values};
use crate::sheet::{OwnIds, Places, Row, Sheet};

/// An event and the batch that it is of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BatchEvent {
    /// The batch's id.
    pub batch: String,
    /// What happened.
    pub event: Event,
}

/// A JSON list of events.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct List<T> {
    events: Vec<T>,
}

/// One event that is brought in, or why it is not.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The line that it stands on, from 1; in a JSON list, its place in it.
    pub number: u64,
    /// Its batch's id; as it was given where there is none such, empty where it cannot be told.
    pub batch: String,
    /// The event, or what is wrong with it.
    pub event: Result<Event, Vec<Problem>>,
    /// Where its values stood in a sheet.
    places: Option<Places>,
    /// What a pointer to it begins with.
    list: &'static str,
}

impl Line {
    /// An event of a list, from 0, or the error that it is none.
    fn of(list: &'static str, number: u64, found: Result<BatchEvent, Error>) -> Self {
        let (batch, event) = match found {
            Ok(BatchEvent { batch, event }) => (batch, Ok(event)),
            Err(error) => (String::new(), Err(error.fields())),
        };
        Self { number, batch, event, places: None, list }.checked()
    }

    /// The same with an event out of range refused.
    fn checked(mut self) -> Self {
        if let Ok(event) = &self.event
            && let Err(error) =
                values::out_of_range(|h| h.events = vec![event.clone()], "/events/0", "/event")
        {
            self.refuse(&error);
        }
        self
    }

    /// Notes that the event is not taken.
    pub fn refuse(&mut self, error: &Error) {
        let fields = refusal::fields(error);
        let told = match &self.places {
            None => fields,
            Some(places) => fields
                .iter()
                .map(|problem| match problem.pointer.strip_prefix("/event") {
                    Some(below) => places.told(below, problem),
                    None => problem.clone(),
                })
                .collect(),
        };
        self.event = Err(told);
    }

    /// Adds what is wrong with it to the problems of the whole.
    pub fn note(&self, problems: &mut Problems) {
        let Err(faults) = &self.event else { return };
        // A list counts from 0, lines from 1.
        let place = if self.list == "events" { self.number - 1 } else { self.number };
        for Problem { pointer, value, accepted } in faults {
            let below = match pointer.as_str() {
                "" => String::new(),
                pointer if self.places.is_none() && pointer.starts_with('/') => pointer.to_owned(),
                column => format!("/{}", escaped(column)),
            };
            problems.add(format!("/{}/{place}{below}", self.list), value, accepted.clone());
        }
    }
}

/// A text as a sheet whose header is read, where its format is one.
pub fn sheet(text: &[u8], format: BringInFormat) -> Result<Option<Sheet<'_>>, Error> {
    let delimiter = match format {
        BringInFormat::Csv => None,
        BringInFormat::Tsv => Some(b'\t'),
        BringInFormat::Json | BringInFormat::Ndjson => return Ok(None),
    };
    Sheet::open(text, delimiter).map(Some).map_err(|Problems(problems)| {
        let at_header = |problem: Problem| Problem { pointer: "/lines/1".to_owned(), ..problem };
        Error::Invalid(Problems(problems.into_iter().map(at_header).collect()))
    })
}

/// The lines of a text, or why it is not read at all.
pub fn lines(
    text: &[u8],
    format: BringInFormat,
    known: Option<&Known>,
    limits: &Limits,
) -> Result<Vec<Line>, Error> {
    let lines = match (sheet(text, format)?, known) {
        (Some(sheet), Some(known)) => rows(&sheet, known, limits),
        (Some(_), None) => return Err(Error::Internal),
        (None, _) if format == BringInFormat::Json => json(text)?,
        (None, _) => ndjson(text, limits),
    };
    at_most(lines, limits)
}

/// The lines of events that are read already.
pub fn events(events: Vec<BatchEvent>, limits: &Limits) -> Result<Vec<Line>, Error> {
    let lines = (1..).zip(events).map(|(number, event)| Line::of("events", number, Ok(event)));
    at_most(lines.collect(), limits)
}

/// Refuses more events than are taken at once.
fn at_most(lines: Vec<Line>, limits: &Limits) -> Result<Vec<Line>, Error> {
    let (given, limit) = (lines.len(), limits.max_bring_in_events);
    if given <= limit {
        return Ok(lines);
    }
    // Reading stops shortly after the limit, so the number is not that of all.
    Err(Error::TooLarge { what: Quantity::EventsAtOnce, limit: limit as u64, given: None })
}

/// The events of one JSON document.
fn json(text: &[u8]) -> Result<Vec<Line>, Error> {
    let text = text.strip_prefix(parse::BYTE_ORDER_MARK).unwrap_or(text);
    let Ok(list) = serde_json::from_slice::<List<&RawValue>>(text) else {
        // Read again for what is wrong with it.
        parse::json::<List<serde::de::IgnoredAny>>(text)?;
        return Err(Error::Internal);
    };
    let elements = (1..).zip(list.events);
    let line = |(number, element): (u64, &RawValue)| {
        Line::of("events", number, parse::json(element.get().as_bytes()))
    };
    Ok(elements.map(line).collect())
}

/// The events of lines of JSON; blank lines are passed over.
fn ndjson(text: &[u8], limits: &Limits) -> Vec<Line> {
    let text = text.strip_prefix(parse::BYTE_ORDER_MARK).unwrap_or(text);
    let lines = (1..).zip(text.split(|byte| *byte == b'\n'));
    let filled = lines.filter(|(_, line)| !line.trim_ascii().is_empty()).take(limits.max_bring_in_events + 1);
    filled.map(|(number, line)| Line::of("lines", number, parse::json(line))).collect()
}

/// The events of a sheet; a row may have several.
fn rows(sheet: &Sheet<'_>, known: &Known, limits: &Limits) -> Vec<Line> {
    let mut ids = OwnIds::default();
    let mut lines = Vec::new();
    for row in sheet.rows(known.grammar()) {
        take(row, known, &mut ids, &mut lines);
        if lines.len() > limits.max_bring_in_events {
            break;
        }
    }
    lines
}

/// Adds the events of one row.
fn take(row: Row, known: &Known, ids: &mut OwnIds, lines: &mut Vec<Line>) {
    let Row { line: number, batch, bay, events } = row;
    let day = events.as_ref().ok().and_then(|events| Some(events.first()?.event.at.date()));
    let found = known.batch(batch.as_ref(), bay.as_ref(), day);
    let given = batch.or(bay).map(|name| name.text).unwrap_or_default();
    let line = |batch, event, places| Line { number, batch, event, places: Some(places), list: "lines" };
    match (found, events) {
        (Ok(Some(batch)), Ok(events)) => {
            for mut noted in events {
                ids.give(batch, &mut noted.event);
                lines.push(line(batch.to_owned(), Ok(noted.event), noted.places).checked());
            }
        }
        (found, events) => {
            let mut faults = found.err().map(|fault| vec![fault]).unwrap_or_default();
            faults.extend(events.err().unwrap_or_default());
            lines.push(line(given, Err(faults), Places::default()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &str = r#"{"batch":"heap","event":{"at":"2026-04-09","turn":{}}}"#;

    #[test]
    fn more_than_are_taken_at_once_are_refused_as_a_whole() {
        let limits = Limits { max_bring_in_events: 2, ..Limits::default() };
        let read = |count: usize, format| {
            let text = match format {
                BringInFormat::Json => format!("{{\"events\":[{}]}}", vec![LINE; count].join(",")),
                _ => vec![LINE; count].join("\n"),
            };
            lines(text.as_bytes(), format, None, &limits)
        };
        for format in [BringInFormat::Json, BringInFormat::Ndjson] {
            assert_eq!(read(2, format).map(|lines| lines.len()), Ok(2));
            let refused = read(5, format).unwrap_err();
            let expected = Error::TooLarge { what: Quantity::EventsAtOnce, limit: 2, given: None };
            assert_eq!(refused, expected);
            assert!(refused.to_string().contains("at most 2 are taken"), "{refused}");
        }
    }

    #[test]
    fn a_fault_is_told_by_its_line_in_the_whole() {
        let text = format!("\u{feff}{LINE}\n\n{}\n", LINE.replace("turn", "stir"));
        let lines = lines(text.as_bytes(), BringInFormat::Ndjson, None, &Limits::default()).unwrap();
        assert_eq!(lines.iter().map(|line| line.number).collect::<Vec<_>>(), [1, 3]);
        let mut problems = Problems::default();
        for line in &lines {
            line.note(&mut problems);
        }
        assert_eq!(problems.0[0].pointer, "/lines/3/event/stir");
    }
}
