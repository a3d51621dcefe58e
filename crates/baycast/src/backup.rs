//! `baycast backup`: a copy of the records, made while they are in use.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::store;

/// Copy the records to a new file while they are in use, and check the copy. For SQLite; PostgreSQL has pg_dump.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// The file to make.
    #[arg(value_name = "PATH")]
    pub to: PathBuf,
    #[command(flatten)]
    pub store: store::Place,
}

/// Runs the command.
pub async fn run(args: Args) -> ExitCode {
    store::ended(backup(&args).await)
}

async fn backup(args: &Args) -> Result<(), String> {
    let records = args.store.open().await?;
    records.backup(&args.to).await.map_err(|error| error.to_string())?;
    records.close().await.map_err(|error| error.to_string())?;
    eprintln!("the copy {} is whole", args.to.display());
    Ok(())
}
