//! Reading a message's payload.

use baycast_service::records::ProbeTemperature;
use jiff::Timestamp;
use serde_json::Value;

use crate::subscription::{Figure, Form, Subscription, TimeForm, Unit};

/// What a payload says.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The temperature.
    pub temperature: ProbeTemperature,
    /// When, where it says so.
    pub at: Option<Timestamp>,
    /// The reading's id, where it gives one.
    pub id: Option<String>,
    /// How deep, m.
    pub depth_m: Option<f64>,
    /// Air temperature, °C.
    pub ambient_c: Option<f64>,
}

/// Reads a payload as the subscription says, or says why that can't be done, without quoting it.
pub fn read(payload: &[u8], subscription: &Subscription) -> Result<Measured, String> {
    let text = std::str::from_utf8(payload).map_err(|_| "the payload is not UTF-8".to_owned())?;
    let json = match subscription.payload {
        Form::Json => {
            serde_json::from_str(text).map_err(|error| format!("the payload is not JSON: {error}"))?
        }
        Form::Number => Value::String(text.trim().to_owned()),
    };
    let temperature = number(&json, subscription.temperature.as_deref().unwrap_or_default())?;
    let temperature = match subscription.unit {
        Unit::C => ProbeTemperature::Celsius(temperature),
        Unit::F => ProbeTemperature::Fahrenheit(temperature),
    };
    let depth_m = match &subscription.depth_m {
        None => None,
        Some(Figure::Fixed(depth_m)) => Some(*depth_m),
        Some(Figure::Found(pointer)) => Some(number(&json, pointer)?),
    };
    Ok(Measured {
        temperature,
        at: subscription.at.as_deref().map(|at| time(&json, at, subscription.at_form)).transpose()?,
        id: subscription.id.as_deref().map(|id| name(&json, id)).transpose()?,
        depth_m,
        ambient_c: subscription.ambient_c.as_deref().map(|it| number(&json, it)).transpose()?,
    })
}

/// What a pointer points to.
fn find<'a>(json: &'a Value, pointer: &str) -> Result<&'a Value, String> {
    json.pointer(pointer).ok_or_else(|| format!("there is nothing at `{pointer}`"))
}

/// A number, or the text of one.
fn number(json: &Value, pointer: &str) -> Result<f64, String> {
    let found = match find(json, pointer)? {
        Value::Number(number) => number.as_f64(),
        Value::String(text) => text.trim().parse().ok(),
        _ => None,
    };
    found.filter(|number: &f64| number.is_finite()).ok_or_else(|| wrong(pointer, "number"))
}

/// A time.
fn time(json: &Value, pointer: &str, form: TimeForm) -> Result<Timestamp, String> {
    let in_seconds = |factor: f64| {
        let microseconds = number(json, pointer)? * factor * 1e6;
        Timestamp::from_microsecond(microseconds.round() as i64).map_err(|_| wrong(pointer, "time"))
    };
    match form {
        TimeForm::Rfc3339 => {
            let text = find(json, pointer)?.as_str().and_then(|text| text.trim().parse().ok());
            text.ok_or_else(|| wrong(pointer, "time like 2026-04-30T18:00:00Z"))
        }
        TimeForm::UnixS => in_seconds(1.0),
        TimeForm::UnixMs => in_seconds(1e-3),
    }
}

/// An id: a text or a whole number.
fn name(json: &Value, pointer: &str) -> Result<String, String> {
    match find(json, pointer)? {
        Value::String(text) if !text.is_empty() => Ok(text.clone()),
        Value::Number(number) if !number.is_f64() => Ok(number.to_string()),
        _ => Err(wrong(pointer, "id, a text or a whole number")),
    }
}

/// What is at a pointer is not what it should be.
fn wrong(pointer: &str, expected: &str) -> String {
    if pointer.is_empty() {
        format!("the payload is no {expected}")
    } else {
        format!("what is at `{pointer}` is no {expected}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A subscription with these lines of TOML's values, as JSON.
    fn subscription(json: &Value) -> Subscription {
        serde_json::from_value(json.clone()).unwrap()
    }

    #[test]
    fn pointers_pick_what_they_point_to() {
        let own =
            subscription(&serde_json::json!({ "topic": "t", "temperature": "/t/0", "unit": "f", "at": "/ts",
            "at_form": "unix_ms", "id": "/n", "depth_m": 0.5, "ambient_c": "/air" }));
        let measured = read(br#"{"t": ["140.0"], "ts": 1790000000250, "n": 7, "air": 12}"#, &own).unwrap();
        let expected = Measured {
            temperature: ProbeTemperature::Fahrenheit(140.0),
            at: Some(Timestamp::from_millisecond(1_790_000_000_250).unwrap()),
            id: Some("7".to_owned()),
            depth_m: Some(0.5),
            ambient_c: Some(12.0),
        };
        assert_eq!(measured, expected);
    }

    #[test]
    fn times_read_in_the_form_that_is_said() {
        for (form, payload, second) in [
            ("rfc3339", r#"{"t": 1, "ts": "2026-09-21T18:13:20+04:00"}"#, 1_790_000_000),
            ("unix_s", r#"{"t": 1, "ts": 1790000000}"#, 1_790_000_000),
            ("unix_s", r#"{"t": 1, "ts": "1790000000.0"}"#, 1_790_000_000),
            ("unix_ms", r#"{"t": 1, "ts": 1790000000000}"#, 1_790_000_000),
        ] {
            let own = subscription(
                &serde_json::json!({ "topic": "t", "temperature": "/t", "at": "/ts", "at_form": form }),
            );
            let at = read(payload.as_bytes(), &own).unwrap().at;
            assert_eq!(at, Some(Timestamp::from_second(second).unwrap()), "{form} {payload}");
        }
    }

    #[test]
    fn what_cannot_be_used_is_told_without_being_quoted() {
        let own = subscription(&serde_json::json!({ "topic": "t", "temperature": "/t", "at": "/ts" }));
        for (payload, reason) in [
            (&b"\xff"[..], "not UTF-8"),
            (b"hot", "not JSON"),
            (b"{}", "nothing at `/t`"),
            (br#"{"t": "NaN", "ts": "2026-04-30T18:00:00Z"}"#, "`/t` is no number"),
            (br#"{"t": true, "ts": "2026-04-30T18:00:00Z"}"#, "`/t` is no number"),
            (br#"{"t": 50, "ts": "noon"}"#, "`/ts` is no time"),
        ] {
            let told = read(payload, &own).unwrap_err();
            assert!(told.contains(reason), "{told}");
        }
        let plain = subscription(&serde_json::json!({ "topic": "t", "payload": "number" }));
        assert_eq!(read(b" 55.5\n", &plain).unwrap().temperature, ProbeTemperature::Celsius(55.5));
        assert_eq!(read(b"warm", &plain).unwrap_err(), "the payload is no number");
    }
}
