//! Estimates of what is recorded.

use serde_json::{Value, json};

use super::yard::{Yard, batch, entries, reading};
use crate::databases::Database;
use crate::http::{estimate, send};
use crate::server::Server;

const BATCH: &str = "/v1/farms/home/batches/heap";

pub async fn a_stored_batch_is_estimated_like_its_history(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let more = entries(&[
        json!({ "at": "2026-04-01", "addition": { "feedstock": "bines", "volume_m3": 0.4 } }),
        reading("2026-04-08T18:00:00Z", 58.5),
        json!({ "at": "2026-04-20", "turn": {} }),
    ]);
    yard.good("POST", &format!("{BATCH}/events"), None, Some(&more)).await;
    let stored = yard.good("GET", &format!("{BATCH}/estimate?as_of=2026-06-01"), None, None).await;
    let part = |member: &str, mut of: Value| of[member].take();
    let history = json!({
        "batch": "heap", "as_of": "2026-06-01", "site": { "latitude_deg": 52 },
        "bay": part("bay", super::yard::bay("bay")),
        "feedstocks": [part("feedstock", super::yard::feedstock("bines"))],
        "events": [
            { "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } },
            more["entries"][0]["event"], more["entries"][1]["event"], more["entries"][2]["event"],
        ],
    });
    let told = estimate(&yard.server, &history).await;
    assert_eq!(told.status, 200);
    assert_eq!(stored, told.json());
}

pub async fn the_tag_changes_exactly_when_something_it_is_made_of_does(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let path = format!("{BATCH}/estimate?as_of=2026-06-01");
    let tag = async |path: &str| {
        let answer = yard.call("GET", path, None, None).await;
        assert_eq!(answer.status, 200, "{}", answer.json());
        answer.header("etag").to_owned()
    };
    let first = tag(&path).await;
    assert_eq!(tag(&path).await, first);
    let held = yard.call_with("GET", &path, None, &[("if-none-match", &first)], None).await;
    assert_eq!((held.status.as_u16(), held.body.len(), held.header("etag")), (304, 0, first.as_str()));
    assert_ne!(tag(&format!("{BATCH}/estimate?as_of=2026-06-02")).await, first, "another day");

    // Another batch is no part of it.
    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch("second", "bay"))).await;
    let more = entries(&[reading("2026-04-08", 58.5)]);
    yard.good("POST", "/v1/farms/home/batches/second/events", None, Some(&more)).await;
    assert_eq!(tag(&path).await, first);

    let mut tags = vec![first];
    yard.good("POST", &format!("{BATCH}/events"), None, Some(&more)).await;
    tags.push(tag(&path).await);
    let farm = yard.good("GET", "/v1/farms/home", None, None).await;
    let mut moved = farm.clone();
    moved["site"]["latitude_deg"] = json!(55);
    let put = yard.call_with("PUT", "/v1/farms/home", None, &[("if-match", "\"1\"")], Some(&moved)).await;
    assert_eq!(put.status, 200);
    tags.push(tag(&path).await);
    let own = json!({ "id": "heap", "start_bay": "bay", "horizon_days": 30 });
    let put = yard.call_with("PUT", BATCH, None, &[("if-match", "\"1\"")], Some(&own)).await;
    assert_eq!(put.status, 200, "{}", put.json());
    tags.push(tag(&path).await);
    let mut different = tags.clone();
    different.sort();
    different.dedup();
    assert_eq!(different.len(), 4, "a reading, the site, the horizon: {tags:?}");
}

