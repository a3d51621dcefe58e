//! `baycast serve`: REST and gRPC on one port.

use std::convert::Infallible;
use std::io::{self, Write};
use std::net::SocketAddr;
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::http::HeaderValue;
use baycast_mqtt::{Probes, Settings};
use baycast_records::{Error, Records};
use baycast_service::destination::{Destinations, InternalPlace};
use baycast_service::{Limits, Now, Rates, Service};
use baycast_webhooks::{Deliveries, Retries};
use jiff::Timestamp;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::watch;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

use crate::config::Mqtt;
use crate::listen::{Bounds, Certificate, Exposure, Files, Port};
use crate::metrics::{Requests, Sources};
use crate::trace::Export;
use crate::{day_of, metrics, port, trace};

/// How long work in hand is waited for once the service is told to stop.
const DRAIN: Duration = Duration::from_secs(35);

/// Requests a second of one caller from another machine.
const REQUESTS_PER_SECOND: u32 = 50;

/// How many seconds' worth of requests may come at once.
const BURST_S: NonZeroU32 = NonZeroU32::new(4).unwrap();

/// How long who takes nothing of an answer is waited for.
const STUCK: Duration = Duration::from_mins(1);

/// Connections at once to where metrics are told.
const METRICS_CONNECTIONS: usize = 32;

/// Time between two tidyings of the records.
const TIDY: Duration = Duration::from_hours(1);

