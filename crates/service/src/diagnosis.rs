//! Everything that is wrong with a text that is not a history.
//!
//! Reading into types stops at the first fault. So each fault is noted and mended with a value of the right
//! type, and the part is read again until nothing is wrong; the mended tree is then thrown away. Elements of
//! the long lists are read one by one, so that a fault in one costs no second reading of the others.

use baycast_model::bay::Bay;
use baycast_model::check::check;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::{Event, History};
use baycast_model::problem::{Problem, Problems};
use baycast_model::window::Criteria;
use serde::de::DeserializeOwned;
use serde_json::Value;
use serde_path_to_error::{Path, Segment};

use crate::error::Error;
use crate::pointer::escaped;
use crate::tree::{Fault, Kind, Node};

/// Most problems told at once.
pub const MAX_PROBLEMS: usize = 100;

/// Deepest place told of a text that is not JSON.
const MAX_POINTER_DEPTH: usize = 16;

/// Longest value quoted in a problem, bytes.
const MAX_QUOTED_BYTES: usize = 80;

/// Why `text`, which could not be read as a history, is none.
#[must_use]
pub fn of(text: &[u8]) -> Error {
    let tree = match tree(text) {
        Ok(tree) => tree,
        Err(malformed) => return malformed,
    };
    let mut found = Found(Vec::new());
    let mended = found.in_history(tree, "");
    if found.0.is_empty() {
        return repeated_member::<History>(text);
    }
    found.out_of_range(mended);
    Error::Invalid(Problems(found.0))
}

/// Why `text`, which could not be read as a `T`, is none.
#[must_use]
pub fn of_type<T: DeserializeOwned>(text: &[u8]) -> Error {
    let tree = match tree(text) {
        Ok(tree) => tree,
        Err(malformed) => return malformed,
    };
    let mut found = Found(Vec::new());
    found.in_part::<T>(tree, "");
    if found.0.is_empty() { repeated_member::<T>(text) } else { Error::Invalid(Problems(found.0)) }
}

/// The text as a tree, or where it stops being JSON.
fn tree(text: &[u8]) -> Result<Value, Error> {
    let mut json = serde_json::Deserializer::from_slice(text);
    let tree = serde_path_to_error::deserialize(&mut json).map_err(|error| Error::Malformed {
        pointer: pointer(error.path()),
        detail: error.inner().to_string(),
    })?;
    json.end().map_err(|error| Error::Malformed { pointer: String::new(), detail: error.to_string() })?;
    Ok(tree)
}

/// What a tree cannot show: a member given twice in one object.
fn repeated_member<T: DeserializeOwned>(text: &[u8]) -> Error {
    let mut json = serde_json::Deserializer::from_slice(text);
    let read: Result<T, _> = serde_path_to_error::deserialize(&mut json);
    match read {
        Ok(_) => Error::Internal,
        Err(error) => Error::Malformed { pointer: pointer(error.path()), detail: error.inner().to_string() },
    }
}

/// The place reached, as a JSON Pointer; deeper than any field lies, no more is told.
fn pointer(path: &Path) -> String {
    path.iter().take(MAX_POINTER_DEPTH).fold(String::new(), |pointer, segment| match segment {
        Segment::Seq { index } => format!("{pointer}/{index}"),
        Segment::Map { key } => format!("{pointer}/{}", escaped(key)),
        Segment::Enum { variant } => format!("{pointer}/{}", escaped(variant)),
        Segment::Unknown => pointer,
    })
}

/// The problems found so far.
struct Found(Vec<Problem>);

