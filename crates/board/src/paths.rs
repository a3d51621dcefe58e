//! Paths of the board's own pages.

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

/// What is written otherwise in a segment: all but RFC 3986's unreserved letters.
const OTHERWISE: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');

/// The list of farms, and the root of all that a signed-in reader sees.
pub const ROOT: &str = "/board";

/// A segment of a path.
fn segment(name: &str) -> String {
    utf8_percent_encode(name, OTHERWISE).to_string()
}

/// A farm's board, for those who show a key.
pub fn farm(farm: &str) -> String {
    format!("{ROOT}/{}", segment(farm))
}

/// A farm's board, for those who hold a feed's address.
pub fn feed(token: &str) -> String {
    format!("/feeds/{}/board", segment(token))
}

/// The season's plan on the board at `base`.
pub fn plan(base: &str) -> String {
    format!("{base}/plan")
}

/// A batch's page on the board at `base`.
pub fn batch(base: &str, batch: &str) -> String {
    format!("{base}/batches/{}", segment(batch))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_plain_letter_is_encoded() {
        assert_eq!(batch(&farm("a/b"), "timber 2"), "/board/a%2Fb/batches/timber%202");
    }
}
