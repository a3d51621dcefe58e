//! The schema's steps, built in and taken at start.

use sha2::{Digest, Sha256};

use crate::error::{Error, Result};
use crate::store::{Purpose, Store};
use crate::value::values;

/// One step. Once released, its text never changes.
struct Step {
    version: i64,
    name: &'static str,
    sql: &'static str,
}

const STEPS: &[Step] = &[
    Step { version: 1, name: "records", sql: include_str!("../migrations/0001_records.sql") },
    Step { version: 2, name: "readiness", sql: include_str!("../migrations/0002_readiness.sql") },
    Step { version: 3, name: "feeds", sql: include_str!("../migrations/0003_feeds.sql") },
    Step { version: 4, name: "webhooks", sql: include_str!("../migrations/0004_webhooks.sql") },
    Step { version: 5, name: "seasons", sql: include_str!("../migrations/0005_seasons.sql") },
];

/// Brings the schema to the newest version. Replicas that start together queue up and find the work done.
pub(crate) async fn migrate(store: &dyn Store) -> Result<()> {
    let mut session = store.begin(Purpose::Migrate).await?;
    session
        .run(
            "CREATE TABLE IF NOT EXISTS migrations \
             (version BIGINT PRIMARY KEY, name {text} NOT NULL, checksum {text} NOT NULL)",
            vec![],
        )
        .await?;
    let mut taken = Vec::new();
    for mut row in session.run("SELECT version, checksum FROM migrations ORDER BY version", vec![]).await? {
        taken.push((row.int()?, row.text()?));
    }
    let known = STEPS.last().map_or(0, |step| step.version);
    if let Some((found, _)) = taken.last().filter(|(version, _)| *version > known) {
        return Err(Error::NewerSchema { found: *found, known });
    }
    for step in STEPS {
        let checksum = hex::encode(Sha256::digest(step.sql));
        match taken.iter().find(|(version, _)| *version == step.version) {
            Some((_, found)) if *found == checksum => {}
            Some((_, found)) => {
                return Err(Error::corrupt(format!(
                    "schema step {} `{}` was taken with checksum {found}, here it has {checksum}",
                    step.version, step.name
                )));
            }
            None => {
                for statement in step.sql.split(";\n").map(str::trim).filter(|text| !text.is_empty()) {
                    session.run(statement, vec![]).await?;
                }
                session
                    .run(
                        "INSERT INTO migrations (version, name, checksum) VALUES ($1, $2, $3)",
                        values![step.version, step.name, checksum],
                    )
                    .await?;
            }
        }
    }
    session.commit().await
}
