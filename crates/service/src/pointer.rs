//! JSON Pointers (RFC 6901) built up while a document is walked, written out only where one is needed.

use std::fmt;

/// A place in a document, as a chain from the root.
#[derive(Clone, Copy, Debug)]
pub enum Pointer<'a> {
    /// The whole document.
    Root,
    /// A member of an object.
    Member(&'a Pointer<'a>, &'a str),
    /// An element of an array.
    Element(&'a Pointer<'a>, usize),
}

impl<'a> Pointer<'a> {
    /// The member `name` of what this points at.
    #[must_use]
    pub fn member(&'a self, name: &'a str) -> Self {
        Self::Member(self, name)
    }

    /// The element `index` of what this points at.
    #[must_use]
    pub fn element(&'a self, index: usize) -> Self {
        Self::Element(self, index)
    }
}

impl fmt::Display for Pointer<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Root => Ok(()),
            Self::Member(parent, name) => write!(f, "{parent}/{}", escaped(name)),
            Self::Element(parent, index) => write!(f, "{parent}/{index}"),
        }
    }
}

impl From<Pointer<'_>> for String {
    fn from(pointer: Pointer<'_>) -> Self {
        pointer.to_string()
    }
}

/// A member name as it stands in a pointer: `~` as `~0`, `/` as `~1` (RFC 6901 section 3).
#[must_use]
pub fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// The same place in the form that protobuf errors use: `/events/3/reading` as `events[3].reading`.
#[must_use]
pub fn dotted(pointer: &str) -> String {
    let mut path = String::with_capacity(pointer.len() + 4);
    for segment in pointer.split('/').skip(1) {
        if segment.bytes().all(|byte| byte.is_ascii_digit()) && !segment.is_empty() {
            path.extend(["[", segment, "]"]);
            continue;
        }
        if !path.is_empty() {
            path.push('.');
        }
        path.push_str(&segment.replace("~1", "/").replace("~0", "~"));
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn members_and_elements_are_written_in_order_and_escaped() {
        let events = Pointer::Root.member("events");
        let third = events.element(3);
        assert_eq!(third.member("reading").to_string(), "/events/3/reading");
        assert_eq!(Pointer::Root.member("a/b~c").to_string(), "/a~1b~0c");
        assert_eq!(Pointer::Root.to_string(), "");
    }

    #[test]
    fn the_dotted_form_brackets_elements() {
        assert_eq!(dotted("/events/3/reading/temperature_c"), "events[3].reading.temperature_c");
        assert_eq!(dotted("/sources/0/events/12"), "sources[0].events[12]");
        assert_eq!(dotted(""), "");
    }
}
