//! How long the message of a call may take to come in.

use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::Request;
use http_body::{Frame, SizeHint};
use tokio::time::{Instant, Sleep, sleep_until};
use tonic::Status;

use crate::methods;

/// The request, whose message is given up where it is not there within `time`.
pub fn timely(request: Request, time: Duration) -> Request {
    if methods::takes_a_stream(request.uri().path()) {
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
