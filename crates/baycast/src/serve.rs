//! `baycast serve`: REST and gRPC on one port.

use std::convert::Infallible;
use std::io::{self, Write};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::http::HeaderValue;
use axum::serve::ListenerExt;
use baycast_mqtt::Settings;
use baycast_records::Records;
use baycast_service::destination::{Destinations, InternalPlace};
use baycast_service::{Limits, Now, Service};
use baycast_webhooks::Retries;
use jiff::Timestamp;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::watch;
use tonic_health::ServingStatus;

use crate::config::Mqtt;
use crate::{day_of, port, trace};

/// How long work in hand is waited for once the service is told to stop.
const DRAIN: Duration = Duration::from_secs(35);

/// Time between two tidyings of the records.
const TIDY: Duration = Duration::from_hours(1);

/// Serve estimates over HTTP (JSON) and gRPC on one port.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// Configuration file (TOML) whose keys are these flags with _ for -, and [mqtt]; flags and environment are stronger.
    #[arg(long, env = "BAYCAST_CONFIG", value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Address and port; port 0 takes a free one. Only loopback addresses for now.
    #[arg(long, env = "BAYCAST_LISTEN", value_name = "ADDRESS", default_value = "127.0.0.1:8300")]
    pub listen: SocketAddr,
    /// Records to keep and serve: sqlite:PATH or postgres://USER@HOST/DATABASE; none where not given.
    #[arg(long, env = "BAYCAST_STORE", value_name = "URL", hide_env_values = true)]
    pub store: Option<String>,
    /// How log lines are written to standard error.
    #[arg(long, env = "BAYCAST_LOG", value_enum, value_name = "FORM", default_value = "text")]
    pub log: trace::Form,
    /// Web pages that may call from a browser, by their origin such as https://farm.example; none by default.
    #[arg(long, env = "BAYCAST_CORS_ORIGINS", value_name = "ORIGIN", value_delimiter = ',')]
    pub cors_origin: Vec<HeaderValue>,
    /// Estimates worked on at once; one for each core where not given.
    #[arg(long, env = "BAYCAST_CONCURRENCY", value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub concurrency: Option<u16>,
    /// Estimates that wait beyond those; 64 for each core where not given.
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

/// Checks what no single setting tells, and reads the settings for MQTT.
pub fn settings(args: &Args, mqtt: Option<&Mqtt>) -> Result<Option<Settings>, String> {
    if !args.listen.ip().is_loopback() {
        return Err(format!(
            "{} is reachable from other machines, and there are no keys and no TLS yet: give a loopback address \
             such as 127.0.0.1:8300",
            args.listen
        ));
    }
    if mqtt.is_some() && args.store.is_none() {
        return Err("`mqtt`: probes' readings need a place to be kept: set `store`".to_owned());
    }
    let settings = mqtt.map(Mqtt::settings).transpose();
    settings.map_err(|(field, reason)| format!("`mqtt.{field}`: {reason}"))
}

/// Serves at the time that `now` tells, with `more` routes beside the service's own, until told to stop; then finishes what
/// is in hand.
///
/// Prints the address on standard output once connections are taken.
pub async fn serve(args: Args, mqtt: Option<&Mqtt>, more: Router, now: Now) -> io::Result<()> {
    trace::start(args.log);
    let mqtt = settings(&args, mqtt).map_err(io::Error::other)?;
    let clock = now.clone();
    let mut service = Service::new(args.limits(), Arc::new(move || day_of(clock())))
        .pooling(args.pool)
        .sending_to(Destinations::allowing(args.webhook_allow_internal.clone()));
    let delivering = webhooks(&args);
    let records = match &args.store {
        Some(url) => Some(open(url).await.map_err(io::Error::other)?),
        None => None,
    };
    if let Some(records) = &records {
        service = service.with_records(records.clone(), now.clone());
    }
    let (app, health) =
        port::router(service.clone(), more, args.cors_origin).await.map_err(io::Error::other)?;
    let listener = TcpListener::bind(args.listen).await?;
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
    writeln!(io::stdout(), "listening on http://{}", listener.local_addr()?)?;

    let (stop, stopped) = watch::channel(false);
    let (mut told, mut probes_told, mut deliveries_told) = (stopped.clone(), stopped.clone(), stopped);
    let listener = listener.tap_io(|stream| {
        // An answer is written whole: waiting to fill a packet only delays it.
        let _ = stream.set_nodelay(true);
    });
    let serving = axum::serve(listener, app)
        .with_graceful_shutdown(async move {
            let _ = told.wait_for(|stopped| *stopped).await;
        })
        .into_future();
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
        health.set_service_status("", ServingStatus::NotServing).await;
        let _ = stop.send(true);
        tokio::time::sleep(DRAIN).await;
        tracing::warn!("work was left undone");
        Ok(())
    };
    let ended = tokio::select! {
        (served, (), ()) = async { tokio::join!(serving, probing, delivering) } => served,
        cut_off = stopping => cut_off,
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
    ended
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

/// Opens the records, and says so where anyone on this machine may use them.
async fn open(url: &str) -> baycast_records::Result<Arc<Records>> {
    let records = Records::open(url).await?;
    if !records.has_keys().await? {
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
