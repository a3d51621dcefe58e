//! `baycast estimate`: histories from files or standard input, estimates to standard output.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::str::FromStr;
use std::sync::Arc;

use baycast_model::estimate::Estimate;
use baycast_model::history::History;
use baycast_model::moment::Moment;
use baycast_service::{Input as Request, Limits, Service};
use futures::{Stream, StreamExt, stream};
use indicatif::{ProgressBar, ProgressStyle};
use jiff::civil::Date;
use tokio::sync::mpsc;

use crate::input::fault::Fault;
use crate::input::surroundings::Flags;
use crate::input::{Format as From, Found, Input, Told, Writing};
use crate::output::{Format as To, Writer};

/// What sheets hold, for the long help.
const SHEETS: &str = "\
CSV in: a header row, then what was done or seen, one row each, with commas, semicolons or tabs between the cells. \
Columns in any order and by any plain name: `date`, `batch` (or `bay`; the file's name where absent), `temp °C`, \
`core (F)`, `material`, `barrow loads`, `kg`, `depth cm`, `turned`, `notes`. A column `event` says what a row tells of; \
without it, the filled columns do. The columns by their first names, with those that each kind of event uses:
  batch, bay, at, time, event, id, notes
  addition    feedstock; one of mass, volume, barrows, filled to, amount; moisture, preparation, temperature
  reading     temperature (also core, edge); depth, zone, ambient
  moisture    moisture or squeeze (dry, crumbles, damp, drips)
  level       level, or height in %: how high it was seen to stand, as a share of the bay's
  turn, firming
  move        to bay
  merge       source, placement (mixed, on top)
  cover       state (on, off)
  watering    litres
  withdrawal  taken out, volume or barrows; all of it where empty
Units stand in the header or the cell: kg, t, lb; m3, litres, barrows; m, cm, in; °C, °F; %. Numbers may have a \
decimal comma.

CSV out: a header row, then one batch a row: batch, as_of, bay, stage, core_c, edge_c, volume_m3, mass_kg, \
moisture_fraction, c_to_n, maturity_index, respiration (mg CO2-C per g volatile solids and day), degree_days_c, \
measured_fraction; for each of mulch, bed_dressing and potting: its name with _opens_p10, _opens_p50, _opens_p90, \
_best_by_p50 and _binding; advice, trust, next_look, next_look_on.";

/// Estimate batches from files or standard input.
///
/// Takes JSON (one history or an array), NDJSON (one history a line) or CSV (one event a row, columns matched by
/// the names in its header row). Ends with 0 where every batch was served, 1 where some input was wrong (named on
/// standard error with file, line, field and what is accepted; the rest is served) and 2 for wrong usage.
#[derive(Clone, Debug, clap::Args)]
#[command(after_long_help = SHEETS)]
pub struct Args {
    /// Files; `-` is standard input, taken as JSON unless --from says otherwise.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// How the files are written; by their extension (.json, .ndjson, .jsonl, .csv, .tsv) where not given.
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub from: Option<From>,
    /// How the estimates are written.
    #[arg(long, value_enum, value_name = "FORMAT", default_value = "table")]
    pub to: To,
    /// The day to estimate for, in place of each history's own: a date, or `last` for that of its last event.
    #[arg(long, value_name = "DATE|last")]
    pub as_of: Option<AsOf>,
    /// Days for which to say how probable it is that each window has opened by then, in place of each history's own:
    /// at most 24, given again or with commas between them. The table and JSON tell them, CSV has no place for them.
    #[arg(long, value_name = "DATE", value_delimiter = ',')]
    pub ready_by: Vec<Date>,
    /// Say what could be done and what would come of it, whether or not a history asks: leaving it, turning it now or in
    /// two weeks, turning it with wood, covering it. The table and JSON tell it, CSV has no place for it.
    #[arg(long)]
    pub compare_futures: bool,
    /// What a sheet does not say itself.
    #[command(flatten)]
    pub flags: Flags,
}

/// The day to estimate for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AsOf {
    /// This day.
    Day(Date),
    /// The day of the last event.
    Last,
}

impl FromStr for AsOf {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "last" {
            return Ok(Self::Last);
        }
        text.parse().map(Self::Day).map_err(|_| "accepted: a date like 2026-09-15, or `last`".into())
    }
}

impl AsOf {
    /// Sets a history's day.
    fn set(self, history: &mut History) {
        let day = match self {
            Self::Day(day) => Some(day),
            Self::Last => history.events.iter().map(|event| event.at.date()).max(),
        };
        history.as_of = day.map(Moment::Date).or(history.as_of);
    }
}

/// Runs the command with `today` as the day of histories that give none.
pub async fn run(args: Args, today: Date) -> ExitCode {
    match prepare(&args) {
        Ok(inputs) => match serve(&args, inputs, today).await {
            Ok(true) => ExitCode::SUCCESS,
            Ok(false) => ExitCode::from(1),
            // Whoever reads the output has read enough.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("standard output: {error}");
                ExitCode::from(1)
            }
        },
        Err(usage) => {
            eprintln!("error: {usage}\n\nFor more, try 'baycast estimate --help'.");
            ExitCode::from(2)
        }
    }
}

