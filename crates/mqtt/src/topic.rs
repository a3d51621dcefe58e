//! Topic filters whose segments have names.

use std::fmt;

/// What a segment of a topic tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Name {
    /// The farm's id.
    Farm,
    /// The batch's id.
    Batch,
    /// The bay's id.
    Bay,
    /// `core` or `edge`.
    Zone,
}

impl Name {
    /// All of them, with the words that stand for them in a pattern.
    const ALL: [(&'static str, Self); 4] =
        [("{farm}", Self::Farm), ("{batch}", Self::Batch), ("{bay}", Self::Bay), ("{zone}", Self::Zone)];
}

/// One segment of a pattern.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Segment {
    /// This text.
    Text(String),
    /// Any text, which tells something.
    Named(Name),
    /// Any text.
    Any,
    /// Any segments from here on, or none.
    Rest,
}

/// A topic filter such as `probes/{farm}/{bay}/+`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern(Vec<Segment>);

impl Pattern {
    /// Reads a pattern: MQTT's own wildcards, or a name, as whole segments.
    pub fn read(text: &str) -> Result<Self, String> {
        if text.is_empty() || text.starts_with('$') || text.contains('\0') {
            return Err("a topic filter, not empty and not beginning with $".to_owned());
        }
        let mut segments = Vec::new();
        for part in text.split('/') {
            if segments.last() == Some(&Segment::Rest) {
                return Err("# at the end only".to_owned());
            }
            let named = Name::ALL.into_iter().find(|(word, _)| *word == part).map(|(_, name)| name);
            let segment = match (part, named) {
                (_, Some(name)) => Segment::Named(name),
                ("+", _) => Segment::Any,
                ("#", _) => Segment::Rest,
                (text, _) if text.contains(['+', '#', '{', '}']) => {
                    return Err("+, #, {farm}, {batch}, {bay} or {zone} as a whole segment".to_owned());
                }
                (text, _) => Segment::Text(text.to_owned()),
            };
            if matches!(segment, Segment::Named(_)) && segments.contains(&segment) {
                return Err(format!("{part} once"));
            }
            segments.push(segment);
        }
        Ok(Self(segments))
    }

    /// Whether the pattern names this.
    pub fn names(&self, name: Name) -> bool {
        self.0.contains(&Segment::Named(name))
    }

    /// What a topic tells, if the pattern matches it.
    pub fn matched<'a>(&self, topic: &'a str) -> Option<Vec<(Name, &'a str)>> {
        let mut told = Vec::new();
        let mut parts = topic.split('/');
        for segment in &self.0 {
            let part = match segment {
                Segment::Rest => return Some(told),
                _ => parts.next()?,
            };
            match segment {
                Segment::Text(text) if text != part => return None,
                Segment::Named(name) => told.push((*name, part)),
                Segment::Text(_) | Segment::Any | Segment::Rest => {}
            }
        }
        parts.next().is_none().then_some(told)
    }

    /// Whether some topic matches both.
    pub fn overlaps(&self, other: &Self) -> bool {
        let (mut own, mut theirs) = (self.0.iter(), other.0.iter());
        loop {
            match (own.next(), theirs.next()) {
                (Some(Segment::Rest), _) | (_, Some(Segment::Rest)) | (None, None) => return true,
                (Some(Segment::Text(own)), Some(Segment::Text(theirs))) if own != theirs => return false,
                (Some(_), Some(_)) => {}
                (None, Some(_)) | (Some(_), None) => return false,
            }
        }
    }
}

/// The filter as a broker reads it.
impl fmt::Display for Pattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, segment) in self.0.iter().enumerate() {
            let slash = if index == 0 { "" } else { "/" };
            let text = match segment {
                Segment::Text(text) => text.as_str(),
                Segment::Named(_) | Segment::Any => "+",
                Segment::Rest => "#",
            };
            write!(f, "{slash}{text}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_wildcards_and_tell_what_stood_there() {
        let pattern = Pattern::read("probes/{farm}/{bay}/+/{zone}").unwrap();
        assert_eq!(pattern.to_string(), "probes/+/+/+/+");
        let told = pattern.matched("probes/home/east/p7/core").unwrap();
        assert_eq!(told, [(Name::Farm, "home"), (Name::Bay, "east"), (Name::Zone, "core")]);
        for other in ["probes/home/east/p7", "probes/home/east/p7/core/x", "other/home/east/p7/core", ""] {
            assert_eq!(pattern.matched(other), None, "{other}");
        }
        let rest = Pattern::read("a/#").unwrap();
        assert!(["a", "a/b", "a/b/c", "a/"].iter().all(|topic| rest.matched(topic).is_some()));
        assert_eq!(rest.matched("b"), None);
    }

    #[test]
    fn what_is_no_filter_is_refused() {
        for wrong in ["", "$SYS/x", "a/#/b", "a/b+", "a/{farm", "{house}/a", "{farm}/{farm}", "a{bay}"] {
            assert!(Pattern::read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn filters_overlap_where_one_topic_matches_both() {
        let overlap = |a: &str, b: &str| Pattern::read(a).unwrap().overlaps(&Pattern::read(b).unwrap());
        for (a, b, expected) in [
            ("a/+", "a/b", true),
            ("a/{bay}", "+/x", true),
            ("a/#", "a", true),
            ("a/b", "a/c", false),
            ("a/+", "a/+/c", false),
            ("#", "x/y/z", true),
        ] {
            assert_eq!((overlap(a, b), overlap(b, a)), (expected, expected), "{a} {b}");
        }
    }
}