/// Serve estimates over HTTP (JSON) and gRPC on one port.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// Configuration file (TOML) whose keys are these flags with _ for -, and [mqtt]; flags and environment are stronger.
    #[arg(long, env = "BAYCAST_CONFIG", value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Address and port; port 0 takes a free one. Beyond loopback there must be keys, and TLS here or at a proxy.
    #[arg(long, env = "BAYCAST_LISTEN", value_name = "ADDRESS", default_value = "127.0.0.1:8300")]
    pub listen: SocketAddr,
    /// Records to keep and serve: sqlite:PATH or postgres://USER@HOST/DATABASE; none where not given.
    #[arg(long, env = "BAYCAST_STORE", value_name = "URL", hide_env_values = true)]
    pub store: Option<String>,
    /// Certificate to speak TLS with and those between it and its authority, PEM; read anew when it changes.
    #[arg(long, env = "BAYCAST_TLS_CERTIFICATE", value_name = "FILE")]
    pub tls_certificate: Option<PathBuf>,
    /// The certificate's key, PEM; read anew when it changes.
    #[arg(long, env = "BAYCAST_TLS_KEY", value_name = "FILE")]
    pub tls_key: Option<PathBuf>,
    /// Whether a proxy speaks TLS for this port, which nobody else can reach, and names callers in X-Forwarded-For.
    #[arg(long, env = "BAYCAST_BEHIND_PROXY", value_name = "BOOL", default_value_t = false, action = clap::ArgAction::Set)]
    pub behind_proxy: bool,
    /// Connections at once, as far as the machine allows; beyond them those make room that have been idle for longest.
    #[arg(long, env = "BAYCAST_MAX_CONNECTIONS", value_name = "N", default_value_t = 8192, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub max_connections: u32,
    /// Longest time without a request until a connection is ended, seconds.
    #[arg(long, env = "BAYCAST_IDLE_S", value_name = "S", default_value_t = 120, value_parser = clap::value_parser!(u16).range(1..))]
    pub idle_s: u16,
    /// Longest time for the head of a request, or for a TLS handshake, seconds.
    #[arg(long, env = "BAYCAST_HEAD_S", value_name = "S", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..))]
    pub head_s: u16,
    /// Requests a second of one key, one feed, or one address that shows neither; 0 for any number. Where not given, 50 beyond
    /// loopback and any number on it.
    #[arg(long, env = "BAYCAST_REQUESTS_PER_SECOND", value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1_000_000))]
    pub requests_per_second: Option<u32>,
    /// Requests that these may make at once after a pause; four seconds' worth where not given.
    #[arg(long, env = "BAYCAST_BURST", value_name = "N", value_parser = clap::value_parser!(u32).range(1..=4_000_000))]
    pub burst: Option<u32>,
    /// Address and port on which /metrics is told to Prometheus, to anyone who can reach it; nowhere where not given.
    #[arg(long, env = "BAYCAST_METRICS_LISTEN", value_name = "ADDRESS")]
    pub metrics_listen: Option<SocketAddr>,
    /// Where spans of requests are sent, OTLP over gRPC, such as http://127.0.0.1:4317; nowhere where not given. Headers,
    /// sampling, the service's name and the rest are told by the OTEL_ variables of OpenTelemetry.
    #[arg(long, env = "OTEL_EXPORTER_OTLP_ENDPOINT", value_name = "URL")]
    pub otlp_endpoint: Option<trace::Endpoint>,
    /// How log lines are written to standard error.
    #[arg(long, env = "BAYCAST_LOG", value_enum, value_name = "FORM", default_value = "text")]
    pub log: trace::Form,
    /// Web pages that may call from a browser, by their origin such as https://farm.example; none by default.
    #[arg(long, env = "BAYCAST_CORS_ORIGINS", value_name = "ORIGIN", value_delimiter = ',')]
    pub cors_origin: Vec<HeaderValue>,
    /// Estimates worked on at once; one for each core where not given.
    #[arg(long, env = "BAYCAST_CONCURRENCY", value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub concurrency: Option<u16>,
    /// Most estimates that wait beyond those; 64 for each core where not given. Fewer do where the wait would be long.
    #[arg(long, env = "BAYCAST_QUEUE", value_name = "N")]
    pub queue: Option<u16>,
    /// Longest time for one estimate, seconds.
    #[arg(long, env = "BAYCAST_TIMEOUT_S", value_name = "S", default_value_t = 30, value_parser = clap::value_parser!(u16).range(1..))]
    pub timeout_s: u16,
    /// Memory for what estimates of stored batches worked out, so that an append need not work it out again, MiB.
    #[arg(long, env = "BAYCAST_KEPT_MIB", value_name = "MIB", default_value_t = 256)]
    pub kept_mib: u32,
    /// Whether estimates of stored batches rest on what finished batches of the bay taught, where a caller does not say.
    #[arg(long, env = "BAYCAST_POOL", value_name = "BOOL", default_value_t = true, action = clap::ArgAction::Set)]
    pub pool: bool,
    /// Internal places that webhooks may be at, also over plain http: addresses, ranges such as 10.0.0.0/8, or host names; none
    /// by default.
    #[arg(long, env = "BAYCAST_WEBHOOK_ALLOW_INTERNAL", value_name = "PLACE", value_delimiter = ',')]
    pub webhook_allow_internal: Vec<InternalPlace>,
    /// Longest wait before a message to a webhook is tried for the second time, seconds; it doubles with each attempt, up to
    /// 2160 of it, and what is waited is drawn from none to that.
    #[arg(long, env = "BAYCAST_WEBHOOK_RETRY_BASE_S", value_name = "S", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=3600))]
    pub webhook_retry_base_s: u16,
    /// Attempts until a message to a webhook is given up.
    #[arg(long, env = "BAYCAST_WEBHOOK_ATTEMPTS", value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u16).range(1..=100))]
    pub webhook_attempts: u16,
}

impl Args {
    /// The limits asked for.
    fn limits(&self) -> Limits {
        let own = Limits::default();
        Limits {
            concurrency: self.concurrency.map_or(own.concurrency, usize::from),
            queue: self.queue.map_or(own.queue, usize::from),
            timeout: Duration::from_secs(self.timeout_s.into()),
            kept_bytes: (self.kept_mib as usize) << 20,
            ..own
        }
    }

    /// How often callers may call, where that is bounded.
    fn rates(&self, exposure: Exposure) -> Option<Rates> {
        let own = if exposure == Exposure::Machine { 0 } else { REQUESTS_PER_SECOND };
        let per_second = NonZeroU32::new(self.requests_per_second.unwrap_or(own))?;
        let burst = self.burst.and_then(NonZeroU32::new).unwrap_or(per_second.saturating_mul(BURST_S));
        Some(Rates::new(per_second, burst))
    }

    /// What connections may take.
    fn bounds(&self) -> Bounds {
        let seconds = |seconds: u16| Duration::from_secs(seconds.into());
        Bounds {
            connections: self.max_connections as usize,
            head: seconds(self.head_s),
            idle: seconds(self.idle_s),
            stuck: STUCK,
        }
    }
}

