//! `baycast bring`: notes into a farm's records.

use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use baycast_model::problem::{Problem, Problems};
use baycast_service::records::{AppendMode, BringIn, BringInFormat, BringInInput, BroughtIn, BroughtInEvent};
use baycast_service::{Caller, Error, Limits, Service};
use jiff::Timestamp;
use jiff::civil::Date;

use crate::input::fault::Fault;
use crate::input::writing::{Dates, Units};
use crate::output::words;
use crate::store;

/// Bring notes into a farm's records: sheets of any of its batches, or events in bulk.
///
/// Each file is recorded whole or, where one of its lines is refused, not at all; with --keep-good the other lines are
/// kept. What became of each line is printed. A row of a sheet that gives no id gets one made from what it says, so that
/// the same sheet twice adds nothing. Ends with 0 where nothing was refused, 1 where something was or a file could not be
/// read, and 2 for wrong usage.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// The farm's id.
    pub farm: String,
    /// Sheets (.csv, .tsv; `baycast estimate --help` tells their columns), JSON or NDJSON; `-` is standard input, taken as
    /// a sheet unless --from says otherwise.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// How the files are written; by their extension where not given.
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub from: Option<From>,
    /// Only say what would become of each line.
    #[arg(long)]
    pub dry_run: bool,
    /// Keep the good lines of a file of which others are refused.
    #[arg(long)]
    pub keep_good: bool,
    /// How sheets write dates in figures.
    #[arg(long, value_enum, value_name = "DATES", default_value = "iso")]
    pub dates: Dates,
    /// What temperatures are in where neither header nor cell says so.
    #[arg(long, value_enum, value_name = "UNITS", default_value = "c")]
    pub units: Units,
    #[command(flatten)]
    pub store: store::Place,
}

/// How a file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum From {
    /// A sheet; commas, semicolons or tabs between cells.
    Csv,
    /// A sheet with tabs between cells.
    Tsv,
    /// One document: {"events": [{"batch": …, "event": …}]}.
    Json,
    /// {"batch": …, "event": …} on each line.
    Ndjson,
}

impl From {
    /// The format that a file's name promises.
    fn of(path: &Path) -> Option<Self> {
        if path == Path::new("-") {
            return Some(Self::Csv);
        }
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "csv" => Some(Self::Csv),
            "tsv" | "tab" => Some(Self::Tsv),
            "json" => Some(Self::Json),
            "ndjson" | "jsonl" => Some(Self::Ndjson),
            _ => None,
        }
    }

    fn format(self) -> BringInFormat {
        match self {
            Self::Csv => BringInFormat::Csv,
            Self::Tsv => BringInFormat::Tsv,
            Self::Json => BringInFormat::Json,
            Self::Ndjson => BringInFormat::Ndjson,
        }
    }
}

/// Runs the command; `now` tells the time that stands beside what is recorded.
pub async fn run(args: Args, today: fn() -> Date, now: fn() -> Timestamp) -> ExitCode {
    let formats: Result<Vec<_>, &PathBuf> =
        args.files.iter().map(|file| args.from.or_else(|| From::of(file)).ok_or(file)).collect();
    match formats {
        Ok(formats) => match bring(&args, &formats, today, now).await {
            Ok(true) => ExitCode::SUCCESS,
            Ok(false) => ExitCode::FAILURE,
            Err(error) => store::ended(Err(error)),
        },
        Err(file) => {
            let name = file.display();
            eprintln!(
                "error: {name}: its extension is none of .csv, .tsv, .json, .ndjson and .jsonl: give --from"
            );
            ExitCode::from(2)
        }
    }
}