pub async fn each_day_asked_about_is_answered_and_no_other(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let ask = async |query: &str| {
        let path = format!("{BATCH}/estimate?as_of=2026-06-01{query}");
        let answer = yard.call("GET", &path, None, None).await;
        assert_eq!(answer.status, 200, "{query}: {}", answer.json());
        let days: Vec<Vec<String>> = answer.json()["windows"]
            .as_array()
            .expect("windows")
            .iter()
            .map(|window| {
                let by = window["ready_by"].as_array().into_iter().flatten();
                by.map(|by| by["date"].as_str().expect("a date").to_owned()).collect()
            })
            .collect();
        (answer.header("etag").to_owned(), answer.json(), days)
    };
    let (plain_tag, plain, none) = ask("").await;
    assert_eq!(none, vec![Vec::<String>::new(); 3]);
    let days = ["2026-09-01", "2026-07-01", "2027-02-28"];
    let (tag, parted, told) = ask(&format!("&ready_by={}", days.join(","))).await;
    assert_eq!(told, vec![days.to_vec(); 3]);
    let repeated = ask(&days.map(|day| format!("&ready_by={day}")).concat()).await;
    assert_eq!((&repeated.0, &repeated.1), (&tag, &parted), "one question asked in two ways");
    let (other_tag, _, other) = ask("&ready_by=2026-07-01").await;
    assert_eq!(other, vec![vec!["2026-07-01"]; 3]);
    assert!(tag != plain_tag && other_tag != tag && other_tag != plain_tag);
    assert_eq!(ask("").await.1, plain, "those at hand for other questions are not served");

    // Who holds the answer to one question does not hold that to another.
    let path = format!("{BATCH}/estimate?as_of=2026-06-01&ready_by=2026-07-01");
    for (held, status) in [(&other_tag, 304), (&tag, 200), (&plain_tag, 200)] {
        let answer = yard.call_with("GET", &path, None, &[("if-none-match", held)], None).await;
        assert_eq!(answer.status, status, "{held}");
    }

    let twenty_five: Vec<String> = (1..=25).map(|day| format!("2026-07-{day:02}")).collect();
    for (given, pointer, value) in [
        ("soon", "/ready_by/0", "\"soon\""),
        ("2026-07-01,,2026-08-01", "/ready_by/1", "\"\""),
        ("2026-07-01,2026-07-01", "/ready_by/1", "\"2026-07-01\""),
        ("2026-04-01", "/ready_by/0", "\"2026-04-01\""),
        ("2026-07-01&ready_by=2027-06-02", "/ready_by/1", "\"2027-06-02\""),
        (twenty_five.join(",").as_str(), "/ready_by", "25 dates"),
    ] {
        let path = format!("{BATCH}/estimate?as_of=2026-06-01&ready_by={given}");
        let answer = yard.call("GET", &path, None, None).await;
        let error = &answer.json()["errors"][0];
        assert_eq!(answer.status, 422, "{given}");
        assert_eq!((&error["pointer"], &error["value"]), (&json!(pointer), &json!(value)), "{given}");
    }
}

pub async fn futures_are_compared_where_asked_for(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let ask = async |query: &str| {
        let path = format!("{BATCH}/estimate?as_of=2026-06-01{query}");
        let answer = yard.call("GET", &path, None, None).await;
        assert_eq!(answer.status, 200, "{query}: {}", answer.json());
        (answer.header("etag").to_owned(), answer.json())
    };
    let (plain_tag, plain) = ask("").await;
    assert_eq!(ask("&compare_futures=false").await, (plain_tag.clone(), plain.clone()));
    assert!(plain.get("futures").is_none());
    let (tag, mut compared) = ask("&compare_futures=true").await;
    assert_ne!(tag, plain_tag);
    let futures = compared.as_object_mut().expect("an object").remove("futures").expect("futures");
    assert_eq!(compared, plain, "asking changes nothing else");
    let futures = futures.as_array().expect("a list").clone();
    assert_eq!(futures[0]["step"], "leave");
    assert_eq!(futures[0]["opens"], plain["windows"][1]["opens"]);
    let steps: Vec<&str> = futures.iter().map(|future| future["step"].as_str().expect("a word")).collect();
    assert!(steps.contains(&"turn_now") && steps.contains(&"turn_in_two_weeks"), "{steps:?}");
    assert_eq!(ask("").await.1, plain, "those at hand for other questions are not served");

    // Who holds the answer to one question does not hold that to another.
    let path = format!("{BATCH}/estimate?as_of=2026-06-01&compare_futures=true");
    for (held, status) in [(&tag, 304), (&plain_tag, 200)] {
        let answer = yard.call_with("GET", &path, None, &[("if-none-match", held)], None).await;
        assert_eq!(answer.status, status, "{held}");
    }
    for given in ["yes", "1", ""] {
        let path = format!("{BATCH}/estimate?as_of=2026-06-01&compare_futures={given}");
        let answer = yard.call("GET", &path, None, None).await;
        let error = &answer.json()["errors"][0];
        assert_eq!((answer.status.as_u16(), &error["pointer"]), (422, &json!("/compare_futures")), "{given}");
        assert_eq!(error["accepted"], "true or false");
    }
}