impl Found {
    /// Looks through a history: its long lists element by element, then the rest of it. Hands it back mended.
    fn in_history(&mut self, mut history: Value, at: &str) -> Value {
        let mut lists = vec![
            ("other_bays", self.in_list::<Bay>(&mut history, at, "other_bays")),
            ("feedstocks", self.in_list::<Feedstock>(&mut history, at, "feedstocks")),
            ("events", self.in_list::<Event>(&mut history, at, "events")),
            ("criteria", self.in_list::<Criteria>(&mut history, at, "criteria")),
        ];
        if let Some(Value::Array(sources)) = history.get_mut("sources") {
            let sources = std::mem::take(sources).into_iter().enumerate();
            let mended =
                sources.map(|(index, source)| self.in_history(source, &format!("{at}/sources/{index}")));
            lists.push(("sources", mended.collect()));
        }
        let mut mended = self.in_part::<History>(history, at);
        for (name, elements) in lists {
            if let Some(Value::Array(list)) = mended.get_mut(name) {
                *list = elements;
            }
        }
        mended
    }

    /// Looks through each element of a list, leaves the list empty and hands the elements back mended.
    fn in_list<T: DeserializeOwned>(&mut self, history: &mut Value, at: &str, name: &str) -> Vec<Value> {
        let Some(Value::Array(elements)) = history.get_mut(name) else { return Vec::new() };
        let elements = std::mem::take(elements).into_iter().enumerate();
        elements.map(|(index, element)| self.in_part::<T>(element, &format!("{at}/{name}/{index}"))).collect()
    }

    /// Notes and mends until the part can be read.
    fn in_part<T: DeserializeOwned>(&mut self, mut part: Value, at: &str) -> Value {
        let mut mended: Vec<String> = Vec::new();
        while self.0.len() < MAX_PROBLEMS && mended.len() < 2 * MAX_PROBLEMS {
            let Err(fault) = T::deserialize(Node::top(&part)) else { break };
            let place = place(&fault);
            if !mended.iter().any(|earlier| within(&place, earlier)) {
                let value = part.pointer(&place).map_or_else(|| "nothing".to_owned(), quoted);
                self.0.push(Problem {
                    pointer: format!("{at}{place}"),
                    value,
                    accepted: accepted(&fault.kind),
                });
            }
            mend(&mut part, &place, &fault.kind);
            mended.push(place);
        }
        part
    }

    /// Adds the values that could be read and lie outside their range; of what was mended, nothing more is said.
    fn out_of_range(&mut self, mended: Value) {
        let Ok(history) = serde_json::from_value::<History>(mended) else { return };
        let mut problems = Problems::default();
        check(&history, "", 0, &mut problems);
        let told: Vec<String> = self.0.iter().map(|problem| problem.pointer.clone()).collect();
        let concerns = |problem: &Problem| {
            told.iter().any(|told| within(&problem.pointer, told) || within(told, &problem.pointer))
        };
        let room = MAX_PROBLEMS.saturating_sub(told.len());
        self.0.extend(problems.0.into_iter().filter(|problem| !concerns(problem)).take(room));
    }
}

