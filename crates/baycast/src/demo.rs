//! `baycast demo`: Larkfield, a market garden that was invented to show what the product answers.

use std::io::{self, Write};
use std::net::{SocketAddr, TcpListener};
use std::process::ExitCode;
use std::sync::Arc;

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use baycast_model::history::History;
use baycast_service::{Limits, Service};
use futures::{StreamExt, stream};
use jiff::civil::Date;

use crate::config::Mqtt;
use crate::input::{Found, json};
use crate::output::{Format, Writer};
use crate::{estimate, serve};

/// Its batches' histories.
const LARKFIELD: &[u8] = include_bytes!("../demo/larkfield.json");

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

/// Prints the table, then serves.
async fn show(mut args: Args, mqtt: Option<Mqtt>, today: Date) -> io::Result<()> {
    if args.once {
        return print(today).await;
    }
    // A taken port is better told before the table than after it.
    args.serve.listen = free(args.serve.listen)?;
    print(today).await?;
    let mut out = io::stdout();
    writeln!(out, "\nServing until interrupted. For the same as JSON, in another terminal:")?;
    writeln!(out, "{}", curl(args.serve.listen))?;
    out.flush()?;
    let mut sheet = Vec::new();
    write(Format::Csv, &mut sheet, today).await?;
    serve::serve(args.serve, mqtt.as_ref(), example(sheet)?).await
}

/// Prints the estimates of every batch in plain words.
async fn print(today: Date) -> io::Result<()> {
    let mut out = io::BufWriter::new(io::stdout());
    writeln!(out, "Larkfield (invented): a 0.6 ha market garden at 52° N with seven bays\n")?;
    write(Format::Table, out, today).await
}

/// Writes the estimates of every batch.
async fn write(format: Format, out: impl Write, today: Date) -> io::Result<()> {
    let service = Service::new(Limits::default(), Arc::new(move || today));
    let mut answers = std::pin::pin!(estimate::estimates(service, stream::iter(larkfield()?)));
    let mut writer = Writer::new(format, out);
    while let Some(answer) = answers.next().await {
        match answer {
            Ok(estimate) => writer.put(&estimate)?,
            Err(faults) => return Err(io::Error::other(faults[0].to_string())),
        }
    }
    writer.finish()
}

/// Larkfield's histories, each where it stands in the file.
fn larkfield() -> io::Result<Vec<Found>> {
    let mut found = Vec::new();
    json::read(LARKFIELD, "larkfield.json", &mut |each| {
        found.push(each);
        true
    })?;
    Ok(found)
}

/// The routes that give the histories as NDJSON, and their estimates as a sheet.
fn example(sheet: Vec<u8>) -> io::Result<Router> {
    let histories: Vec<History> = serde_json::from_slice(LARKFIELD)?;
    let lines = as_lines(&histories)?;
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

/// The shell line that has the service estimate its own example.
fn curl(address: SocketAddr) -> String {
    format!(
        "  curl -s http://{address}{ROUTE} | curl -sN --data-binary @- -H 'content-type: {NDJSON}' \
         http://{address}/v1/estimates:stream"
    )
}

/// The address as it can be bound: a free port where it asks for any.
fn free(address: SocketAddr) -> io::Result<SocketAddr> {
    let bound = TcpListener::bind(address).and_then(|listener| listener.local_addr());
    bound.map_err(|error| io::Error::new(error.kind(), format!("{address}: {error}")))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use baycast_model::history::Event;
    use baycast_model::moment::Moment;

    use super::*;

    fn histories() -> Vec<History> {
        larkfield().unwrap().into_iter().map(|found| *found.unwrap().history).collect()
    }

    fn events() -> Vec<Event> {
        histories().into_iter().flat_map(|history| history.events).collect()
    }

    #[test]
    fn seven_bays_stand_as_described() {
        let bays: BTreeSet<(String, String)> = histories()
            .iter()
            .flat_map(|history| [&history.bay].into_iter().chain(&history.other_bays))
            .map(|bay| (bay.id.clone(), format!("{:.1}", bay.capacity_m3())))
            .collect();
        let sizes: Vec<&str> = bays.iter().map(|(_, size_m3)| size_m3.as_str()).collect();
        assert_eq!(sizes, ["1.1", "1.1", "1.1", "0.6", "0.6", "3.0", "3.0"]);
    }

    #[test]
    fn the_season_has_the_gaps_and_faults_of_real_notes() {
        let events = events();
        let fahrenheit: Vec<Moment> = events
            .iter()
            .filter(|event| event.reading.is_some_and(|reading| reading.temperature_f.is_some()))
            .map(|event| event.at)
            .collect();
        assert_eq!(fahrenheit.len(), 7, "a week in °F: {fahrenheit:?}");
        let stuck =
            events.iter().filter(|event| event.reading.is_some_and(|it| it.temperature_c == Some(66.5)));
        assert!(stuck.count() >= 10, "a stuck probe");
        let unweighed = events.iter().filter_map(|event| event.addition.as_ref()).filter(|addition| {
            addition
                .mass_kg
                .or(addition.volume_m3)
                .or(addition.barrows)
                .or(addition.filled_to_fraction)
                .is_none()
        });
        assert_eq!(unweighed.count(), 1, "one addition of which no amount is known");
        let mut days: Vec<f64> = histories()
            .iter()
            .find(|history| history.batch == "timber-1 spring")
            .unwrap()
            .events
            .iter()
            .filter(|event| event.reading.is_some())
            .map(|event| event.at.days())
            .collect();
        days.sort_by(f64::total_cmp);
        assert!(days.windows(2).any(|pair| pair[1] - pair[0] > 30.0), "a month without readings");
    }

    #[test]
    fn the_lines_hold_what_the_file_holds() {
        let histories = histories();
        let lines = as_lines(&histories).unwrap();
        let back: Vec<History> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(back, histories);
    }
}