/// Settles formats and surroundings, before anything is read.
fn prepare(args: &Args) -> Result<Vec<Input>, String> {
    if args.files.iter().filter(|path| is_standard_input(path)).count() > 1 {
        return Err("standard input is named twice".into());
    }
    let inputs = args.files.iter().map(|path| {
        let writing = match format(path, args.from)? {
            From::Json => Writing::Json,
            From::Ndjson => Writing::Ndjson,
            From::Csv => Writing::Csv(Box::new(args.flags.surroundings()?)),
        };
        Ok(Input { path: (!is_standard_input(path)).then(|| path.clone()), writing })
    });
    let inputs = inputs.collect::<Result<Vec<_>, String>>()?;
    if args.flags.any() && !inputs.iter().any(|input| matches!(input.writing, Writing::Csv(_))) {
        return Err("--site, --latitude, --bay, --feedstocks, --barrow-m3, --dates, --units and --time-zone are for CSV".into());
    }
    Ok(inputs)
}

/// How one file or standard input is written.
fn format(path: &Path, from: Option<From>) -> Result<From, String> {
    let by_name = || if is_standard_input(path) { Some(From::Json) } else { From::of_extension(path) };
    from.or_else(by_name).ok_or_else(|| {
        format!(
            "{}: its extension is none of .json, .ndjson, .jsonl, .csv and .tsv: give --from",
            path.display()
        )
    })
}

/// Whether a path stands for standard input.
fn is_standard_input(path: &Path) -> bool {
    path == Path::new("-")
}

/// Estimates everything and tells whether all of it was served.
async fn serve(args: &Args, inputs: Vec<Input>, today: Date) -> io::Result<bool> {
    let limits = Limits::default();
    let bar = progress(&inputs);
    let found = read_aside(inputs, limits.concurrency, bar.clone());
    let (as_of, ready_by, compare_futures) = (args.as_of, args.ready_by.clone(), args.compare_futures);
    let found = found.map(move |found| {
        found.map(|mut told| {
            if let Some(as_of) = as_of {
                as_of.set(&mut told.history);
            }
            if !ready_by.is_empty() {
                told.history.ready_by.clone_from(&ready_by);
            }
            told.history.compare_futures |= compare_futures;
            told
        })
    });
    let service = Service::new(limits, Arc::new(move || today));
    let outcome = write(args.to, estimates(service, found), &bar).await;
    bar.finish_and_clear();
    outcome
}

/// Writes answers to standard output and faults to standard error, and tells whether there was no fault.
async fn write(
    to: To,
    answers: impl Stream<Item = Result<Estimate, Vec<Fault>>>,
    bar: &ProgressBar,
) -> io::Result<bool> {
    let mut answers = std::pin::pin!(answers);
    let mut writer = Writer::new(to, io::BufWriter::new(io::stdout().lock()));
    let mut all_served = true;
    while let Some(answer) = answers.next().await {
        match answer {
            Ok(estimate) => bar.suspend(|| writer.put(&estimate))?,
            Err(faults) => {
                all_served = false;
                bar.suspend(|| report(&faults));
            }
        }
    }
    writer.finish()?;
    Ok(all_served)
}

/// The estimate of each history, in order; at most as many at work at once as the service takes.
pub fn estimates(
    service: Service,
    found: impl Stream<Item = Found>,
) -> impl Stream<Item = Result<Estimate, Vec<Fault>>> {
    let at_once = service.limits().concurrency;
    let answers = found.map(move |found| {
        let service = service.clone();
        async move {
            let Told { place, history } = found?;
            service.estimate(Request::History(history)).await.map_err(|error| place.faults(&error))
        }
    });
    answers.buffered(at_once)
}

/// Reads the inputs on a thread of its own, no further ahead than `ahead` histories.
fn read_aside(inputs: Vec<Input>, ahead: usize, bar: ProgressBar) -> impl Stream<Item = Found> {
    let (sender, receiver) = mpsc::channel(ahead);
    std::thread::spawn(move || {
        let mut before = 0;
        for input in inputs {
            let seen = |bytes| bar.set_position(before + bytes);
            let mut deliver = |found| sender.blocking_send(found).is_ok();
            if let Err(error) = input.read(seen, &mut deliver) {
                let fault = Fault::other(&input.name(), None, format_args!("not readable: {error}"));
                let _ = sender.blocking_send(Err(vec![fault]));
            }
            before = bar.position();
        }
    });
    stream::unfold(receiver, async |mut receiver| receiver.recv().await.map(|found| (found, receiver)))
}

/// A progress bar over the bytes read, drawn only where standard error is a terminal.
fn progress(inputs: &[Input]) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let total = inputs.iter().map(Input::size_bytes).sum::<Option<u64>>();
    let (bar, style) = match total {
        Some(bytes) => (ProgressBar::new(bytes), "{bar:40} {bytes} of {total_bytes}, {eta} to go"),
        None => (ProgressBar::new_spinner(), "{spinner} {bytes} read"),
    };
    bar.with_style(ProgressStyle::with_template(style).expect("a fixed template"))
}

/// Names what is wrong, one line a fault.
fn report(faults: &[Fault]) {
    let mut stderr = io::stderr().lock();
    for fault in faults {
        // Nothing can be told of an error stream that is closed.
        let _ = writeln!(stderr, "{fault}");
    }
}
