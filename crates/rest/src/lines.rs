//! A body read line by line, with no more than one line in memory.

use axum::body::Body;
use baycast_service::error::Quantity;
use baycast_service::{Error, Limits, until_silent};
use bytes::{Bytes, BytesMut};
use futures::stream::BoxStream;
use futures::{Stream, StreamExt, stream};

/// The lines of a body with their numbers from 1. Blank lines count and are left out.
///
/// A line that is too long is told as such in its place, and read past.
pub fn lines(body: Body, limits: &Limits) -> impl Stream<Item = (u64, Result<Bytes, Error>)> + use<> {
    let chunks = until_silent(body.into_data_stream(), limits.stream_idle);
    // A body that breaks off ends there: its last line is not whole.
    let chunks = chunks.map(|chunk| chunk.map(Result::ok));
    let reader = Reader {
        chunks: chunks.boxed(),
        held: BytesMut::new(),
        searched: 0,
        number: 0,
        passing: false,
        ended: false,
        limit: limits.max_line_bytes,
    };
    stream::unfold(reader, |mut reader| async move { reader.next().await.map(|line| (line, reader)) })
}

/// Cuts chunks into lines.
struct Reader {
    chunks: BoxStream<'static, Result<Option<Bytes>, Error>>,
    /// What has been read and not yet given out.
    held: BytesMut,
    /// How much of it holds no line end.
    searched: usize,
    /// Lines ended so far.
    number: u64,
    /// Whether the rest of a line that was too long is being passed over.
    passing: bool,
    ended: bool,
    limit: usize,
}

impl Reader {
    /// The next line that is not blank.
    async fn next(&mut self) -> Option<(u64, Result<Bytes, Error>)> {
        loop {
            if let Some(line) = self.cut() {
                self.number += 1;
                let passed = std::mem::take(&mut self.passing);
                match line {
                    _ if passed => {}
                    line if line.len() > self.limit => return Some((self.number, Err(self.too_long()))),
                    line if line.trim_ascii().is_empty() => {}
                    line => return Some((self.number, Ok(line))),
                }
                continue;
            }
            if self.ended {
                return None;
            }
            if self.passing {
                self.forget();
            } else if self.held.len() > self.limit {
                self.passing = true;
                self.forget();
                return Some((self.number + 1, Err(self.too_long())));
            }
            match self.chunks.next().await {
                Some(Ok(Some(chunk))) => self.held.extend_from_slice(&chunk),
                Some(Ok(None)) => {
                    self.forget();
                    self.ended = true;
                }
                Some(Err(error)) => {
                    self.forget();
                    self.ended = true;
                    return Some((self.number + 1, Err(error)));
                }
                None => self.ended = true,
            }
        }
    }

    /// Takes off the first line; at the end of the body, whatever is left.
    fn cut(&mut self) -> Option<Bytes> {
        let end = self.held[self.searched..].iter().position(|byte| *byte == b'\n');
        let length = match end {
            Some(end) => self.searched + end + 1,
            None if self.ended && !self.held.is_empty() => self.held.len(),
            None => {
                self.searched = self.held.len();
                return None;
            }
        };
        self.searched = 0;
        Some(self.held.split_to(length).freeze())
    }

    /// Drops what is held.
    fn forget(&mut self) {
        self.held.clear();
        self.searched = 0;
    }

    /// The error of a line over the limit.
    fn too_long(&self) -> Error {
        Error::TooLarge { what: Quantity::LineBytes, limit: self.limit as u64, given: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers and texts of the lines in `chunks`, `None` for one too long, with a limit of 8 bytes.
    async fn read(chunks: &[&'static str]) -> Vec<(u64, Option<String>)> {
        let chunks: Vec<_> =
            chunks.iter().map(|chunk| Ok::<_, std::io::Error>(Bytes::from(*chunk))).collect();
        let limits = Limits { max_line_bytes: 8, ..Limits::default() };
        lines(Body::from_stream(stream::iter(chunks)), &limits)
            .map(|(number, line)| {
                let text = |line: Bytes| String::from_utf8_lossy(&line).trim().to_owned();
                (number, line.ok().map(text))
            })
            .collect()
            .await
    }

    fn line(number: u64, text: &str) -> (u64, Option<String>) {
        (number, Some(text.to_owned()))
    }

    #[tokio::test]
    async fn lines_are_cut_wherever_the_chunks_fall() {
        let expected = [line(1, "{1}"), line(3, "{2}"), line(4, "{3}")];
        assert_eq!(read(&["{1}\n\n{2}\r\n{3}"]).await, expected);
        assert_eq!(read(&["{", "1}", "\n", "\n{2", "}\r\n{3", "}"]).await, expected);
    }

    #[tokio::test]
    async fn a_long_line_is_told_in_its_place_and_passed_over() {
        let expected = [line(1, "{1}"), (2, None), line(3, "{3}")];
        assert_eq!(read(&["{1}\n{1234567890}\n{3}\n"]).await, expected);
        assert_eq!(read(&["{1}\n{123", "456", "7890", "123}", "\n{3}"]).await, expected);
        assert_eq!(read(&["{123", "45678", "90"]).await, [(1, None)]);
    }

    #[tokio::test]
    async fn nothing_at_all_is_no_line() {
        assert_eq!(read(&[]).await, []);
        assert_eq!(read(&["\n \n"]).await, []);
    }
}