/// Whether `place` is `other` or lies below it.
fn within(place: &str, other: &str) -> bool {
    place.strip_prefix(other).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// The member or value that is at fault.
fn place(fault: &Fault) -> String {
    let pointer = fault.pointer.as_deref().unwrap_or_default();
    match &fault.kind {
        Kind::Missing(name) => format!("{pointer}/{}", escaped(name)),
        Kind::UnknownMember(name, _) => format!("{pointer}/{}", escaped(name)),
        Kind::NotAWord(_) | Kind::NotAnObject(_) | Kind::NotA(_) | Kind::Unreadable(_) => pointer.to_owned(),
    }
}

/// Puts something readable in the place of a fault, or takes away what is not known.
fn mend(part: &mut Value, place: &str, kind: &Kind) {
    let replacement = match kind {
        Kind::UnknownMember(name, _) => {
            let parent = place.rsplit_once('/').map_or("", |(parent, _)| parent);
            if let Some(Value::Object(members)) = part.pointer_mut(parent) {
                members.remove(name);
            }
            return;
        }
        // Read again, a null tells what was wanted.
        Kind::Missing(name) => {
            let parent = place.rsplit_once('/').map_or("", |(parent, _)| parent);
            if let Some(Value::Object(members)) = part.pointer_mut(parent) {
                members.insert((*name).to_owned(), Value::Null);
            }
            return;
        }
        Kind::NotAWord(words) => Value::from(words.first().copied().unwrap_or_default()),
        Kind::NotAnObject(_) => Value::Object(serde_json::Map::new()),
        Kind::NotA(wanted) if wanted == "a string" => Value::from(""),
        Kind::NotA(wanted) if wanted == "a sequence" => Value::Array(Vec::new()),
        Kind::NotA(_) => Value::from(0),
        // Dates and times are the only texts that can be unreadable.
        Kind::Unreadable(_) => Value::from("2000-01-01"),
    };
    if let Some(value) = part.pointer_mut(place) {
        *value = replacement;
    }
}

/// What would be taken, in words.
fn accepted(kind: &Kind) -> String {
    match kind {
        Kind::Missing(_) => "a value: this member is required".to_owned(),
        Kind::UnknownMember(_, []) => "no member here".to_owned(),
        Kind::UnknownMember(_, members) => format!("only the members {}", members.join(", ")),
        Kind::NotAWord(words) => format!("one of {}", words.join(", ")),
        Kind::NotAnObject([]) => "an empty object".to_owned(),
        Kind::NotAnObject(members) => format!("an object with the members {}", members.join(", ")),
        Kind::NotA(wanted) => match wanted.as_str() {
            "f64" => "a number".to_owned(),
            "u32" => "a whole number, 0 or more".to_owned(),
            "a sequence" => "an array".to_owned(),
            wanted => wanted.to_owned(),
        },
        Kind::Unreadable(why) => match why.split_once(" is neither ") {
            Some((_, forms)) => forms.replace(" nor ", " or "),
            None => "a date like 2026-04-30".to_owned(),
        },
    }
}

/// A value as JSON, cut short where it is long.
fn quoted(value: &Value) -> String {
    match value {
        Value::Array(elements) if !elements.is_empty() => format!("an array of {}", elements.len()),
        Value::Object(members) if !members.is_empty() => format!("an object of {}", members.len()),
        value => {
            let mut text = value.to_string();
            if text.len() > MAX_QUOTED_BYTES {
                text.truncate(text.floor_char_boundary(MAX_QUOTED_BYTES));
                text.push('…');
            }
            text
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pointer, value and accepted form of every problem in `text`.
    fn problems(text: &str) -> Vec<(String, String, String)> {
        match of(text.as_bytes()) {
            Error::Invalid(Problems(found)) => {
                found.into_iter().map(|p| (p.pointer, p.value, p.accepted)).collect()
            }
            other => panic!("{other}"),
        }
    }

    /// A history that is right but for what is put at the end of it.
    fn with(rest: &str) -> String {
        format!(
            r#"{{"batch":"b","site":{{"latitude_deg":52}},"bay":{{"id":"1","length_m":1,"width_m":1,"height_m":1,
            "wall":{{"construction":"block"}}}},{rest}}}"#
        )
    }

    #[test]
    fn every_wrong_field_is_named_at_once() {
        let text = with(
            r#""events":[{"at":"2026-13-01","turn":{}},{"at":"2026-03-01","reading":{"temperature_c":"hot"}},
            {"at":"2026-03-02","turn":{}},{"at":3,"reading":{"temperature_k":300,"zone":"middle"}}],
            "horizon_days":-1,"colour":"green""#,
        );
        let found = problems(&text);
        let pointers: Vec<_> = found.iter().map(|(pointer, ..)| pointer.as_str()).collect();
        assert_eq!(
            pointers,
            [
                "/events/0/at",
                "/events/1/reading/temperature_c",
                "/events/3/at",
                "/events/3/reading/temperature_k",
                "/events/3/reading/zone",
                "/colour",
                "/horizon_days",
            ]
        );
        assert_eq!(found[0].2, "a date like 2026-04-30 or a time like 2026-04-30T18:00:00Z");
        assert_eq!((found[1].1.as_str(), found[1].2.as_str()), ("\"hot\"", "a number"));
        assert_eq!(found[4].2, "one of core, edge");
        assert_eq!((found[6].1.as_str(), found[6].2.as_str()), ("-1", "a whole number, 0 or more"));
    }

    #[test]
    fn values_out_of_range_are_told_beside_what_cannot_be_read() {
        let text = with(
            r#""events":[{"at":"2026-03-01","addition":{"feedstock":"straw","mass_kg":-4}},
            {"at":"2026-03-02","reading":{"temperature_c":"hot"}},{"at":"2026-03-03","reading":{"temperature_c":180}},
            {"at":"2026-03-04","reading":{"temperature_k":300}}],"barrow_m3":9"#,
        );
        let pointers: Vec<_> = problems(&text).into_iter().map(|(pointer, ..)| pointer).collect();
        assert_eq!(
            pointers,
            [
                "/events/1/reading/temperature_c",
                "/events/3/reading/temperature_k",
                "/barrow_m3",
                "/events/0/addition/mass_kg",
                "/events/2/reading/temperature_c",
            ]
        );
    }

    #[test]
    fn a_missing_object_is_named_without_its_members() {
        let found = problems(r#"{"batch":"b","events":[]}"#);
        let pointers: Vec<_> = found.iter().map(|(pointer, ..)| pointer.as_str()).collect();
        assert_eq!(pointers, ["/site", "/bay"]);
        assert_eq!(found[0].1, "nothing");
    }

    #[test]
    fn an_array_is_no_object_even_with_its_values_in_order() {
        let found =
            problems(&with(r#""events":[{"at":"2026-03-01","reading":[60]},{"at":"2026-03-01","turn":[]}]"#));
        assert_eq!(found[0].0, "/events/0/reading");
        assert_eq!(found[1].0, "/events/1/turn");
        assert_eq!(problems("[]")[0].0, "");
    }

    #[test]
    fn an_enum_is_a_word_and_no_object() {
        let text = with(r#""events":[{"at":"2026-03-01","cover":{"state":{"on":null}}}]"#);
        assert!(crate::parse::history(text.as_bytes()).is_err());
        assert_eq!(problems(&text)[0].2, "one of on, off");
    }

    #[test]
    fn a_member_given_twice_is_malformed() {
        let twice = with(r#""events":[],"events":[]"#);
        match crate::parse::history(twice.as_bytes()) {
            Err(Error::Malformed { detail, .. }) => {
                assert!(detail.contains("duplicate field `events`"), "{detail}");
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn text_that_stops_being_json_is_placed_by_line_column_and_pointer() {
        for (text, at) in [
            (
                with(r#""events":[{"at":"2026-03-01","reading":{"temperature_c":NaN}}]"#),
                "/events/0/reading/temperature_c",
            ),
            (with(r#""events":[{"at":"2026-03-01","watering":{"litres":"#), "/events/0/watering/litres"),
            (String::new(), ""),
            (with(r#""events":[]"#) + "x", ""),
        ] {
            match of(text.as_bytes()) {
                Error::Malformed { pointer, detail } => {
                    assert_eq!(pointer, at);
                    assert!(detail.contains("line") && detail.contains("column"), "{detail}");
                }
                other => panic!("{other}"),
            }
        }
    }

    #[test]
    fn a_thousand_faults_are_told_as_the_first_hundred() {
        let event = r#"{"at":"never","turn":{}}"#;
        let text = with(&format!(r#""events":[{}]"#, vec![event; 1000].join(",")));
        assert_eq!(problems(&text).len(), MAX_PROBLEMS);
    }

    #[test]
    fn faults_of_sources_are_placed_within_them() {
        let source = with(r#""events":[{"at":"2026-03-01","watering":{}}]"#);
        let found = problems(&with(&format!(r#""events":[],"sources":[{source}]"#)));
        assert_eq!(found[0].0, "/sources/0/events/0/watering/litres");
    }
}
