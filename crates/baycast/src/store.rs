//! Where records are kept, and opening them.

use std::fmt::Display;
use std::path::Path;
use std::process::ExitCode;

use baycast_records::{Error, Records};

/// Where records are kept.
#[derive(Clone, Debug, clap::Args)]
pub struct Place {
    /// The records: sqlite:PATH or postgres://USER@HOST/DATABASE.
    #[arg(long, env = "BAYCAST_STORE", value_name = "URL", hide_env_values = true)]
    pub store: String,
}

impl Place {
    /// Opens the records; a new file is made where there is none.
    pub async fn open_or_create(&self) -> Result<Records, Error> {
        Records::open(&self.store).await
    }

    /// Opens records that are there: a mistyped path is told and not made a new file.
    pub async fn open(&self) -> Result<Records, String> {
        let file = self.store.strip_prefix("sqlite:").map(Path::new);
        if let Some(file) = file.filter(|file| !file.exists()) {
            return Err(format!("there are no records at {}", file.display()));
        }
        self.open_or_create().await.map_err(|error| error.to_string())
    }
}

/// The exit code of a command: 1 with the error on standard error, where there is one.
pub fn ended(outcome: Result<(), impl Display>) -> ExitCode {
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::FAILURE
        }
    }
}
