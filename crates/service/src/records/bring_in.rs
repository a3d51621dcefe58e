//! Bringing in: any number of events of any of a farm's batches, from a sheet or in bulk, answered line by line.

use baycast_model::problem::{Problem, Problems};
use baycast_records::{Append, Clash, Entry, Error as Declined, Mode, Placed, Scope};
use bytes::Bytes;

use crate::error::Error;
use crate::hash::sha256_hex;
use crate::records::brought::{self, BatchEvent, Line};
use crate::records::caller::Caller;
use crate::records::events::{AppendMode, AppendOutcome, Appended};
use crate::records::refusal;
use crate::records::sheet_names::Known;
use crate::records::store::Store;
use crate::service::Service;
use crate::sheet::{SheetDates, SheetUnits};

/// Entries of one transaction where the good ones are kept, so that other writers get their turn in between.
const CHUNK: usize = 1000;

/// Most problems told of what is refused as a whole.
const MOST_PROBLEMS: usize = 1000;

/// How what is brought in is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BringInFormat {
    /// A sheet with commas, semicolons or tabs between cells, whichever its header has.
    Csv,
    /// A sheet with tabs between cells.
    Tsv,
    /// `{"events": [{"batch": …, "event": …}]}`.
    Json,
    /// `{"batch": …, "event": …}` on each line.
    Ndjson,
}

/// What is brought in.
#[derive(Clone, Debug)]
pub enum BringInInput {
    /// A text.
    Text(BringInFormat, Bytes),
    /// Events that are read already.
    Events(Vec<BatchEvent>),
}

/// How to bring it in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BringIn {
    /// What becomes of the other events where one is refused.
    pub mode: AppendMode,
    /// Whether only to say what would become of each.
    pub dry_run: bool,
    /// How a sheet writes dates in figures.
    pub dates: SheetDates,
    /// What a sheet's temperatures are in where nothing says so.
    pub units: SheetUnits,
}

impl BringIn {
    /// Whether nothing is kept where one event is refused. A dry run goes on, to say what would become of each.
    fn all_or_nothing(self) -> bool {
        self.mode == AppendMode::AllOrNothing && !self.dry_run
    }
}

/// What became of what was brought in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BroughtIn {
    /// What became of each event, in order.
    pub items: Vec<BroughtInEvent>,
    /// How many were recorded as new.
    pub added: u64,
    /// How many were recorded in place of another.
    pub replaced: u64,
    /// How many were there already.
    pub unchanged: u64,
    /// How many were not recorded.
    pub refused: u64,
}

/// What became of an event that was brought in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BroughtInEvent {
    /// The line that it stands on, from 1; in a list, its place in it.
    pub line: u64,
    /// The batch's id; as it was given where there is none such.
    pub batch: String,
    /// Id of the recorded event; none where it was refused and in a dry run.
    pub id: Option<String>,
    /// The event's own id, given or made from its row.
    pub external_id: Option<String>,
    /// What became of it, or would.
    pub outcome: AppendOutcome,
    /// Everything that is wrong with it, by the columns of a sheet or as JSON Pointers into the line.
    pub errors: Vec<Problem>,
}

impl BroughtIn {
    /// Adds what became of a line.
    fn push(&mut self, line: Line, taken: Option<Appended>) {
        let Line { number, batch, event, .. } = line;
        let (external_id, errors) = match event {
            Ok(event) => (event.id, Vec::new()),
            Err(errors) => (None, errors),
        };
        let outcome = taken.as_ref().map_or(AppendOutcome::Refused, |taken| taken.outcome);
        match outcome {
            AppendOutcome::Added => self.added += 1,
            AppendOutcome::Replaced => self.replaced += 1,
            AppendOutcome::Unchanged => self.unchanged += 1,
            AppendOutcome::Retracted => {}
            AppendOutcome::Refused => self.refused += 1,
        }
        let id = taken.map(|taken| taken.id);
        self.items.push(BroughtInEvent { line: number, batch, id, external_id, outcome, errors });
    }
}

