//! A stream whose bytes are noted as they pass.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

use crate::listen::pulse::Pulse;

/// What a connection in HTTP/2 begins with (RFC 9113 section 3.4), and no request in HTTP/1 does.
const PREFACE: &[u8] = b"PRI ";

/// A stream whose bytes are noted as they pass.
pub struct Watched<S> {
    stream: S,
    pulse: Arc<Pulse>,
    begun: bool,
}

impl<S> Watched<S> {
    /// Notes what passes `stream` in `pulse`.
    pub fn new(stream: S, pulse: Arc<Pulse>) -> Self {
        Self { stream, pulse, begun: false }
    }

    /// Notes whether bytes were taken.
    fn noted<T>(&self, sent: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        self.pulse.sent(sent.is_ready());
        sent
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Watched<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = into.filled().len();
        let read = Pin::new(&mut self.stream).poll_read(context, into);
        let received = &into.filled()[before..];
        if !received.is_empty() {
            if !self.begun && received.starts_with(PREFACE) {
                self.pulse.is_multiplexed();
            }
            self.begun = true;
            self.pulse.received();
        }
        read
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Watched<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let sent = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.noted(sent)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        parts: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let sent = Pin::new(&mut self.stream).poll_write_vectored(context, parts);
        self.noted(sent)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let sent = Pin::new(&mut self.stream).poll_flush(context);
        self.noted(sent)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