/// Brings all files in, one after the other, and tells whether nothing was refused.
async fn bring(
    args: &Args,
    formats: &[From],
    today: fn() -> Date,
    now: fn() -> Timestamp,
) -> Result<bool, String> {
    let records = Arc::new(args.store.open().await?);
    let service =
        Service::new(Limits::default(), Arc::new(today)).with_records(records.clone(), Arc::new(now));
    let caller = Caller::of_the_store();
    let how = BringIn {
        mode: if args.keep_good { AppendMode::KeepGood } else { AppendMode::AllOrNothing },
        dry_run: args.dry_run,
        dates: args.dates.into(),
        units: args.units.into(),
    };
    let mut out = BufWriter::new(io::stdout().lock());
    let mut all_good = true;
    for (file, format) in args.files.iter().zip(formats) {
        let name = if file == Path::new("-") { "standard input".into() } else { file.display().to_string() };
        let limit = service.limits().max_bring_in_bytes;
        let text = match read(file, limit) {
            Ok(text) => text,
            Err(error) => {
                eprintln!("error: {name}: {error}");
                all_good = false;
                continue;
            }
        };
        let input = BringInInput::Text(format.format(), text.into());
        let told = match service.bring_in(&caller, &args.farm, input, how, None).await {
            Ok(brought) => {
                all_good &= brought.refused == 0;
                report(&mut out, &name, &brought, args.dry_run)
            }
            Err(Error::Invalid(problems)) => {
                all_good = false;
                nothing_kept(&mut out, &name, &problems)
            }
            Err(error) => return Err(format!("{name}: {error}")),
        };
        told.and_then(|()| out.flush()).map_err(|error| format!("standard output: {error}"))?;
    }
    drop(service);
    match Arc::into_inner(records) {
        Some(records) => records.close().await.map_err(|error| error.to_string())?,
        None => return Err("the records are still in use".to_owned()),
    }
    Ok(all_good)
}

/// The text of a file or of standard input, where it is not more than may be taken.
fn read(path: &Path, limit: usize) -> io::Result<Vec<u8>> {
    let source: Box<dyn Read> =
        if path == Path::new("-") { Box::new(io::stdin()) } else { Box::new(std::fs::File::open(path)?) };
    let mut text = Vec::new();
    source.take(limit as u64 + 1).read_to_end(&mut text)?;
    if text.len() > limit {
        return Err(io::Error::other(format!("more than {limit} bytes; at most {limit} are taken at once")));
    }
    Ok(text)
}

/// Prints what became of each line, and the counts.
fn report(out: &mut impl Write, file: &str, brought: &BroughtIn, dry_run: bool) -> io::Result<()> {
    let BroughtIn { items, added, replaced, unchanged, refused } = brought;
    for item in items {
        let BroughtInEvent { line, batch, id: _, external_id, outcome, errors } = item;
        if errors.is_empty() {
            let own = external_id.as_deref().unwrap_or("an event without an id of its own");
            writeln!(out, "{file}:{line}: {}: {batch}: {own}", words::id(outcome))?;
        }
        for Problem { pointer, value, accepted } in errors {
            let place = format!("{file}:{line}: refused");
            writeln!(out, "{}", Fault::value(&place, None, pointer, value, accepted))?;
        }
    }
    let written = if dry_run { "; a dry run: nothing was written" } else { "" };
    writeln!(
        out,
        "{file}: {added} added, {replaced} replaced, {unchanged} unchanged, {refused} refused{written}"
    )
}

/// Prints what is wrong with a file of which nothing was kept.
fn nothing_kept(out: &mut impl Write, file: &str, problems: &Problems) -> io::Result<()> {
    for problem in &problems.0 {
        let Problem { pointer, value, accepted } = problem;
        let rest = pointer.strip_prefix("/lines/").map(|rest| rest.split_once('/').unwrap_or((rest, "")));
        let (line, field) = match rest {
            Some((line, field)) => (line.parse().ok(), field.replace("~1", "/").replace("~0", "~")),
            None => (None, pointer.clone()),
        };
        writeln!(out, "{}", Fault::value(file, line, &field, value, accepted))?;
    }
    writeln!(out, "{file}: nothing was recorded; --keep-good keeps the good lines")
}