pub async fn what_cannot_be_estimated_says_why(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let lost = yard.call("GET", "/v1/farms/home/batches/lost/estimate", None, None).await;
    assert_eq!((lost.status.as_u16(), &lost.json()["detail"]), (404, &json!("there is no batch `lost`")));
    let when = yard.call("GET", &format!("{BATCH}/estimate?as_of=soon"), None, None).await;
    assert_eq!((when.status.as_u16(), &when.json()["errors"][0]["pointer"]), (422, &json!("/as_of")));
    let more = entries(&[reading("2026-04-08T18:00:00Z", 58.5), reading("2026-04-09T18:00:00Z", 57.0)]);
    yard.good("POST", &format!("{BATCH}/events"), None, Some(&more)).await;
    let early = yard.call("GET", &format!("{BATCH}/estimate?as_of=2026-04-07"), None, None).await;
    let told = json!([{
        "pointer": "/as_of", "value": "\"2026-04-07\"", "accepted": "2026-04-09 or later: something was seen then",
    }]);
    assert_eq!((early.status.as_u16(), &early.json()["errors"]), (422, &told));
    yard.good("GET", &format!("{BATCH}/estimate?as_of=2026-04-09"), None, None).await;
}

/// What was done to and seen of a batch that was read while it broke down, and emptied.
fn finished() -> Value {
    let read = (1..12).map(|week: i32| {
        let day = jiff::civil::date(2026, 4, 1).saturating_add(jiff::Span::new().weeks(week));
        reading(&day.to_string(), f64::from(62 - 3 * week))
    });
    let fill = json!({ "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } });
    let wood =
        json!({ "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "mass_kg": 150 } });
    let emptied = json!({ "at": "2026-07-01", "withdrawal": {} });
    entries(&[fill, wood].into_iter().chain(read).chain([emptied]).collect::<Vec<_>>())
}

pub async fn finished_batches_of_the_bay_teach_unless_told_not_to(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch("next", "bay"))).await;
    let next = "/v1/farms/home/batches/next";
    let fill = entries(&[
        json!({ "at": "2026-08-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } }),
        json!({ "at": "2026-08-01", "addition": { "feedstock": "shredded_prunings", "mass_kg": 150 } }),
    ]);
    yard.good("POST", &format!("{next}/events"), None, Some(&fill)).await;
    let ask = async |query: &str| {
        let answer = yard.call("GET", &format!("{next}/estimate?as_of=2026-08-20{query}"), None, None).await;
        assert_eq!(answer.status, 200, "{query}: {}", answer.json());
        (answer.header("etag").to_owned(), answer.json())
    };
    let taught = |estimate: &Value| {
        let assumed = estimate["assumptions"].as_array().expect("assumptions");
        let lesson = assumed.iter().find(|own| own["pointer"] == "/lesson");
        lesson.map(|own| own["assumed"].as_str().expect("a text").to_owned())
    };
    let alone = ask("").await;
    assert_eq!(
        (taught(&alone.1), alone.1["learned"]["factors"][0]["before"]["p50"].as_f64()),
        (None, Some(1.0))
    );

    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch("one", "bay"))).await;
    let one = "/v1/farms/home/batches/one/events";
    let appended = yard.good("POST", one, None, Some(&finished())).await;
    let pooled = ask("").await;
    assert_eq!(taught(&pooled.1).as_deref(), Some("what earlier batches of the bay taught: one"));
    assert_ne!(pooled.1["learned"]["factors"][0]["before"], alone.1["learned"]["factors"][0]["before"]);
    assert_ne!(pooled.0, alone.0);
    assert_eq!(ask("&pool=true").await, pooled);
    assert_eq!(ask("&pool=false").await, alone);

    // A reading of the other batch, corrected.
    let correction = json!({ "entries": [{
        "event": reading("2026-04-08", 66.0), "supersedes": appended["items"][2]["id"] }] });
    yard.good("POST", one, None, Some(&correction)).await;
    let path = format!("{next}/estimate?as_of=2026-08-20");
    let held = yard.call_with("GET", &path, None, &[("if-none-match", &pooled.0)], None).await;
    assert_eq!(held.status, 200, "what is held is out of date");
    assert_ne!(held.header("etag"), pooled.0);
    assert_eq!(ask("&pool=false").await, alone);

    let without = Server::with(&["--store", &yard.database.url, "--pool", "false"]);
    let untold = send(&without, "GET", &path, &[], String::new()).await;
    assert_eq!((untold.header("etag"), untold.json()), (alone.0.as_str(), alone.1));

    let when = yard.call("GET", &format!("{path}&pool=perhaps"), None, None).await;
    assert_eq!((when.status.as_u16(), &when.json()["errors"][0]["pointer"]), (422, &json!("/pool")));
}
