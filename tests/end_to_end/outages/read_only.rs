//! A database that can only be read for a while, as after another one took over, and a file that can only be read.

use std::time::Duration;

use sqlx::{AssertSqlSafe, Connection, PgConnection};

use super::disk::Place;
use super::{Logged, Trouble};
use crate::databases::{Database, PostgresServer};

/// How long it can only be read.
const READ_ONLY: Duration = Duration::from_secs(2);

/// Has the whole server take nothing, or everything again.
async fn set_read_only(database: &Database, value: &str) {
    let mut connection = PgConnection::connect(&database.url).await.expect("the server answers");
    let statements = [
        "SET default_transaction_read_only = off".to_owned(),
        format!("ALTER SYSTEM SET default_transaction_read_only = {value}"),
        "SELECT pg_reload_conf()".to_owned(),
    ];
    for statement in statements {
        sqlx::query(AssertSqlSafe(statement)).execute(&mut connection).await.expect("the setting is taken");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_takes_nothing_is_read_and_written_again_once_it_does() {
    let postgres = PostgresServer::start();
    let database = Database::postgres_on(&postgres).await;
    let logged = Logged::on(&database.url);
    let trouble = Trouble {
        name: "read-only",
        why: "the records can only be read",
        lasts: READ_ONLY,
        begins: async || set_read_only(&database, "on").await,
        ends: async || set_read_only(&database, "off").await,
    };
    trouble.comes_and_goes(&logged).await;
}

/// Nothing can be written where there is nothing yet.
const EMPTY: &str = "mount -o remount,bind,ro \"$place\"";

/// Has a server make the records and kills it, which leaves their log beside them; then nothing can be written there.
const KILLED: &str = r#"
"$BINARY" serve --listen 127.0.0.1:0 --store "sqlite:$place/records.db" >"$place/told" 2>/dev/null &
until grep -q listening "$place/told"; do sleep 0.05; done
kill -s KILL $!
wait $! || true
mount -o remount,bind,ro "$place"
"#;

#[test]
fn a_file_that_can_only_be_read_is_told_at_the_start() {
    let Some(place) = Place::new("baycast-read-only") else { return };
    for (prepare, why) in [(EMPTY, "its folder must be there and take files"), (KILLED, "can only be read")] {
        let output = place.serving("4m", prepare).output().expect("it runs");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(!output.status.success() && told.contains(why), "{told}");
    }
}
