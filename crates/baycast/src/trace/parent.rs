//! The place of a request in its trace (W3C Trace Context).

use std::fmt;

use axum::http::{HeaderMap, HeaderName};

/// The header of the W3C recommendation.
pub const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// A place in a trace: the caller's trace, or a new one, and a span of our own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parent {
    /// The trace's id.
    pub trace: u128,
    /// Our span's id.
    pub span: u64,
    /// The trace's flags.
    pub flags: u8,
}

impl Parent {
    /// Continues the caller's trace where its header can be read.
    pub fn of(headers: &HeaderMap) -> Self {
        let given = headers.get(TRACEPARENT).and_then(|value| value.to_str().ok()).and_then(Self::read);
        let (trace, flags) = given.unwrap_or_else(|| (fastrand::u128(1..), 0));
        Self { trace, span: fastrand::u64(1..), flags }
    }

    /// Trace id and flags of `version-trace_id-parent_id-flags`. A version after 00 may have more behind it.
    pub fn read(header: &str) -> Option<(u128, u8)> {
        let mut parts = header.trim().split('-');
        let (version, trace, span, flags) = (parts.next()?, parts.next()?, parts.next()?, parts.next()?);
        let hexadecimal = |text: &str, digits| {
            text.len() == digits && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        };
        let well_formed = hexadecimal(version, 2)
            && version != "ff"
            && (version != "00" || parts.next().is_none())
            && hexadecimal(trace, 32)
            && hexadecimal(span, 16)
            && hexadecimal(flags, 2);
        if !well_formed || u64::from_str_radix(span, 16) == Ok(0) {
            return None;
        }
        let trace = u128::from_str_radix(trace, 16).ok().filter(|trace| *trace != 0)?;
        Some((trace, u8::from_str_radix(flags, 16).ok()?))
    }

    /// The trace's id, 32 hexadecimal digits.
    pub fn trace_id(&self) -> String {
        format!("{:032x}", self.trace)
    }
}

impl fmt::Display for Parent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // In halves: the division of 128 bits that whole ones are written with is a slow one.
        let (high, low) = ((self.trace >> 64) as u64, self.trace as u64);
        write!(f, "00-{high:016x}{low:016x}-{:016x}-{:02x}", self.span, self.flags)
    }
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    #[test]
    fn a_trace_is_continued_where_the_header_is_well_formed() {
        // The example of the W3C recommendation "Trace Context" (2021), section 3.2.
        let given = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01";
        let headers = HeaderMap::from_iter([(TRACEPARENT, HeaderValue::from_static(given))]);
        let parent = Parent::of(&headers);
        assert_eq!(parent.trace_id(), "0af7651916cd43dd8448eb211c80319c");
        assert_eq!(parent.flags, 1);
        assert_ne!(parent.span, 0xb7ad_6b71_6920_3331);
        assert!(Parent::read(&parent.to_string()).is_some());
    }

    #[test]
    fn a_header_that_is_none_starts_a_new_trace() {
        for wrong in [
            "",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331",
            "00-00000000000000000000000000000000-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-0000000000000000-01",
            "00-0AF7651916CD43DD8448EB211C80319C-b7ad6b7169203331-01",
            "ff-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01-more",
        ] {
            assert_eq!(Parent::read(wrong), None, "{wrong}");
        }
    }
}
