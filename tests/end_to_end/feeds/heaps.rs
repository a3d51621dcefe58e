//! A farm with heaps of different ages and with names that no format should stumble over, and its feed address.

use std::time::Duration;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde_json::{Value, json};

use crate::databases::Database;
use crate::http::{Answer, get};
use crate::records_rest::yard::{Yard, bay, entries, text};

/// What the heaps are called: separators and a backslash, letters of two and of four bytes, what a spreadsheet would run.
pub const NAMES: [&str; 4] = [
    "Beds, north; \"first\" \\ 2nd: <b>&amp;</b>",
    "üüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüüü",
    "🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱🍂🌱🪱 leaves",
    "=HYPERLINK(\"http://127.0.0.1/\")",
];

/// When each was filled, days ago.
const FILLED: [i32; 4] = [400, 150, 90, 6];

/// The batches' ids.
pub const IDS: [&str; 4] = ["heap-1", "heap 2", "heap,3", "-heap/4"];

/// A server with the farm `home`.
pub struct Heaps {
    pub yard: Yard,
    /// What its feed's paths begin with.
    pub path: String,
}

impl Heaps {
    /// On a store of its own.
    pub async fn new() -> Self {
        Self::on(Database::sqlite()).await
    }

    pub async fn on(database: Database) -> Self {
        let yard = Yard::on(database);
        plant(&yard, "home").await;
        let path = address(&yard, "home").await;
        let heaps = Self { yard, path };
        heaps.settled().await;
        heaps
    }

    /// Waits until what was recorded is told of every batch.
    pub async fn settled(&self) {
        while self.readiness().await["pending"] != 0 {
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    /// Reads a form or value by the address.
    pub async fn read(&self, below: &str) -> Answer {
        let answer = get(&self.yard.server, &format!("{}/{below}", self.path)).await;
        assert_eq!(answer.status, 200, "{below}: {}", String::from_utf8_lossy(&answer.body));
        answer
    }

    /// The same as text.
    pub async fn text(&self, below: &str) -> String {
        String::from_utf8(self.read(below).await.body.to_vec()).expect("UTF-8")
    }

    /// The whole readiness.
    pub async fn readiness(&self) -> Value {
        self.read("readiness.json").await.json()
    }
}

/// A new feed address of a farm: what its paths begin with.
pub async fn address(yard: &Yard, farm: &str) -> String {
    let draft = json!({ "name": "shed" });
    let issued = yard.good("POST", &format!("/v1/farms/{farm}/feeds"), None, Some(&draft)).await;
    text(&issued["path"])
}

/// A day so many days ago.
pub fn days_ago(days: i32) -> Date {
    TimeZone::UTC.to_datetime(Timestamp::now()).date().checked_sub(days.days()).expect("a day")
}

/// Adds a farm with the heaps.
pub async fn plant(yard: &Yard, id: &str) {
    // Warm all year and under a roof: the heaps ripen whatever the season in which the tests run.
    let own = json!({ "id": id, "name": "Long field", "site": { "latitude_deg": 25 }, "time_zone": "Europe/London" });
    yard.good("POST", "/v1/farms", None, Some(&own)).await;
    for ((name, batch), filled) in NAMES.iter().zip(IDS).zip(FILLED) {
        let at = format!("/v1/farms/{id}");
        let own_bay = format!("bay, {filled}");
        let mut roofed = bay(&own_bay);
        roofed["bay"]["top"] = json!("roofed");
        yard.good("POST", &format!("{at}/bays"), None, Some(&roofed)).await;
        let draft = json!({ "id": batch, "name": name, "start_bay": own_bay });
        yard.good("POST", &format!("{at}/batches"), None, Some(&draft)).await;
        let day = days_ago(filled).to_string();
        let fill = ["grass_mowings", "shredded_prunings"]
            .map(|feedstock| json!({ "at": day, "addition": { "feedstock": feedstock, "mass_kg": 180 } }));
        let events = format!("{at}/batches/{}/events", encoded(batch));
        yard.good("POST", &events, None, Some(&entries(&fill))).await;
    }
}

/// A name as it stands in a path.
pub fn encoded(name: &str) -> String {
    name.replace(' ', "%20").replace(',', "%2C").replace('/', "%2F")
}