/// How messages to webhooks are sent.
fn webhooks(args: &Args) -> baycast_webhooks::Settings {
    let base = Duration::from_secs(args.webhook_retry_base_s.into());
    let retries = Retries { base, attempts: args.webhook_attempts.into() };
    baycast_webhooks::Settings { retries, ..baycast_webhooks::Settings::default() }
}

/// Runs the command.
pub async fn run(args: Args, mqtt: Option<Mqtt>) -> ExitCode {
    match serve(args, mqtt.as_ref(), Router::new(), Arc::new(Timestamp::now)).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::FAILURE
        }
    }
}

/// What no single setting tells.
#[derive(Debug)]
pub struct Settled {
    mqtt: Option<Settings>,
    certificate: Option<Arc<Certificate>>,
    exposure: Exposure,
}

/// Checks what no single setting tells, and reads the files that settings name.
pub fn settled(args: &Args, mqtt: Option<&Mqtt>) -> Result<Settled, String> {
    let files = match (&args.tls_certificate, &args.tls_key) {
        (Some(certificate), Some(key)) => Some(Files { certificate: certificate.clone(), key: key.clone() }),
        (None, None) => None,
        _ => return Err("`tls_certificate` and `tls_key` are taken together".to_owned()),
    };
    let exposure = Exposure::of(args.listen, files.is_some(), args.behind_proxy)?;
    if args.store.is_none() && exposure.asks_for_keys(false) {
        return Err(format!(
            "`listen`: {} is reachable from other machines, which takes keys, and keys need a place to be kept: set `store`",
            args.listen
        ));
    }
    let certificate = files.map(Certificate::read).transpose().map_err(|reason| format!("TLS: {reason}"))?;
    if mqtt.is_some() && args.store.is_none() {
        return Err("`mqtt`: probes' readings need a place to be kept: set `store`".to_owned());
    }
    let mqtt = mqtt.map(Mqtt::settings).transpose();
    let mqtt = mqtt.map_err(|(field, reason)| format!("`mqtt.{field}`: {reason}"))?;
    Ok(Settled { mqtt, certificate: certificate.map(Arc::new), exposure })
}

/// Serves at the time that `now` tells, with `more` routes beside the service's own, until told to stop; then finishes what
/// is in hand.
///
/// Prints the address on standard output once connections are taken.
pub async fn serve(args: Args, mqtt: Option<&Mqtt>, more: Router, now: Now) -> io::Result<()> {
    let export = args.otlp_endpoint.as_ref().map(Export::to).transpose().map_err(io::Error::other)?.flatten();
    trace::start(args.log, export.as_ref());
    let Settled { mqtt, certificate, exposure } = settled(&args, mqtt).map_err(io::Error::other)?;
    let clock = now.clone();
    let mut service = Service::new(args.limits(), Arc::new(move || day_of(clock())))
        .pooling(args.pool)
        .sending_to(Destinations::allowing(args.webhook_allow_internal.clone()));
    if let Some(rates) = args.rates(exposure) {
        service = service.paced(rates);
    }
    let delivering = webhooks(&args);
    let records = match &args.store {
        Some(url) => Some(open(url, args.listen, exposure).await?),
        None => None,
    };
    if let Some(records) = &records {
        service = service.with_records(records.clone(), now.clone());
    }
    let (bounds, requests) = (args.bounds(), Arc::<Requests>::default());
    let (app, health) =
        port::router(service.clone(), more, args.cors_origin, args.behind_proxy, requests.clone())
            .await
            .map_err(io::Error::other)?;
    let port = Port::bind(args.listen, certificate.as_ref(), bounds)?;
    // Heard from here on: whoever saw the address, or the subscription, may ask.
    let asked_to_stop = asked_to_stop()?;
    let probes = match mqtt {
        Some(settings) => {
            let started = baycast_mqtt::start(service.clone(), now, settings).await;
            Some(started.map_err(|error| io::Error::other(format!("`mqtt`: {error}")))?)
        }
        None => None,
    };
    let deliveries = records
        .is_some()
        .then(|| baycast_webhooks::start(service.clone(), Arc::new(Timestamp::now), delivering));
    let metrics = match args.metrics_listen {
        Some(address) => {
            let sources = Sources {
                requests,
                crowd: port.crowd(),
                service: service.clone(),
                webhooks: deliveries.as_ref().map(Deliveries::tally),
                probes: probes.as_ref().map(Probes::tally),
            };
            Some((Port::bind(address, None, Bounds { connections: METRICS_CONNECTIONS, ..bounds })?, sources))
        }
        None => None,
    };
    writeln!(io::stdout(), "listening on {}", port.url()?)?;

    let (stop, stopped) = watch::channel(false);
    let (mut probes_told, mut deliveries_told) = (stopped.clone(), stopped.clone());
    let telling = tell(metrics, stopped.clone());
    let serving = port.serve(app, stopped);
    let probing = async {
        let _ = probes_told.wait_for(|stopped| *stopped).await;
        if let Some(probes) = probes {
            probes.stop().await;
        }
    };
    let delivering = async {
        let _ = deliveries_told.wait_for(|stopped| *stopped).await;
        if let Some(deliveries) = deliveries {
            deliveries.stop().await;
        }
    };
    let stopping = async {
        asked_to_stop.await;
        tracing::info!("draining");
        service.drain();
        tell_health(&service, &health).await;
        let _ = stop.send(true);
        tokio::time::sleep(DRAIN).await;
        tracing::warn!("work was left undone");
        Ok(())
    };
    let ended = tokio::select! {
        ((), (), (), ()) = async { tokio::join!(serving, telling, probing, delivering) } => Ok(()),
        cut_off = stopping => cut_off,
        () = keep_up(certificate.as_deref()) => Ok(()),
        never = service.follow_outages(async || tell_health(&service, &health).await) => match never {},
        never = keep_tidy(&service), if records.is_some() => match never {},
        ended = service.publish_readiness(), if records.is_some() => match ended {
            Ok(never) => match never {},
            Err(error) => Err(io::Error::other(error)),
        },
    };
    drop(service);
    if let Some(records) = records.and_then(Arc::into_inner) {
        records.close().await.map_err(io::Error::other)?;
    }
    if let Some(export) = export {
        export.end().await;
    }
    ended
}

