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
}

impl Content {
    /// Refuses a request whose headers announce another content.
    pub fn expect(self, headers: &HeaderMap) -> Result<(), Error> {
        let text =
            |name| headers.get(name).map(|value| String::from_utf8_lossy(value.as_bytes()).into_owned());
        let given = text(CONTENT_TYPE).unwrap_or_else(|| "a body without a content type".to_owned());
        if !self.is(&given) {
            return Err(Error::UnsupportedMediaType { given, accepted: self.accepted() });
        }
        match text(CONTENT_ENCODING) {
            Some(encoding) if !encoding.eq_ignore_ascii_case("identity") => {
                Err(Error::UnsupportedMediaType {
                    given: format!("a body encoded as {encoding}"),
                    accepted: "one that is not encoded",
                })
            }
            _ => Ok(()),
        }
    }

    /// The types taken, in words.
    fn accepted(self) -> &'static str {
        match self {
            Self::Json => "application/json in UTF-8",
            Self::Lines => "application/x-ndjson in UTF-8",
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
        };
        of_type
            && parts.filter_map(|parameter| parameter.split_once('=')).all(|(name, value)| {
                name.trim() != "charset" || matches!(value.trim().trim_matches('"'), "utf-8" | "utf8")
            })
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
