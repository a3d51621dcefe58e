//! One attempt: look the host up, check where it leads, connect there, send, read the answer.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use baycast_service::destination::{Destination, Destinations};
use baycast_service::records::ClaimedDelivery;
use baycast_service::{Now, Service};
use bytes::Bytes;
use http::Request;
use http::header::{CONTENT_TYPE, HOST, USER_AGENT};
use http_body_util::{BodyExt, Full, Limited};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use rustls::pki_types::ServerName;
use rustls::{ClientConfig, RootCertStore};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::task::JoinSet;
use tokio_rustls::TlsConnector;

use crate::answer::Answer;
use crate::signature::signatures;

/// What messages are (CloudEvents 1.0, JSON format in structured mode).
const CLOUD_EVENT: &str = "application/cloudevents+json; charset=utf-8";

/// Who sends.
const AGENT: &str = concat!("baycast/", env!("CARGO_PKG_VERSION"));

/// Addresses of a host that are tried.
const MOST_ADDRESSES: usize = 4;

/// Bytes of an answer's head that are taken.
const MOST_HEAD: usize = 16 * 1024;

/// Bytes of an answer's body that are read, so that its sender need not see the connection break; they are thrown away.
const MOST_BODY: usize = 64 * 1024;

/// What sends messages.
pub struct Sender {
    service: Service,
    now: Now,
    timeout: Duration,
    tls: TlsConnector,
}

impl Sender {
    /// One that gives an attempt this time, and trusts the authorities that the machine does.
    pub fn new(service: Service, now: Now, timeout: Duration) -> Self {
        let mut roots = RootCertStore::empty();
        roots.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
        if roots.is_empty() {
            tracing::warn!("no certificate authorities are installed: webhooks over https will fail");
        }
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .expect("the provider speaks the default versions of TLS")
            .with_root_certificates(roots)
            .with_no_client_auth();
        Self { service, now, timeout, tls: TlsConnector::from(Arc::new(config)) }
    }

    /// Sends a message once.
    pub async fn send(&self, claim: &ClaimedDelivery) -> Answer {
        let sent = tokio::time::timeout(self.timeout, self.sent(claim)).await;
        match sent {
            Ok(Ok(answer)) => answer,
            Ok(Err(reason)) => Answer::none(reason),
            Err(_) => Answer::none(format!("no answer within {} s", self.timeout.as_secs())),
        }
    }

    async fn sent(&self, claim: &ClaimedDelivery) -> Result<Answer, String> {
        let destinations = self.service.destinations();
        let to = destinations.read(&claim.url).map_err(|refused| format!("not sent: {refused}"))?;
        let addresses = checked(destinations, &to).await?;
        let stream = connected(&addresses).await?;
        let request = self.request(claim, &to)?;
        if to.is_plain() {
            return self.exchanged(stream, request).await;
        }
        let name = ServerName::try_from(to.host.clone()).map_err(|error| format!("TLS: {error}"))?;
        let stream = self.tls.connect(name, stream).await.map_err(|error| format!("TLS: {error}"))?;
        self.exchanged(stream, request).await
    }

    /// The message as a request, signed as of now.
    fn request(&self, claim: &ClaimedDelivery, to: &Destination) -> Result<Request<Full<Bytes>>, String> {
        let (id, timestamp) = (claim.id.to_string(), (self.now)().as_second());
        let signature = signatures(&claim.secrets, &id, timestamp, &claim.body);
        let host = &to.url[url::Position::BeforeHost..url::Position::AfterPort];
        Request::post(&to.url[url::Position::BeforePath..url::Position::AfterQuery])
            .header(HOST, host)
            .header(CONTENT_TYPE, CLOUD_EVENT)
            .header(USER_AGENT, AGENT)
            .header("webhook-id", id)
            .header("webhook-timestamp", timestamp)
            .header("webhook-signature", signature)
            .body(Full::from(claim.body.clone()))
            .map_err(|error| format!("not sent: {error}"))
    }

    /// Sends over a connection and reads the answer.
    async fn exchanged(
        &self,
        stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static,
        request: Request<Full<Bytes>>,
    ) -> Result<Answer, String> {
        let handshake = http1::Builder::new().max_buf_size(MOST_HEAD).handshake(TokioIo::new(stream));
        let (mut sender, connection) = handshake.await.map_err(|error| error.to_string())?;
        // Ended when the answer was read, whatever the receiver does with the connection.
        let mut driving = JoinSet::new();
        driving.spawn(connection);
        let answer = sender.send_request(request).await.map_err(|error| format!("no answer: {error}"))?;
        let (head, body) = answer.into_parts();
        // The status has said it all: a body that is cut short or too long changes nothing.
        let _ = Limited::new(body, MOST_BODY).collect().await;
        Ok(Answer::of(head.status, &head.headers, (self.now)()))
    }
}

/// The addresses that a host leads to and that messages may go to.
async fn checked(destinations: &Destinations, to: &Destination) -> Result<Vec<SocketAddr>, String> {
    let found: Vec<SocketAddr> = if let Ok(address) = to.host.parse::<IpAddr>() {
        vec![(address, to.port).into()]
    } else {
        let looked_up = tokio::net::lookup_host((to.host.as_str(), to.port)).await;
        looked_up.map_err(|error| format!("{}: {error}", to.host))?.collect()
    };
    let mut refused = None;
    let mut admitted = Vec::new();
    for address in found {
        match destinations.admit(&to.host, address.ip(), to.is_plain()) {
            Ok(()) => admitted.push(address),
            Err(reason) => refused = Some(reason),
        }
    }
    match refused {
        Some(reason) if admitted.is_empty() => Err(format!("not sent: {} is {reason}", to.host)),
        _ => Ok(admitted),
    }
}

/// A connection to the first of these addresses that takes one.
async fn connected(addresses: &[SocketAddr]) -> Result<TcpStream, String> {
    let mut failed = "the host has no address".to_owned();
    for address in addresses.iter().take(MOST_ADDRESSES) {
        match TcpStream::connect(address).await {
            Ok(stream) => return Ok(stream),
            Err(error) => failed = format!("no connection: {error}"),
        }
    }
    Err(failed)
}
