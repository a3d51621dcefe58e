//! What is wrong with an input, named so that its writer finds it: file, line, field, value, accepted.

use std::fmt;
use std::sync::Arc;

use baycast_model::problem::{Problem, Problems};
use baycast_service::Error;
use baycast_service::sheet::Places;

use super::json;

/// One thing wrong with an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file's name.
    pub file: String,
    /// The line, from 1, where one is to blame.
    pub line: Option<u64>,
    /// The field: a JSON Pointer or a column's name; empty where the whole line is meant.
    pub field: String,
    /// What it is and what would be taken instead.
    pub detail: String,
}

impl Fault {
    /// A value that cannot be taken.
    pub fn value(
        file: &str,
        line: Option<u64>,
        field: &str,
        given: impl fmt::Display,
        accepted: &str,
    ) -> Self {
        Self {
            file: file.into(),
            line,
            field: field.into(),
            detail: format!("{given} given, accepted: {accepted}"),
        }
    }

    /// Anything else, in words.
    pub fn other(file: &str, line: Option<u64>, detail: impl fmt::Display) -> Self {
        Self { file: file.into(), line, field: String::new(), detail: detail.to_string() }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        if !self.field.is_empty() {
            write!(f, ": {}", self.field)?;
        }
        write!(f, ": {}", self.detail)
    }
}

/// Where a history stood in its file.
#[derive(Clone, Debug)]
pub enum Place {
    /// From `start` on in the text of a JSON document.
    Document {
        /// The file's name.
        file: String,
        /// The whole text.
        text: Arc<[u8]>,
        /// Byte offset of the history in it.
        start: usize,
    },
    /// On one line of its own.
    Line {
        /// The file's name.
        file: String,
        /// The line, from 1.
        line: u64,
    },
    /// On rows of a sheet.
    Rows {
        /// The file's name.
        file: String,
        /// Where each event stood.
        rows: Vec<Written>,
    },
}

/// Where an event stood in a sheet.
#[derive(Clone, Debug, Default)]
pub struct Written {
    /// The line, from 1.
    pub line: u64,
    /// The columns of its values.
    pub places: Places,
}

impl Place {
    /// The file's name.
    pub fn file(&self) -> &str {
        match self {
            Self::Document { file, .. } | Self::Line { file, .. } | Self::Rows { file, .. } => file,
        }
    }

    /// The line and the field that a JSON Pointer into the history stands for in the input.
    fn locate(&self, pointer: &str) -> (Option<u64>, String) {
        match self {
            Self::Document { text, start, .. } => (json::line_of(text, *start, pointer), pointer.into()),
            Self::Line { line, .. } => (Some(*line), pointer.into()),
            Self::Rows { .. } => (None, pointer.into()),
        }
    }

    /// The row that a JSON Pointer into the history leads to, and the rest of the pointer below its event.
    fn row<'a, 'b>(&'a self, pointer: &'b str) -> Option<(&'a Written, &'b str)> {
        let Self::Rows { rows, .. } = self else { return None };
        let rest = pointer.strip_prefix("/events/")?;
        let end = rest.find('/').unwrap_or(rest.len());
        let (index, below) = rest.split_at(end);
        Some((rows.get(index.parse::<usize>().ok()?)?, below))
    }

    /// What kept a history from being served, as faults of the input.
    pub fn faults(&self, error: &Error) -> Vec<Fault> {
        let at = |pointer: &str, detail: &dyn fmt::Display| {
            let (line, field) = self.locate(pointer);
            vec![Fault { field, ..Fault::other(self.file(), line, detail) }]
        };
        match error {
            Error::Invalid(Problems(problems)) => {
                problems.iter().map(|problem| self.fault(problem)).collect()
            }
            // One history stands on one line, whose number in the file is named already.
            Error::Malformed { pointer, detail } => at(
                pointer,
                &format_args!("not JSON: {}", detail.replace(" at line 1 column ", " at column ")),
            ),
            Error::TooLarge { what, .. } => at(what.pointer(), error),
            Error::UnsupportedMediaType { .. }
            | Error::NotFound { .. }
            | Error::Unauthenticated
            | Error::Forbidden { .. }
            | Error::Conflict(_)
            | Error::Stale { .. }
            | Error::Unavailable { .. }
            | Error::Busy { .. }
            | Error::TooOften { .. }
            | Error::Deadline
            | Error::Internal => at("", error),
        }
    }

    /// One wrong field.
    fn fault(&self, problem: &Problem) -> Fault {
        if let Some((row, below)) = self.row(&problem.pointer) {
            let Problem { pointer, value, accepted } = row.places.told(below, problem);
            let field = if pointer.is_empty() { "event".to_owned() } else { pointer };
            return Fault::value(self.file(), Some(row.line), &field, value, &accepted);
        }
        let (line, field) = self.locate(&problem.pointer);
        Fault::value(self.file(), line, &field, &problem.value, &problem.accepted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(pointer: &str) -> Problem {
        Problem { pointer: pointer.into(), value: "180".into(), accepted: "-20 to 95".into() }
    }

    #[test]
    fn a_row_is_named_by_its_line_and_its_column() {
        let row = |line| Written { line, ..Written::default() };
        let place = Place::Rows { file: "probe.csv".into(), rows: vec![row(2), row(5)] };
        let fault = place.fault(&problem("/events/1/reading/temperature_c"));
        assert_eq!(fault.to_string(), "probe.csv:5: temperature_c: 180 given, accepted: -20 to 95");
        let outside = place.fault(&problem("/bay/length_m"));
        assert_eq!(outside.to_string(), "probe.csv: /bay/length_m: 180 given, accepted: -20 to 95");
    }

    #[test]
    fn a_document_is_named_by_the_line_its_field_starts_on() {
        let text =
            "[\n {\"events\": [\n  {\"at\": \"2026-03-01\",\n   \"reading\": {\"temperature_c\":\n 180}}]}]";
        let place = Place::Document {
            file: "a.json".into(),
            text: text.as_bytes().into(),
            start: text.find('{').unwrap(),
        };
        let fault = place.fault(&problem("/events/0/reading/temperature_c"));
        assert_eq!(fault.line, Some(5), "{fault}");
        assert_eq!(place.fault(&problem("/events/0")).line, Some(3));
        // A field that is missing is looked for where it should have stood.
        assert_eq!(place.fault(&problem("/events/0/reading/depth_m")).line, Some(4));
    }
}
