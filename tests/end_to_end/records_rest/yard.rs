//! A server with a store of its own, its keys, and a farm to begin with.

use serde_json::{Value, json};

use crate::databases::Database;
use crate::http::{Answer, send};
use crate::server::Server;

/// A server with a store.
pub struct Yard {
    /// The server; declared first, so that it is stopped before its store goes.
    pub server: Server,
    /// Its store.
    pub database: Database,
}

impl Yard {
    /// A server with an empty store and no keys, for what does not depend on the kind of store.
    pub fn open() -> Self {
        Self::on(Database::sqlite())
    }

    /// A server on an empty store, without keys.
    pub fn on(database: Database) -> Self {
        Self { server: Server::on(&database), database }
    }

    /// Sends JSON, or nothing, with a key or none.
    pub async fn call(&self, method: &str, path: &str, key: Option<&str>, body: Option<&Value>) -> Answer {
        self.call_with(method, path, key, &[], body).await
    }

    /// The same with more headers.
    pub async fn call_with(
        &self,
        method: &str,
        path: &str,
        key: Option<&str>,
        more: &[(&str, &str)],
        body: Option<&Value>,
    ) -> Answer {
        let bearer = key.map(|key| format!("Bearer {key}"));
        let mut headers = more.to_vec();
        headers.extend(bearer.as_deref().map(|bearer| ("authorization", bearer)));
        headers.extend(body.map(|_| ("content-type", "application/json")));
        send(&self.server, method, path, &headers, body.map(Value::to_string).unwrap_or_default()).await
    }

    /// Sends and expects success.
    pub async fn good(&self, method: &str, path: &str, key: Option<&str>, body: Option<&Value>) -> Value {
        let answer = self.call(method, path, key, body).await;
        assert!(answer.status.is_success(), "{method} {path}: {} {}", answer.status, answer.json());
        answer.json()
    }

    /// Creates a key and hands back its id and text.
    pub async fn key(&self, by: Option<&str>, scope: &str, farms: &[&str]) -> (String, String) {
        let reach = if farms.is_empty() { "all" } else { "farms" };
        let draft = json!({ "name": scope, "scope": scope, "reach": reach, "farms": farms });
        let issued = self.good("POST", "/v1/keys", by, Some(&draft)).await;
        (text(&issued["key"]["id"]), text(&issued["text"]))
    }

    /// Adds a farm with a bay, a feedstock and a batch of one event; hands back the event's id.
    pub async fn farm(&self, key: Option<&str>, id: &str, rest: &str) -> String {
        self.good("POST", "/v1/farms", key, Some(&farm(id))).await;
        let at = format!("/v1/farms/{id}");
        self.good("POST", &format!("{at}/bays"), key, Some(&bay(&format!("bay{rest}")))).await;
        let own = feedstock(&format!("bines{rest}"));
        self.good("POST", &format!("{at}/feedstocks"), key, Some(&own)).await;
        let own = batch(&format!("heap{rest}"), &format!("bay{rest}"));
        self.good("POST", &format!("{at}/batches"), key, Some(&own)).await;
        let fill = entries(&[json!({ "at": "2026-04-01",
            "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } })]);
        let answer = self.good("POST", &format!("{at}/batches/heap{rest}/events"), key, Some(&fill)).await;
        text(&answer["items"][0]["id"])
    }
}

/// A text of an answer.
pub fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("no text: {value}")).to_owned()
}

/// A farm as a caller says it.
pub fn farm(id: &str) -> Value {
    json!({ "id": id, "name": "Long field", "site": { "latitude_deg": 52 }, "time_zone": "Europe/London" })
}

/// A bay.
pub fn bay(id: &str) -> Value {
    json!({ "bay": { "id": id, "length_m": 1.2, "width_m": 1.2, "height_m": 1.2,
        "wall": { "construction": "slatted_timber" } } })
}

/// A feedstock.
pub fn feedstock(id: &str) -> Value {
    json!({ "feedstock": { "id": id, "name": "Hop bines", "moisture_fraction": 0.7, "nitrogen_fraction": 0.02,
        "c_to_n": 20, "ash_fraction": 0.12, "bulk_density_kg_m3": 120, "fast_fraction": 0.25,
        "slow_fraction": 0.4, "structure": "porous" } })
}

/// A batch.
pub fn batch(id: &str, start_bay: &str) -> Value {
    json!({ "id": id, "name": "April fill", "start_bay": start_bay })
}

/// A webhook at an address that no message is sent to.
pub fn webhook() -> Value {
    json!({ "url": "https://localhost:9443/in" })
}

/// New events to append.
pub fn entries(events: &[Value]) -> Value {
    let entries: Vec<_> = events.iter().map(|event| json!({ "event": event })).collect();
    json!({ "entries": entries })
}

/// A reading.
pub fn reading(at: &str, temperature_c: f64) -> Value {
    json!({ "at": at, "reading": { "temperature_c": temperature_c } })
}
