//! How often an address may call where no key is counted. Those whose keys or feeds are good are counted by them, where they
//! are let in.

use std::net::{IpAddr, Ipv6Addr};
use std::task::{Context, Poll};

use axum::extract::Request;
use axum::http::header::{AUTHORIZATION, CONTENT_TYPE, COOKIE};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use baycast_board::KEY_COOKIE;
use baycast_rest::problem::Problem;
use baycast_service::{Error, Service};
use futures::FutureExt;
use futures::future::BoxFuture;

use crate::listen::Peer;

/// What anyone may ask as often as they like: whoever runs the service looks there.
const UNCOUNTED: [&str; 3] = ["/livez", "/readyz", "/grpc.health.v1.Health/"];

/// What begins the paths that hold a token.
const FEEDS: &str = "/feeds/";

/// How proxies name those who call by them, the nearest last.
const FORWARDED_FOR: &str = "x-forwarded-for";

/// Whose requests are counted together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Who {
    /// Those from an address that show no key.
    Keyless(IpAddr),
    /// Those from an address whose keys are not good.
    Wrong(IpAddr),
}

/// A service that turns away addresses that call too often.
#[derive(Clone)]
pub struct Paced<S> {
    /// What answers the others.
    pub inner: S,
    /// Holds how often one may call.
    pub service: Service,
    /// Whether a proxy names those who call.
    pub behind_proxy: bool,
}

impl<S> tower::Service<Request> for Paced<S>
where
    S: tower::Service<Request, Response = Response, Future: Send + 'static>,
    S::Error: Send + 'static,
{
    type Response = Response;
    type Error = S::Error;
    type Future = BoxFuture<'static, Result<Response, S::Error>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request) -> Self::Future {
        let path = request.uri().path();
        let address = address(&request, self.behind_proxy);
        let (Some(rates), Some(address)) = (self.service.rates(), address) else {
            return self.inner.call(request).boxed();
        };
        if UNCOUNTED.iter().any(|own| path.starts_with(own)) {
            return self.inner.call(request).boxed();
        }
        let is_feed = path.starts_with(FEEDS);
        let shows_a_key = is_feed || shows_a_key(request.headers());
        let (keyless, wrong) = (Who::Keyless(address), Who::Wrong(address));
        let counted = if shows_a_key { rates.look(&wrong) } else { rates.take(&keyless) };
        if let Err(error) = counted {
            return std::future::ready(Ok(turned_away(request.headers(), &error))).boxed();
        }
        let (answer, service) = (self.inner.call(request), self.service.clone());
        async move {
            let answer = answer.await?;
            if shows_a_key && was_wrong(&answer, is_feed) {
                let _ = service.rates().map(|rates| rates.take(&wrong));
            }
            Ok(answer)
        }
        .boxed()
    }
}

/// The address that a request is from. Of an IPv6 network of one subscriber, any stands for all.
fn address(request: &Request, behind_proxy: bool) -> Option<IpAddr> {
    let peer = request.extensions().get::<Peer>().map(|Peer(address)| *address);
    let named = behind_proxy.then(|| {
        let last = request.headers().get_all(FORWARDED_FOR).iter().next_back()?.to_str().ok()?;
        last.rsplit(',').next()?.trim().parse::<IpAddr>().ok()
    });
    named.flatten().or(peer).map(|address| match address.to_canonical() {
        IpAddr::V6(address) => IpAddr::V6(Ipv6Addr::from_bits(address.to_bits() >> 64 << 64)),
        address @ IpAddr::V4(_) => address,
    })
}

/// Whether a key is shown, in the header or in the board's cookie.
fn shows_a_key(headers: &HeaderMap) -> bool {
    let holds_one =
        |cookie: &[u8]| cookie.windows(KEY_COOKIE.len()).any(|part| part == KEY_COOKIE.as_bytes());
    headers.contains_key(AUTHORIZATION)
        || headers.get_all(COOKIE).iter().any(|cookie| holds_one(cookie.as_bytes()))
}

/// Whether the answer says that the key, or the feed's token, is not good.
fn was_wrong(answer: &Response, is_feed: bool) -> bool {
    let unauthenticated = answer.headers().get("grpc-status").is_some_and(|status| status == "16");
    unauthenticated
        || answer.status() == StatusCode::UNAUTHORIZED
        || is_feed && answer.status() == StatusCode::NOT_FOUND
}

/// The answer to who calls too often, in the form of what they called.
fn turned_away(request: &HeaderMap, error: &Error) -> Response {
    match request.get(CONTENT_TYPE).filter(|content| content.as_bytes().starts_with(b"application/grpc")) {
        Some(content) => {
            let mut answer: Response = baycast_grpc::status::of(error).into_http();
            answer.headers_mut().insert(CONTENT_TYPE, content.clone());
            answer
        }
        None => Problem::from(error).into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from(peer: &str, forwarded: &[&str]) -> Request {
        let mut request = Request::default();
        request.extensions_mut().insert(Peer(peer.parse().unwrap()));
        for value in forwarded {
            request.headers_mut().append(FORWARDED_FOR, value.parse().unwrap());
        }
        request
    }

    #[test]
    fn a_proxys_word_counts_only_where_there_is_one() {
        let told = |request: &Request, behind| address(request, behind).unwrap().to_string();
        let request = from("127.0.0.1", &["198.51.100.9", "203.0.113.7, 192.0.2.1"]);
        assert_eq!(told(&request, false), "127.0.0.1");
        assert_eq!(told(&request, true), "192.0.2.1");
        for nonsense in [&["unknown"][..], &[]] {
            assert_eq!(told(&from("127.0.0.1", nonsense), true), "127.0.0.1");
        }
    }

    #[test]
    fn addresses_of_one_network_are_one() {
        let told = |peer| address(&from(peer, &[]), false).unwrap();
        assert_eq!(told("2001:db8::1"), told("2001:db8::ffff:1:2"));
        assert_ne!(told("2001:db8::1"), told("2001:db8:0:1::1"));
        assert_eq!(told("::ffff:192.0.2.1"), told("192.0.2.1"));
    }
}
