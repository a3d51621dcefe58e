//! `baycast restore`: a backup put where records are to be.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::store;

/// Check a backup and put a copy of it where records are to be; there must be none.
#[derive(Clone, Debug, clap::Args)]
pub struct Args {
    /// The backup.
    #[arg(value_name = "BACKUP")]
    pub from: PathBuf,
    /// The file to make, which `--store sqlite:PATH` then names.
    #[arg(value_name = "PATH")]
    pub to: PathBuf,
}

/// Runs the command.
pub async fn run(args: Args) -> ExitCode {
    let restored = baycast_records::restore(&args.from, &args.to).await;
    if restored.is_ok() {
        eprintln!("{} is whole and in place", args.to.display());
    }
    store::ended(restored)
}
