//! One connection, from its handshake to its end.

use std::convert::Infallible;
use std::net::IpAddr;
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, HttpBody};
use axum::http::{HeaderName, HeaderValue, Request};
use bytes::Bytes;
use futures::StreamExt;
use futures::future::Either;
use futures::stream::FuturesUnordered;
use hyper::body::{Frame, Incoming, SizeHint};
use hyper::service::service_fn;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::sync::watch;
use tokio_rustls::TlsAcceptor;
use tower::Service;

use crate::listen::pulse::{Pulse, UnderWay};
use crate::listen::watched::Watched;

/// Longest head of a request, bytes.
const HEAD_BYTES: usize = 32 << 10;

/// Most headers of a request.
const HEADERS: usize = 100;

/// Most requests at once on one connection in HTTP/2.
const STREAMS: u32 = 200;

/// Most requests in HTTP/2 that were taken back before they were looked at; a connection with more ends (CVE-2023-44487).
const TAKEN_BACK: usize = 20;

/// Most requests in HTTP/2 that were refused for a fault of their own; a connection with more ends (CVE-2025-8671).
const FAULTY: usize = 100;

/// Bytes of an answer in HTTP/2 that wait for its reader.
const WAITING_BYTES: usize = 64 << 10;

/// How often the other side of a connection in HTTP/2 is asked whether it is still there.
const PING: Duration = Duration::from_secs(30);

/// How long its answer is waited for.
const PONG: Duration = Duration::from_secs(20);

/// How long a connection that is to end may take to say so.
const GOODBYE: Duration = Duration::from_secs(1);

/// How proxies tell what the other side spoke.
const PROTOCOL: HeaderName = HeaderName::from_static("x-forwarded-proto");

/// What connections may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// Connections at once.
    pub connections: usize,
    /// Longest time for a handshake, and for the head of a request from its first byte on.
    pub head: Duration,
    /// Longest time without a request.
    pub idle: Duration,
    /// Longest time for which the other side takes nothing of an answer.
    pub stuck: Duration,
}

/// The address from which a connection was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Peer(pub IpAddr);

/// What connections are served with.
pub struct Server {
    app: Router,
    tls: Option<TlsAcceptor>,
    http: auto::Builder<TokioExecutor>,
    bounds: Bounds,
}

impl Server {
    /// Answers with `app`.
    pub fn new(app: Router, tls: Option<TlsAcceptor>, bounds: Bounds) -> Self {
        let mut http = auto::Builder::new(TokioExecutor::new());
        // The time that a head may take is counted by the connection's pulse, from its first byte on.
        http.http1().header_read_timeout(None).max_buf_size(HEAD_BYTES).max_headers(HEADERS);
        http.http2()
            .timer(TokioTimer::new())
            .max_header_list_size(HEAD_BYTES as u32)
            .max_concurrent_streams(STREAMS)
            .max_pending_accept_reset_streams(TAKEN_BACK)
            .max_local_error_reset_streams(FAULTY)
            .max_send_buf_size(WAITING_BYTES)
            .keep_alive_interval(PING)
            .keep_alive_timeout(PONG);
        Self { app, tls, http, bounds }
    }

    /// Serves a connection until it ends, takes too long or has to make room.
    pub async fn attend(
        &self,
        stream: TcpStream,
        peer: IpAddr,
        pulse: &Arc<Pulse>,
        stopped: watch::Receiver<bool>,
    ) {
        // An answer is written whole: waiting to fill a packet only delays it.
        let _ = stream.set_nodelay(true);
        let Some(tls) = &self.tls else { return self.speak(stream, peer, pulse, stopped).await };
        let shaken = tokio::select! {
            shaken = tokio::time::timeout(self.bounds.head, tls.accept(stream)) => shaken,
            () = pulse.unwanted() => return,
        };
        match shaken {
            Ok(Ok(stream)) => self.speak(stream, peer, pulse, stopped).await,
            Ok(Err(error)) => tracing::debug!(%peer, %error, "no TLS"),
            Err(_) => tracing::debug!(%peer, "no TLS in time"),
        }
    }

    /// Serves what is asked on a stream.
    async fn speak<S: AsyncRead + AsyncWrite + Unpin + Send + 'static>(
        &self,
        stream: S,
        peer: IpAddr,
        pulse: &Arc<Pulse>,
        mut stopped: watch::Receiver<bool>,
    ) {
        let (app, over_tls) = (self.app.clone(), self.tls.is_some());
        let asked = pulse.clone();
        let service = service_fn(move |request: Request<Incoming>| {
            let under_way = asked.asked();
            let mut request = request.map(Body::new);
            request.extensions_mut().insert(Peer(peer));
            if over_tls {
                request.headers_mut().insert(PROTOCOL, HeaderValue::from_static("https"));
            }
            let answer = app.clone().call(request);
            async move { Ok::<_, Infallible>(answer.await?.map(|body| Answer { body, _under_way: under_way })) }
        });
        let stream = TokioIo::new(Watched::new(stream, pulse.clone()));
        let mut connection = pin!(self.http.serve_connection(stream, service));
        // Asked only when it has something to say, and not whenever something passes the connection.
        let mut end = FuturesUnordered::from_iter([async {
            tokio::select! {
                () = pulse.unwanted() => End::Now,
                _ = stopped.wait_for(|stopped| *stopped) => End::Stopping,
                () = pulse.overdue(&self.bounds) => End::Overdue,
            }
        }]);
        let end = tokio::select! {
            biased;
            _ = connection.as_mut() => return,
            end = end.next() => end.unwrap_or(End::Now),
        };
        if end == End::Now {
            return;
        }
        connection.as_mut().graceful_shutdown();
        // What is under way when the service stops is finished; who is overdue has only the time to be told.
        let patience = if end == End::Stopping {
            Either::Left(pulse.overdue(&self.bounds))
        } else {
            Either::Right(tokio::time::sleep(GOODBYE))
        };
        tokio::select! {
            _ = connection => {}
            () = patience => {}
        }
    }
}

/// Why a connection is to end.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    /// It has to make room.
    Now,
    /// The service stops.
    Stopping,
    /// It takes too long.
    Overdue,
}

/// The body of an answer, whose request is under way until it is sent.
struct Answer {
    body: Body,
    _under_way: UnderWay,
}

impl HttpBody for Answer {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(context)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}
