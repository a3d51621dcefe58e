//! `baycast import`: a farm out of the lines of an export.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use tokio::fs::File;
use tokio::io::{AsyncBufRead, BufReader, stdin};

use crate::store;

/// Add the farm that an export tells of, whole or not at all; there must be none of its id.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// The export; `-` is standard input.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    #[command(flatten)]
    pub store: store::Place,
}

/// Runs the command.
pub async fn run(args: Args) -> ExitCode {
    store::ended(import(&args).await)
}

async fn import(args: &Args) -> Result<(), String> {
    let name = args.file.display();
    let mut lines = open(&args.file).await.map_err(|error| format!("{name}: {error}"))?;
    let records = args.store.open_or_create().await.map_err(|error| error.to_string())?;
    let farm = records.import(&mut lines).await.map_err(|error| format!("{name}: {error}"))?;
    records.close().await.map_err(|error| error.to_string())?;
    eprintln!("farm `{}` is imported", farm.id);
    Ok(())
}

/// The file or standard input.
async fn open(path: &Path) -> std::io::Result<Box<dyn AsyncBufRead + Unpin + Send>> {
    if path == Path::new("-") {
        return Ok(Box::new(BufReader::new(stdin())));
    }
    Ok(Box::new(BufReader::new(File::open(path).await?)))
}
