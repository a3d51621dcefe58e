//! The place of a request in its trace (W3C Trace Context).

use std::ops::Range;

use axum::http::{HeaderMap, HeaderName};

/// The header of the W3C recommendation.
pub const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// Where the trace's id stands in it.
pub const TRACE_ID: Range<usize> = 3..35;

/// Where the id of the span does.
const SPAN_ID: Range<usize> = 36..52;

/// Where the flags do.
const FLAGS: Range<usize> = 53..55;

/// A place in a trace: the caller's trace, or a new one, and a span of our own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parent {
    /// The trace's id.
    pub trace: u128,
    /// Our span's id.
    pub span: u64,
    /// The trace's flags.
    pub flags: u8,
    /// The caller's span, where there is one.
    pub caller: Option<u64>,
}

impl Parent {
    /// Continues the caller's trace where its header can be read.
    pub fn of(headers: &HeaderMap) -> Self {
        let given = headers.get(TRACEPARENT).and_then(|value| value.to_str().ok()).and_then(Self::read);
        match given {
            Some((trace, caller, flags)) => {
                Self { trace, span: fastrand::u64(1..), flags, caller: Some(caller) }
            }
            None => Self { trace: fastrand::u128(1..), span: fastrand::u64(1..), flags: 0, caller: None },
        }
    }

    /// Trace id, parent id and flags of `version-trace_id-parent_id-flags`. A version after 00 may have more behind it.
    pub fn read(header: &str) -> Option<(u128, u64, u8)> {
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
        if !well_formed {
            return None;
        }
        let trace = u128::from_str_radix(trace, 16).ok().filter(|trace| *trace != 0)?;
        let span = u64::from_str_radix(span, 16).ok().filter(|span| *span != 0)?;
        Some((trace, span, u8::from_str_radix(flags, 16).ok()?))
    }

    /// The trace's id, 32 hexadecimal digits.
    pub fn trace_id(&self) -> String {
        hex::encode(self.trace.to_be_bytes())
    }

    /// What names this place to others.
    pub fn header(&self) -> [u8; 55] {
        let mut header = *b"00-00000000000000000000000000000000-0000000000000000-00";
        let parts: [(&[u8], Range<usize>); 3] = [
            (&self.trace.to_be_bytes(), TRACE_ID),
            (&self.span.to_be_bytes(), SPAN_ID),
            (&[self.flags], FLAGS),
        ];
        for (bytes, place) in parts {
            // Each place is twice as long as its bytes.
            let _ = hex::encode_to_slice(bytes, &mut header[place]);
        }
        header
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
        assert_eq!((parent.flags, parent.caller), (1, Some(0xb7ad_6b71_6920_3331)));
        assert_ne!(parent.span, 0xb7ad_6b71_6920_3331);
        let told = parent.header();
        let told = std::str::from_utf8(&told).unwrap();
        assert_eq!(Parent::read(told), Some((parent.trace, parent.span, parent.flags)));
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
