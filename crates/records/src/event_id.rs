//! Ids of events: UUIDs of version 7 (RFC 9562, section 5.7, from memory), so that they sort by the time of recording.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::error::{Error, Result};
use crate::secret::random;

/// Bits below the version field.
const BELOW_VERSION: u32 = 76;
/// Bits below the time.
const BELOW_TIME: u32 = 80;
/// Bits below the variant field.
const BELOW_VARIANT: u32 = 62;

/// The id of an event. Within a batch each event's id is greater than those recorded before it, whichever replica
/// recorded them.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId(u128);

impl EventId {
    /// A new id for `at`, greater than `last`.
    pub fn after(last: Option<Self>, at: Timestamp) -> Result<Self> {
        let random = u128::from_be_bytes(random()?);
        let millisecond = at.as_millisecond().max(0) as u128;
        let id = Self::compose(millisecond, random);
        match last {
            Some(last) if last >= id => Ok(last.next()),
            _ => Ok(id),
        }
    }

    fn compose(millisecond: u128, random: u128) -> Self {
        let low = random & ((1 << BELOW_VARIANT) - 1);
        let middle = (random >> BELOW_VARIANT) & 0xfff;
        let time = millisecond & 0xffff_ffff_ffff;
        Self(time << BELOW_TIME | 0x7 << BELOW_VERSION | middle << 64 | 0b10 << BELOW_VARIANT | low)
    }

    /// The next greater id: one more in the lowest field, or the next millisecond where that is full.
    fn next(self) -> Self {
        let low = (1 << BELOW_VARIANT) - 1;
        if self.0 & low < low { Self(self.0 + 1) } else { Self::compose((self.0 >> BELOW_TIME) + 1, 0) }
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:032x}", self.0);
        let [a, b, c, d, e] = [&text[..8], &text[8..12], &text[12..16], &text[16..20], &text[20..]];
        write!(f, "{a}-{b}-{c}-{d}-{e}")
    }
}

impl fmt::Debug for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for EventId {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let digits: String = text.split('-').collect();
        let parsed = u128::from_str_radix(&digits, 16).map(Self).ok().filter(|id| id.to_string() == text);
        parsed.ok_or_else(|| Error::invalid("event", text, "an event's id, a lower-case UUID"))
    }
}

impl Serialize for EventId {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for EventId {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> std::result::Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layout_is_that_of_version_7() {
        // RFC 9562, appendix A.6, from memory: time 017F22E279B0, rand_a CC3, rand_b 18C4DC0C0C07398F.
        let random = 0xcc3 << BELOW_VARIANT | 0x18c4_dc0c_0c07_398f;
        let id = EventId::compose(0x017f_22e2_79b0, random);
        assert_eq!(id.to_string(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
        assert_eq!(id.to_string().parse::<EventId>().unwrap(), id);
    }

    #[test]
    fn each_is_greater_than_the_last_even_when_the_clock_stands_or_runs_back() {
        let mut last = None;
        for millisecond in [5_000, 5_000, 5_000, 4_000, 6_000] {
            let at = Timestamp::from_millisecond(millisecond).unwrap();
            let id = EventId::after(last, at).unwrap();
            assert!(Some(id) > last);
            assert!(last.is_none_or(|last: EventId| id.to_string() > last.to_string()));
            last = Some(id);
        }
        let full = EventId::compose(7, u128::MAX);
        assert!(full.next() > full);
        assert_eq!(full.next().to_string().as_bytes()[14], b'7');
    }

    #[test]
    fn other_text_is_refused() {
        for text in ["", "x", "017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "017f22e279b07cc398c4dc0c0c07398f"] {
            assert!(text.parse::<EventId>().is_err(), "{text}");
        }
    }
}