/// Has gRPC's health service say what `/readyz` says: of the server as a whole, and of the records in it.
async fn tell_health(service: &Service, health: &HealthReporter) {
    let status = if service.outage().is_none() { ServingStatus::Serving } else { ServingStatus::NotServing };
    for name in ["", baycast_grpc::RECORDS_SERVICE] {
        health.set_service_status(name, status).await;
    }
}

/// Throws out what the records need no longer, now and once an hour.
async fn keep_tidy(service: &Service) -> Infallible {
    loop {
        if let Err(error) = service.tidy().await {
            tracing::warn!(%error, "the records could not be tidied");
        }
        tokio::time::sleep(TIDY).await;
    }
}

/// Tells what goes on, where it is asked for.
async fn tell(metrics: Option<(Port, Sources)>, stopped: watch::Receiver<bool>) {
    let Some((port, sources)) = metrics else { return };
    if let Ok(url) = port.url() {
        tracing::info!("metrics on {url}/metrics");
    }
    port.serve(metrics::router(sources), stopped).await;
}

/// Follows the certificate's files, where there are any.
async fn keep_up(certificate: Option<&Certificate>) {
    match certificate {
        Some(certificate) => certificate.keep_up().await,
        None => std::future::pending().await,
    }
}

/// Opens the records, and says so where anyone on this machine may use them; where others could, there must be keys.
async fn open(url: &str, address: SocketAddr, exposure: Exposure) -> io::Result<Arc<Records>> {
    let records = Records::open(url).await.map_err(io::Error::other)?;
    // SQLite would go on reading only, for as long as the file is open.
    if let Err(error @ Error::ReadOnly { .. }) = records.try_writing().await {
        return Err(io::Error::other(error));
    }
    if !records.has_keys().await.map_err(io::Error::other)? {
        if exposure.asks_for_keys(true) {
            return Err(io::Error::other(format!(
                "`listen`: {address} is reachable from other machines, and there are no API keys yet: \
                 `baycast keys create` makes the first one"
            )));
        }
        tracing::warn!(
            "there are no API keys yet: whoever is on this machine may read and change everything; \
             `baycast keys create` makes the first key, from which on every call needs one"
        );
    }
    Ok(Arc::new(records))
}

/// Listens for SIGTERM and SIGINT at once; ends when either came.
fn asked_to_stop() -> io::Result<impl Future<Output = ()>> {
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    Ok(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
    })
}
