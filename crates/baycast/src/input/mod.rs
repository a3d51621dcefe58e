//! Batch histories as they come: from files or standard input, in JSON, NDJSON or CSV.

pub mod bay_text;
pub mod fault;
pub mod json;
pub mod lines;
pub mod sheet;
pub mod surroundings;
pub mod writing;

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use baycast_model::history::History;

use fault::{Fault, Place};
use surroundings::Surroundings;

/// How an input is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// One history, or an array of them.
    Json,
    /// One history a line.
    Ndjson,
    /// One event a row, under a header row; commas, semicolons or tabs between cells.
    #[value(alias = "tsv")]
    Csv,
}

impl Format {
    /// The format that a file's extension promises.
    pub fn of_extension(path: &Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "json" => Some(Self::Json),
            "ndjson" | "jsonl" => Some(Self::Ndjson),
            "csv" | "tsv" | "tab" => Some(Self::Csv),
            _ => None,
        }
    }
}

/// A file, or standard input, and how it is written.
#[derive(Clone, Debug)]
pub struct Input {
    /// Its path; none for standard input.
    pub path: Option<PathBuf>,
    /// How it is written.
    pub writing: Writing,
}

/// How an input is written, with what its kind needs to be read.
#[derive(Clone, Debug)]
pub enum Writing {
    /// One history, or an array of them.
    Json,
    /// One history a line.
    Ndjson,
    /// One event a row, in these surroundings.
    Csv(Box<Surroundings>),
}

impl Input {
    /// The name that messages give it.
    pub fn name(&self) -> String {
        self.path.as_ref().map_or_else(|| "standard input".into(), |path| path.display().to_string())
    }

    /// Its size in bytes where that is known beforehand.
    pub fn size_bytes(&self) -> Option<u64> {
        let metadata = self.path.as_ref()?.metadata().ok()?;
        metadata.is_file().then_some(metadata.len())
    }

    /// Hands every history to `deliver`, in order, as it is read, until `deliver` declines more.
    ///
    /// `seen` is told the bytes consumed so far from this input.
    pub fn read(&self, seen: impl FnMut(u64), deliver: &mut dyn FnMut(Found) -> bool) -> io::Result<()> {
        let source: Box<dyn Read> = match &self.path {
            Some(path) => Box::new(File::open(path)?),
            None => Box::new(io::stdin()),
        };
        let source = Counted { source, bytes: 0, seen };
        match &self.writing {
            Writing::Json => json::read(source, &self.name(), deliver),
            Writing::Ndjson => lines::read(BufReader::new(source), &self.name(), deliver),
            Writing::Csv(surroundings) => {
                let stem =
                    self.path.as_ref().and_then(|path| path.file_stem()).and_then(|stem| stem.to_str());
                let sheet = sheet::Sheet { file: &self.name(), stem: stem.unwrap_or("batch"), surroundings };
                sheet.read(source, deliver)
            }
        }
    }
}

/// A history found in an input, or what kept it from being one.
pub type Found = Result<Told, Vec<Fault>>;

/// A history and where it stood, so that later faults name the same place.
#[derive(Debug)]
pub struct Told {
    /// Where it stood.
    pub place: Place,
    /// The history.
    pub history: Box<History>,
}

impl Told {
    /// The history in a JSON text, by the parser that the service itself uses.
    pub fn parse(place: Place, text: &[u8]) -> Found {
        match baycast_service::parse::history(text) {
            Ok(history) => Ok(Self { place, history: Box::new(history) }),
            Err(error) => Err(place.faults(&error)),
        }
    }
}

/// A reader that tells how far it has come.
struct Counted<R, S> {
    source: R,
    bytes: u64,
    seen: S,
}

impl<R: Read, S: FnMut(u64)> Read for Counted<R, S> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read(buffer)?;
        self.bytes += count as u64;
        (self.seen)(self.bytes);
        Ok(count)
    }
}
