//! Which content types are read.

use axum::http::HeaderMap;
use axum::http::header::{CONTENT_ENCODING, CONTENT_TYPE};
use baycast_service::Error;

/// A content that an operation reads.
#[derive(Clone, Copy, Debug)]
pub enum Content {
    /// One JSON text.
    Json,
    /// JSON texts, one a line.
    Lines,
    /// A sheet with commas, or what else its header shows, between cells.
    Csv,
    /// A sheet with tabs between cells.
    Tsv,
}

/// What events are brought in as.
const BROUGHT_IN: [Content; 4] = [Content::Csv, Content::Tsv, Content::Json, Content::Lines];

impl Content {
    /// Refuses a request whose headers announce another content.
    pub fn expect(self, headers: &HeaderMap) -> Result<(), Error> {
        one_of(&[self], self.accepted(), headers).map(|_| ())
    }

    /// What events are brought in as, by the headers of the request.
    pub fn brought_in(headers: &HeaderMap) -> Result<Self, Error> {
        let accepted =
            "text/csv, text/tab-separated-values, application/json or application/x-ndjson, in UTF-8";
        one_of(&BROUGHT_IN, accepted, headers)
    }

    /// The types taken, in words.
    fn accepted(self) -> &'static str {
        match self {
            Self::Json => "application/json in UTF-8",
            Self::Lines => "application/x-ndjson in UTF-8",
            Self::Csv => "text/csv in UTF-8",
            Self::Tsv => "text/tab-separated-values in UTF-8",
        }
    }

    /// Whether a content type is this one, in UTF-8.
    fn is(self, content_type: &str) -> bool {
        let content_type = content_type.to_ascii_lowercase();
        let mut parts = content_type.split(';').map(str::trim);
        let essence = parts.next().unwrap_or_default();
        let of_type = match self {
            Self::Json => {
                essence == "application/json"
                    || essence.starts_with("application/") && essence.ends_with("+json")
            }
            Self::Lines => matches!(essence, "application/x-ndjson" | "application/ndjson"),
            Self::Csv => essence == "text/csv",
            Self::Tsv => essence == "text/tab-separated-values",
        };
        of_type
            && parts.filter_map(|parameter| parameter.split_once('=')).all(|(name, value)| {
                name.trim() != "charset" || matches!(value.trim().trim_matches('"'), "utf-8" | "utf8")
            })
    }
}

/// The one of several contents that the headers announce.
fn one_of(contents: &[Content], accepted: &'static str, headers: &HeaderMap) -> Result<Content, Error> {
    let text = |name| headers.get(name).map(|value| String::from_utf8_lossy(value.as_bytes()).into_owned());
    let given = text(CONTENT_TYPE).unwrap_or_else(|| "a body without a content type".to_owned());
    let Some(content) = contents.iter().find(|content| content.is(&given)) else {
        return Err(Error::UnsupportedMediaType { given, accepted });
    };
    match text(CONTENT_ENCODING) {
        Some(encoding) if !encoding.eq_ignore_ascii_case("identity") => Err(Error::UnsupportedMediaType {
            given: format!("a body encoded as {encoding}"),
            accepted: "one that is not encoded",
        }),
        _ => Ok(*content),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_is_read_by_any_of_its_names_and_in_utf8_only() {
        for taken in ["application/json", "Application/JSON; charset=UTF-8", "application/vnd.farm+json"] {
            assert!(Content::Json.is(taken), "{taken}");
        }
        for refused in
            ["text/json", "application/jsonp", "application/json; charset=latin1", "", "text/plain"]
        {
            assert!(!Content::Json.is(refused), "{refused}");
        }
        assert!(Content::Lines.is("application/x-ndjson;charset=\"utf-8\""));
        assert!(!Content::Lines.is("application/json"));
    }
}
