//! A database that can only be read for a while, as after another one took over, and a file that can only be read.

use std::time::Duration;

use sqlx::{AssertSqlSafe, Connection, PgConnection};
use tonic_health::pb::health_check_response::ServingStatus;

use super::Logged;
use super::disk;
use super::growing::Growing;
use super::reading::Reading;
use crate::appending::{plant, recorded};
use crate::databases::{Database, Folder, PostgresServer};

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
    plant(&logged.server).await;
    let reading = Reading::begin(&logged.server.address);
    let why = "the records can only be read";
    let (growing, growers) = Growing::begin("read only", &logged.server.address, why);
    growing.more(20).await;

    set_read_only(&database, "on").await;
    let unready = logged.readyz(503, why).await;
    assert_eq!(logged.health().await, ServingStatus::NotServing);
    growing.more_put_off(20).await;
    tokio::time::sleep(READ_ONLY).await;
    logged.readyz(503, why).await;
    set_read_only(&database, "off").await;
    let ready = logged.readyz(200, "ready").await;
    growing.more(20).await;

    let acknowledged = growing.end(growers).await;
    let (read, read_again) = reading.end().await;
    assert_eq!(read_again, 0, "what is there can be read all the time");
    acknowledged.assert_all_of(&recorded(&logged.server).await);
    let lines = logged.lines();
    println!(
        "read-only for {READ_ONLY:?}: told after {unready:?}, and {ready:?} after it took all again; {} events acknowledged \
         and there once, {} appends put off, {read} reads good; {} lines in the log",
        acknowledged.0.len(),
        growing.put_off(),
        lines.len()
    );
    let count = |words: &str| lines.iter().filter(|line| line.contains(words)).count();
    assert_eq!((count(why), count("take everything again")), (1, 1), "{lines:#?}");
    assert_eq!(lines.len(), 2, "{lines:#?}");
}

/// Nothing can be written where there is nothing yet.
const EMPTY: &str = "mount -o remount,ro \"$place\"";

/// Has a server make the records and kills it, which leaves their log beside them; then nothing can be written there.
const KILLED: &str = r#"
"$BINARY" serve --listen 127.0.0.1:0 --store "sqlite:$place/records.db" >"$place/told" 2>/dev/null &
until grep -q listening "$place/told"; do sleep 0.05; done
kill -s KILL $!
wait $! || true
mount -o remount,ro "$place"
"#;

#[test]
fn a_file_that_can_only_be_read_is_told_at_the_start() {
    let folder = Folder::new("baycast-read-only");
    let place = folder.path().to_str().expect("a path in UTF-8");
    for (prepare, why) in [(EMPTY, "its folder must be there and take files"), (KILLED, "can only be read")] {
        let output = disk::serving(place, "4m", prepare).output().expect("it runs");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(!output.status.success() && told.contains(why), "{told}");
    }
}
