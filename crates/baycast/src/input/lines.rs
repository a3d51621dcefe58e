//! NDJSON: one history a line, of bounded length, so that memory does not grow with their number.

use std::io::{self, BufRead};

use super::fault::{Fault, Place};
use super::{Found, Told};

/// Longest line taken, bytes.
const MAX_LINE_BYTES: usize = 8 * 1024 * 1024;

/// Reads line by line and delivers each history as it is read. Blank lines are passed over.
pub fn read(mut source: impl BufRead, file: &str, deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
    let mut line = Vec::new();
    let mut number = 0;
    while let Some(length) = next_line(&mut source, &mut line)? {
        number += 1;
        let place = Place::Line { file: file.into(), line: number };
        let found = if length > MAX_LINE_BYTES {
            let accepted = format!("at most {MAX_LINE_BYTES} bytes");
            let fault =
                Fault::value(file, Some(number), "", format_args!("a line of {length} bytes"), &accepted);
            Err(vec![fault])
        } else if line.trim_ascii().is_empty() {
            continue;
        } else {
            Told::parse(place, &line)
        };
        if !deliver(found) {
            break;
        }
    }
    Ok(())
}

/// The next line without its end, at most the longest taken; its true length, or `None` at the end.
fn next_line(source: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Option<usize>> {
    line.clear();
    let mut length = 0;
    loop {
        let chunk = source.fill_buf()?;
        if chunk.is_empty() {
            return Ok((length > 0).then_some(length));
        }
        let end = chunk.iter().position(|byte| *byte == b'\n');
        let taken = end.unwrap_or(chunk.len());
        let room = MAX_LINE_BYTES.saturating_sub(line.len());
        line.extend_from_slice(&chunk[..taken.min(room)]);
        length += taken;
        source.consume(taken + usize::from(end.is_some()));
        if end.is_some() {
            return Ok(Some(length));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_with_or_without_a_newline_and_long_ones_are_measured_not_kept() {
        let long = "x".repeat(MAX_LINE_BYTES + 10);
        let text = format!("a\n\n{long}\nlast");
        let mut source = io::BufReader::with_capacity(4096, text.as_bytes());
        let mut line = Vec::new();
        let mut read = Vec::new();
        while let Some(length) = next_line(&mut source, &mut line).unwrap() {
            read.push((length, line.len()));
        }
        assert_eq!(read, [(1, 1), (0, 0), (MAX_LINE_BYTES + 10, MAX_LINE_BYTES), (4, 4)]);
    }
}
