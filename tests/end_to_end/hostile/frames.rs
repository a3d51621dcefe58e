//! Frames of HTTP/2 (RFC 9113), written by hand: a well-behaved client sends no such thing.

use tokio::io::{AsyncRead, AsyncReadExt};

/// The preface and settings that change nothing.
pub const BEGIN: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0";

/// Frames that are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Frame {
    /// The server gives up a stream, and why.
    Reset(u32),
    /// The server gives up the connection, and why.
    GoAway(u32),
    /// Any other.
    Other,
}

/// Too much was asked for (section 7).
pub const ENHANCE_YOUR_CALM: u32 = 0xb;
/// The stream was not looked at (section 7).
pub const REFUSED_STREAM: u32 = 0x7;

/// A frame.
fn frame(kind: u8, flags: u8, stream: u32, payload: &[u8]) -> Vec<u8> {
    let length = (payload.len() as u32).to_be_bytes();
    [&length[1..], &[kind, flags], &stream.to_be_bytes(), payload].concat()
}

/// A request for `/livez`, whose body ends with its head or never comes.
pub fn head(stream: u32, ends: bool) -> Vec<u8> {
    // Section 6 of RFC 7541: `:method: GET` or `POST`, `:scheme: http`, `:path: /livez`, `:authority: a`.
    let method = if ends { 0x82 } else { 0x83 };
    let fields = [&[method, 0x86, 0x04, 6], b"/livez".as_slice(), &[0x01, 1], b"a"].concat();
    frame(1, 0x4 | u8::from(ends), stream, &fields)
}

/// Takes a request back.
pub fn reset(stream: u32) -> Vec<u8> {
    frame(3, 0, stream, &8_u32.to_be_bytes())
}

/// The next frame; nothing once the connection is ended.
pub async fn next(stream: &mut (impl AsyncRead + Unpin)) -> Option<Frame> {
    let mut head = [0; 9];
    stream.read_exact(&mut head).await.ok()?;
    let length = u32::from_be_bytes([0, head[0], head[1], head[2]]) as usize;
    let mut payload = vec![0; length];
    stream.read_exact(&mut payload).await.ok()?;
    let number = |at: usize| Some(u32::from_be_bytes(payload.get(at..at + 4)?.try_into().ok()?));
    Some(match head[3] {
        3 => Frame::Reset(number(0)?),
        7 => Frame::GoAway(number(4)?),
        _ => Frame::Other,
    })
}