impl Service {
    /// Records many events of any of a farm's batches.
    ///
    /// An event with an own id takes the place of the one recorded under it before, and is left as it is where it says the
    /// same; each row of a sheet gets an own id made from what it says, so that the same sheet twice adds nothing. Where
    /// nothing is kept because of some events, they are the problems of the error. Where the good ones are kept they are
    /// recorded some at a time: after an error that is worth a repetition some may be kept, which own ids or an idempotency
    /// key make harmless. A dry run decides by the same rules, says what would become of each event, and writes nothing.
    pub async fn bring_in(
        &self,
        caller: &Caller,
        farm: &str,
        input: BringInInput,
        how: BringIn,
        idempotency_key: Option<&str>,
    ) -> Result<BroughtIn, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let mut lines = self.lines(store, farm, input, how).await?;
        if how.all_or_nothing() {
            all_good(&lines)?;
        }
        let taken = record(store, caller, farm, &mut lines, how, idempotency_key).await?;
        let mut brought = BroughtIn::default();
        for (line, own) in lines.into_iter().zip(taken) {
            brought.push(line, own);
        }
        if how.dry_run {
            // Ids are given when something is recorded.
            for item in &mut brought.items {
                item.id = None;
            }
        }
        Ok(brought)
    }

    /// The lines of what is brought in, read on a worker.
    async fn lines(
        &self,
        store: &Store,
        farm: &str,
        input: BringInInput,
        how: BringIn,
    ) -> Result<Vec<Line>, Error> {
        let farm = store.records.farm(farm).await.map_err(refusal::of)?;
        let sheet = match &input {
            BringInInput::Text(format, text) => {
                brought::sheet(text, *format)?.map(|sheet| sheet.names_bays())
            }
            BringInInput::Events(_) => None,
        };
        let known = match sheet {
            Some(names_bays) => Some(Known::load(&store.records, &farm, how, names_bays).await?),
            None => None,
        };
        let limits = *self.limits();
        self.work(None, move || match input {
            BringInInput::Text(format, text) => brought::lines(&text, format, known.as_ref(), &limits),
            BringInInput::Events(events) => brought::events(events, &limits),
        })
        .await
    }
}

/// Records the good lines, or rehearses it; what became of each line that is taken.
async fn record(
    store: &Store,
    caller: &Caller,
    farm: &str,
    lines: &mut [Line],
    how: BringIn,
    idempotency_key: Option<&str>,
) -> Result<Vec<Option<Appended>>, Error> {
    let good: Vec<usize> = (0..lines.len()).filter(|index| lines[*index].event.is_ok()).collect();
    let mut taken = vec![None; lines.len()];
    let at_once = if how.all_or_nothing() || how.dry_run { good.len().max(1) } else { CHUNK };
    for (number, chunk) in good.chunks(at_once).enumerate() {
        let append = Append {
            farm: farm.to_owned(),
            entries: chunk.iter().filter_map(|index| entry(&lines[*index])).collect(),
            mode: if how.all_or_nothing() { Mode::AllOrNothing } else { Mode::KeepGood },
            idempotency_key: idempotency_key.map(|key| key_of(key, number)),
        };
        let stamp = store.stamp(caller);
        let answer = if how.dry_run {
            store.records.rehearse(append, &stamp).await
        } else {
            store.records.append(append, &stamp).await
        };
        let answers = match answer {
            Ok(answer) => answer.entries,
            Err(declined) => {
                refuse(lines, chunk, declined)?;
                all_good(lines)?;
                return Err(Error::Internal);
            }
        };
        for (index, answer) in chunk.iter().zip(answers) {
            match answer {
                Ok(own) => taken[*index] = Some(own.into()),
                Err(declined) => lines[*index].refuse(&refusal::of(declined)),
            }
        }
    }
    Ok(taken)
}

/// An error with everything that is wrong, where anything is.
fn all_good(lines: &[Line]) -> Result<(), Error> {
    let mut problems = Problems::default();
    for line in lines {
        line.note(&mut problems);
        if problems.0.len() > MOST_PROBLEMS {
            problems.0.truncate(MOST_PROBLEMS);
            break;
        }
    }
    problems.into_result().map_err(Error::Invalid)
}

/// The records' entry of a good line: one with an own id takes the place of what was recorded under it.
fn entry(line: &Line) -> Option<Placed> {
    let event = line.event.as_ref().ok()?.clone();
    let entry = if event.id.is_some() { Entry::Upsert { event } } else { Entry::Add { event } };
    Some(Placed { batch: line.batch.clone(), entry })
}

/// Notes on their lines why nothing of a chunk is kept, or hands back an error that no line is to blame for.
fn refuse(lines: &mut [Line], chunk: &[usize], declined: Declined) -> Result<(), Error> {
    match (chunk, declined) {
        (_, Declined::Refused(refusals)) => {
            for refusal in refusals {
                if let Some(index) = chunk.get(refusal.index) {
                    lines[*index].refuse(&refusal::of(refusal.error));
                }
            }
            Ok(())
        }
        // Of a single entry the records tell the error as it is.
        ([only], declined) if is_of_entry(&declined) => {
            lines[*only].refuse(&refusal::of(declined));
            Ok(())
        }
        (_, declined) => Err(refusal::of(declined)),
    }
}

/// Whether an error is that of an entry, and not of the whole request.
fn is_of_entry(declined: &Declined) -> bool {
    match declined {
        Declined::NotFound { .. } => true,
        Declined::Invalid { field, .. } => field.starts_with("event"),
        Declined::Conflict { what } => {
            !matches!(what, Clash::IdempotencyKey { .. } | Clash::Constraint { .. })
        }
        _ => false,
    }
}

/// The key of one of several transactions: the caller's own for the first, one made from it for each further one.
fn key_of(key: &str, number: usize) -> String {
    if number == 0 {
        return key.to_owned();
    }
    sha256_hex(&format!("{number} {key}"))
}
