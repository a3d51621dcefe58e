//! A question that is asked in one JSON document: read, put, and answered on standard output.

use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use baycast_service::{Error, Limits, Service, parse};
use jiff::civil::Date;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::input::fault::{Fault, Place};

/// Which document, and how its answer is written.
#[derive(Clone, Debug, clap::Args)]
pub struct Document {
    /// A JSON document; `-` is standard input.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// How the answer is written.
    #[arg(long, value_enum, value_name = "FORMAT", default_value = "table")]
    pub to: To,
}

/// How an answer is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum To {
    /// Plain words.
    Table,
    /// One JSON document.
    Json,
}

/// Longest time for one answer: at a shell nobody else waits for it.
const PATIENCE: Duration = Duration::from_mins(10);

/// Asks what a document asks and writes the answer, or names everything that is wrong with it.
pub async fn run<Q: DeserializeOwned, A: Serialize>(
    document: &Document,
    today: Date,
    ask: impl AsyncFnOnce(Service, Q) -> Result<A, Error>,
    table: impl FnOnce(&A) -> String,
) -> ExitCode {
    let name = if document.file == Path::new("-") {
        "standard input".to_owned()
    } else {
        document.file.display().to_string()
    };
    let text = match read(&document.file) {
        Ok(text) => text,
        Err(error) => {
            eprintln!("{}", Fault::other(&name, None, format_args!("not readable: {error}")));
            return ExitCode::FAILURE;
        }
    };
    let limits = Limits { timeout: PATIENCE, ..Limits::default() };
    let service = Service::new(limits, Arc::new(move || today));
    let answer = match parse::json(&text) {
        Ok(question) => ask(service, question).await,
        Err(error) => Err(error),
    };
    match answer {
        Ok(answer) => written(document.to, &answer, table),
        Err(error) => {
            let place = Place::Document { file: name, text: text.into(), start: 0 };
            for fault in place.faults(&error) {
                eprintln!("{fault}");
            }
            ExitCode::FAILURE
        }
    }
}

fn read(file: &Path) -> io::Result<Vec<u8>> {
    let mut text = Vec::new();
    if file == Path::new("-") {
        io::stdin().read_to_end(&mut text)?;
    } else {
        text = std::fs::read(file)?;
    }
    let marked = text.strip_prefix(parse::BYTE_ORDER_MARK).map(<[u8]>::to_vec);
    Ok(marked.unwrap_or(text))
}

/// Writes an answer; whoever reads the output may have read enough.
fn written<A: Serialize>(to: To, answer: &A, table: impl FnOnce(&A) -> String) -> ExitCode {
    let mut out = io::stdout().lock();
    let outcome = match to {
        To::Table => out.write_all(table(answer).as_bytes()),
        To::Json => serde_json::to_writer_pretty(&mut out, answer)
            .map_err(io::Error::from)
            .and_then(|()| writeln!(out)),
    };
    match outcome.and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            eprintln!("standard output: {error}");
            ExitCode::FAILURE
        }
        _ => ExitCode::SUCCESS,
    }
}
