//! How long the message of a call may take to come in.

use std::collections::HashSet;
use std::pin::Pin;
use std::sync::LazyLock;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::Request;
use http_body::{Frame, SizeHint};
use prost::Message;
use prost_types::FileDescriptorSet;
use tokio::time::{Instant, Sleep, sleep_until};
use tonic::Status;

use crate::proto::DESCRIPTORS;

/// Paths of the methods to which callers send many messages, over any time: those watch over each of them.
static STREAMS: LazyLock<HashSet<String>> = LazyLock::new(|| {
    let described = FileDescriptorSet::decode(DESCRIPTORS).unwrap_or_default();
    let services = described.file.iter().flat_map(|file| file.service.iter().map(move |own| (file, own)));
    let methods = services.flat_map(|(file, own)| {
        let streams = own.method.iter().filter(|method| method.client_streaming());
        streams.map(move |method| format!("/{}.{}/{}", file.package(), own.name(), method.name()))
    });
    methods.collect()
});

/// The request, whose message is given up where it is not there within `time`.
pub fn timely(request: Request, time: Duration) -> Request {
    if STREAMS.contains(request.uri().path()) {
        return request;
    }
    request.map(|body| Body::new(Timely { body, due: Instant::now() + time, waiting: None }))
}

/// A body that fails once it is due.
struct Timely {
    body: Body,
    due: Instant,
    /// Runs from when the body is waited for at all: most are there with the head.
    waiting: Option<Pin<Box<Sleep>>>,
}

impl HttpBody for Timely {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        let frame = Pin::new(&mut self.body).poll_frame(context);
        if frame.is_pending() {
            let due = self.due;
            let waiting = self.waiting.get_or_insert_with(|| Box::pin(sleep_until(due)));
            ready!(waiting.as_mut().poll(context));
            let late = Status::deadline_exceeded("the message did not come in within the time allowed");
            return Poll::Ready(Some(Err(axum::Error::new(late))));
        }
        frame
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_callers_stream_may_take_any_time() {
        assert_eq!(*STREAMS, HashSet::from(["/baycast.v1.MaturityService/StreamEstimates".to_owned()]));
    }
}
