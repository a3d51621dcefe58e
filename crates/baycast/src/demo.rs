//! `baycast demo`: the records of Larkfield, and what the service answers about them.

use std::io::{self, Write};
use std::net::{SocketAddr, TcpListener};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use baycast_model::estimate::Estimate;
use baycast_model::history::History;
use baycast_records::Records;
use baycast_service::{Input, Limits, Now, Service};
use futures::{StreamExt, TryStreamExt, stream};
use jiff::Timestamp;
use jiff::civil::Date;

use crate::config::Mqtt;
use crate::larkfield::{self, FARM};
use crate::output::{Format, Writer};
use crate::serve;

/// When the demo begins: on the day of which its season tells, so that its batches are live.
const BEGINS: &str = "2026-09-15T08:00:00Z";

/// Where the service of the demo gives them.
const ROUTE: &str = "/v1/examples/larkfield";

/// The media type of a sheet.
const CSV: &str = "text/csv; charset=utf-8";

/// The media type of NDJSON.
const NDJSON: &str = "application/x-ndjson";

/// Show the batches of Larkfield, an invented market garden with seven bays, then serve.
#[derive(Clone, Debug, clap::Args)]
#[group(skip)]
pub struct Args {
    /// Print the estimates and end, without serving.
    #[arg(long)]
    pub once: bool,
    /// How to serve.
    #[command(flatten)]
    pub serve: serve::Args,
}

/// Runs the command.
pub async fn run(args: Args, mqtt: Option<Mqtt>, today: Date) -> ExitCode {
    match show(args, mqtt, today).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Keeps Larkfield's records, prints the table, then serves.
async fn show(mut args: Args, mqtt: Option<Mqtt>, today: Date) -> io::Result<()> {
    if !args.once {
        // A taken port is better told before the table than after it.
        args.serve.listen = free(args.serve.listen)?;
    }
    // Records that nobody named a place for go when the demo ends.
    let folder = tempfile::Builder::new().prefix("baycast-demo-").tempdir()?;
    let store =
        args.serve.store.get_or_insert_with(|| format!("sqlite:{}", folder.path().join("demo.db").display()));
    let now = clock().map_err(io::Error::other)?;
    let histories = records(store, now()).await.map_err(io::Error::other)?;
    let estimates = estimates(&histories, today).await?;
    let mut out = io::BufWriter::new(io::stdout());
    writeln!(out, "Larkfield (invented): a 0.6 ha market garden at 52° N with seven bays\n")?;
    write(Format::Table, &mut out, &estimates)?;
    if args.once {
        return out.flush();
    }
    writeln!(
        out,
        "\nServing until interrupted, with a clock that stands at {BEGINS} now and goes on from there."
    )?;
    writeln!(out, "For one batch as JSON, in another terminal:")?;
    writeln!(out, "{}", curl(args.serve.listen, &histories))?;
    out.flush()?;
    let mut sheet = Vec::new();
    write(Format::Csv, &mut sheet, &estimates)?;
    serve::serve(args.serve, mqtt.as_ref(), example(&histories, sheet)?, now).await
}

/// Tells the time of the demo, which goes on from when it begins.
fn clock() -> Result<Now, jiff::Error> {
    let (begins, started) = (BEGINS.parse::<Timestamp>()?, Instant::now());
    Ok(Arc::new(move || begins.saturating_add(started.elapsed()).unwrap_or(begins)))
}

/// Larkfield's histories out of the records, into which they are put where they are not there yet.
async fn records(
    store: &str,
    now: Timestamp,
) -> Result<Vec<History>, Box<dyn std::error::Error + Send + Sync>> {
    let records = Records::open(store).await?;
    let told = larkfield::histories()?;
    larkfield::keep(&records, &told, now).await?;
    larkfield::keep_season(&records, now).await?;
    let kept = larkfield::kept(&records, &told).await?;
    records.close().await?;
    Ok(kept)
}

/// The estimate of every batch.
async fn estimates(histories: &[History], today: Date) -> io::Result<Vec<Estimate>> {
    let service = Service::new(Limits::default(), Arc::new(move || today));
    let at_once = service.limits().concurrency;
    let asked = histories.iter().map(|history| service.estimate(Input::History(Box::new(history.clone()))));
    stream::iter(asked).buffered(at_once).map_err(io::Error::other).try_collect().await
}

/// Writes the estimates.
fn write(format: Format, out: impl Write, estimates: &[Estimate]) -> io::Result<()> {
    let mut writer = Writer::new(format, out);
    for estimate in estimates {
        writer.put(estimate)?;
    }
    writer.finish()
}

/// The routes that give the histories as NDJSON, and their estimates as a sheet.
fn example(histories: &[History], sheet: Vec<u8>) -> io::Result<Router> {
    let lines = as_lines(histories)?;
    Ok(Router::new()
        .route(ROUTE, get(move || async move { ([(CONTENT_TYPE, NDJSON)], lines) }))
        .route(&format!("{ROUTE}.csv"), get(move || async move { ([(CONTENT_TYPE, CSV)], sheet) })))
}

/// The histories as NDJSON.
fn as_lines(histories: &[History]) -> io::Result<String> {
    let mut lines = String::new();
    for history in histories {
        lines += &serde_json::to_string(history)?;
        lines.push('\n');
    }
    Ok(lines)
}

/// The shell line that asks for the last batch as of its own day.
fn curl(address: SocketAddr, histories: &[History]) -> String {
    let Some(History { batch, as_of: Some(day), .. }) = histories.last() else { return String::new() };
    let batch = batch.replace(' ', "%20");
    format!("  curl -s 'http://{address}/v1/farms/{FARM}/batches/{batch}/estimate?as_of={day}'")
}

/// The address as it can be bound: a free port where it asks for any.
fn free(address: SocketAddr) -> io::Result<SocketAddr> {
    let bound = TcpListener::bind(address).and_then(|listener| listener.local_addr());
    bound.map_err(|error| io::Error::new(error.kind(), format!("{address}: {error}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_hold_what_the_file_holds() {
        let histories = larkfield::histories().unwrap();
        let lines = as_lines(&histories).unwrap();
        let back: Vec<History> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(back, histories);
    }
}
