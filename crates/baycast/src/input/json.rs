//! JSON documents: one history, or an array of them.

use std::collections::HashMap;
use std::io::{self, Read};
use std::sync::Arc;

use baycast_service::Error;
use baycast_service::parse::BYTE_ORDER_MARK;
use serde_json::value::RawValue;

use super::fault::{Fault, Place};
use super::{Found, Told};

/// Reads a whole document and delivers each history in it.
pub fn read(mut source: impl Read, file: &str, deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
    let mut text = Vec::new();
    source.read_to_end(&mut text)?;
    if text.starts_with(BYTE_ORDER_MARK) {
        text.drain(..BYTE_ORDER_MARK.len());
    }
    let text: Arc<[u8]> = text.into();
    let parts: Result<Vec<&RawValue>, _> = if is_array(&text) {
        serde_json::from_slice(&text)
    } else {
        serde_json::from_slice(&text).map(|whole| vec![whole])
    };
    match parts {
        Ok(histories) => {
            for history in histories {
                let start = offset(&text, history);
                let place = Place::Document { file: file.into(), text: text.clone(), start };
                if !deliver(Told::parse(place, history.get().as_bytes())) {
                    break;
                }
            }
        }
        Err(error) => {
            let line = Some(error.line() as u64);
            let fault = Fault::other(file, line, format_args!("not JSON: {error}"));
            deliver(Err(vec![Fault { field: place_reached(&text), ..fault }]));
        }
    }
    Ok(())
}

/// Pointer to the place that a broken document was read up to; empty where it is not told.
fn place_reached(text: &[u8]) -> String {
    match baycast_service::parse::history(text) {
        Err(Error::Malformed { pointer, .. }) => pointer,
        _ => String::new(),
    }
}

/// Whether the first thing in a document is an array.
pub fn is_array(text: &[u8]) -> bool {
    text.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'[')
}

/// The line, from 1, on which the value at `pointer` starts, in the value that starts at `start`; that of the
/// nearest enclosing value where it is missing.
pub fn line_of(text: &[u8], start: usize, pointer: &str) -> Option<u64> {
    let mut values = serde_json::Deserializer::from_slice(text.get(start..)?).into_iter::<&RawValue>();
    let mut value = values.next()?.ok()?;
    for token in pointer.split('/').skip(1) {
        let token = token.replace("~1", "/").replace("~0", "~");
        match descend(value, &token) {
            Some(inner) => value = inner,
            None => break,
        }
    }
    let before = &text[..offset(text, value)];
    Some(before.split(|byte| *byte == b'\n').count() as u64)
}

/// The member or element of `value` that one pointer token names.
fn descend<'a>(value: &'a RawValue, token: &str) -> Option<&'a RawValue> {
    if is_array(value.get().as_bytes()) {
        let elements: Vec<&RawValue> = serde_json::from_str(value.get()).ok()?;
        return elements.get(token.parse::<usize>().ok()?).copied();
    }
    let members: HashMap<String, &RawValue> = serde_json::from_str(value.get()).ok()?;
    members.get(token).copied()
}

/// Where `value`, which borrows from `text`, starts in it.
fn offset(text: &[u8], value: &RawValue) -> usize {
    value.get().as_ptr() as usize - text.as_ptr() as usize
}
