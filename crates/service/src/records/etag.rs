//! Versions of kept things, as the tags under which callers hold them.

/// The tag of a version.
pub fn of(version: i64) -> String {
    version.to_string()
}

/// The version that a tag names. A tag that was never given out is like one that is out of date.
pub fn version(tag: &str) -> i64 {
    tag.parse().unwrap_or(0)
}
