//! Requests that cannot be answered: each gets its status and the name of the field, and the service goes on.

use std::convert::Infallible;

use axum::body::Body;
use bytes::Bytes;
use futures::{StreamExt, stream};
use serde_json::{Value, json};

use crate::histories::{edited, full, without};
use crate::http::{estimate, send};
use crate::planning::season::season;
use crate::planning::{need, on_hand};
use crate::server::Server;

const JSON: &str = "application/json";
const LINES: &str = "application/x-ndjson";

/// What is sent.
enum Content {
    /// These bytes.
    Bytes(Bytes),
    /// So many bytes with a `Content-Length`.
    Long(usize),
    /// So many bytes in chunks, their number not told before.
    Chunked(usize),
}

/// One row of the table.
struct Case {
    name: &'static str,
    method: &'static str,
    path: &'static str,
    content_type: Option<&'static str>,
    content: Content,
    status: u16,
    /// JSON Pointer of one of the `errors`; `None` where no field is at fault.
    pointer: Option<&'static str>,
}

/// A text posted as a history.
fn text(name: &'static str, text: impl Into<Bytes>, status: u16, pointer: &'static str) -> Case {
    let content = Content::Bytes(text.into());
    Case {
        name,
        method: "POST",
        path: "/v1/estimates",
        content_type: Some(JSON),
        content,
        status,
        pointer: Some(pointer),
    }
}

/// A JSON value posted as a history, well-formed but of no use.
fn unusable(name: &'static str, history: &Value, pointer: &'static str) -> Case {
    text(name, history.to_string(), 422, pointer)
}

/// The full history with one value changed to one that is of no use.
fn field(name: &'static str, at: &'static str, value: Value) -> Case {
    unusable(name, &edited(&[(at, value)]), at)
}

/// The full history as text with a part of it replaced.
fn rewritten(from: &str, to: &str) -> String {
    let history = full().to_string();
    assert_eq!(history.matches(from).count(), 1, "{from} stands once in {history}");
    history.replace(from, to)
}

/// Text that is not JSON.
fn not_json() -> Vec<Case> {
    let whole = full().to_string();
    let percent = whole.find("62.5").expect("a percentage");
    let mut latin = whole.clone().into_bytes();
    let place = whole.find("pallet 2").expect("the batch's name");
    latin[place] = 0xe9;
    vec![
        text("empty body", "", 400, ""),
        text("white space", " \r\n ", 400, ""),
        text("truncated", whole[..percent].to_owned(), 400, "/events/6/moisture/percent"),
        text("one brace short", whole[..whole.len() - 1].to_owned(), 400, ""),
        text("more after the end", whole.clone() + "{}", 400, ""),
        text("NaN", rewritten("48.5", "NaN"), 400, "/events/2/reading/temperature_c"),
        text("Infinity", rewritten("220.5", "-Infinity"), 400, "/events/0/addition/mass_kg"),
        text("number beyond any double", rewritten("220.5", "1e999"), 400, "/events/0/addition/mass_kg"),
        text("comma before the end", rewritten("62.5}", "62.5,}"), 400, "/events/6/moisture"),
        text("comment", rewritten("62.5", "62.5 /* about */"), 400, "/events/6/moisture"),
        text("invalid UTF-8", latin, 400, "/batch"),
        text("lone surrogate", rewritten("pallet 2, spring", r"\ud800"), 400, "/batch"),
        text(
            "deep nesting",
            format!(r#"{{"events":{}"#, "[".repeat(100_000)),
            400,
            "/events/0/0/0/0/0/0/0/0/0/0/0/0/0/0/0",
        ),
        text(
            "field given twice",
            rewritten(r#""barrow_m3":0.09"#, r#""barrow_m3":0.09,"barrow_m3":0.08"#),
            400,
            "",
        ),
    ]
}

/// JSON of the wrong shape.
fn wrong_shape() -> Vec<Case> {
    vec![
        unusable("array for an object", &json!([full()]), ""),
        unusable("text for an object", &json!("full"), ""),
        unusable("null", &json!(null), ""),
        unusable("nothing given", &json!({}), "/events"),
        unusable("no bay", &without("/bay"), "/bay"),
        unusable("no latitude", &without("/site/latitude_deg"), "/site/latitude_deg"),
        field("text for a number", "/events/2/reading/temperature_c", json!("48.5")),
        field("number for a text", "/batch", json!(7)),
        field("fraction for a whole number", "/horizon_days", json!(1.5)),
        field("negative whole number", "/forecast_step_days", json!(-7)),
        field("array in the order of the fields", "/events/2/reading", json!([48.5])),
        field("object for a list", "/events", json!({})),
        field("unknown field", "/colour", json!("brown")),
        field("field in a unit that is not taken", "/events/2/reading/temperature_k", json!(321.5)),
        field("field of another event", "/events/10/turn/depth_m", json!(0.5)),
        field("unknown word", "/bay/wall/construction", json!("adamant")),
        field("word in capitals", "/events/3/reading/zone", json!("CORE")),
        field("day that no month has", "/events/1/at", json!("2026-02-30")),
        field("date as people write it", "/events/1/at", json!("1/4/2026")),
        field("time without its offset", "/events/2/at", json!("2026-04-02T17:30:00")),
        field("text for a list of dates", "/ready_by", json!("2026-08-01")),
        field("time for a date", "/ready_by/1", json!("soon")),
        field("text for a level", "/events/16/level/fill_fraction", json!("half")),
        field("field of a level that is not taken", "/events/16/level/height_m", json!(0.7)),
        unusable(
            "a level that is not said",
            &without("/events/16/level/fill_fraction"),
            "/events/16/level/fill_fraction",
        ),
        field("text for yes or no", "/compare_futures", json!("yes")),
        field("list for a lesson", "/lesson", json!([])),
        field("text for a list of batches", "/lesson/batches", json!("pallet 1, autumn")),
        field("text for a factor", "/lesson/beliefs/0/factor", json!("faster")),
        field("unknown that no model has", "/lesson/beliefs/0/unknown", json!("luck")),
        field("field of a belief that is not taken", "/lesson/beliefs/1/deviation", json!(0.1)),
        unusable("a lesson that says nothing", &without("/lesson/beliefs"), "/lesson/beliefs"),
        unusable(
            "a belief as firm as one likes",
            &without("/lesson/beliefs/1/log_deviation"),
            "/lesson/beliefs/1/log_deviation",
        ),
        field("number for a date", "/site/daily/0/date", json!(20_260_402)),
    ]
}

/// Values outside what is taken.
fn wrong_value() -> Vec<Case> {
    vec![
        field("180 °C", "/events/2/reading/temperature_c", json!(180)),
        field("a °F that is a °C over 95", "/events/3/reading/temperature_f", json!(210)),
        field("negative mass", "/events/0/addition/mass_kg", json!(-1)),
        field("tonnes for kilograms", "/events/0/addition/mass_kg", json!(220_500)),
        field("percent for a share", "/events/0/addition/moisture_fraction", json!(78)),
        field("share for a percent", "/events/6/moisture/percent", json!(0.6)),
        field("bay in centimetres", "/bay/length_m", json!(100)),
        field("bay of no height", "/bay/height_m", json!(0)),
        field("pole", "/site/latitude_deg", json!(90)),
        field("eleven months", "/site/normals/rain_mm", json!([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11])),
        field("year 9999", "/events/1/at", json!("9999-12-31")),
        field("year 1", "/events/1/at", json!("0001-01-01")),
        field("as of before the first event", "/as_of", json!("2026-03-01")),
        field("reading of the future", "/events/15/at", json!("2026-12-25")),
        field("turn before the first addition", "/events/10/at", json!("2026-03-01")),
        field("percent for a level", "/events/16/level/fill_fraction", json!(62)),
        field("level of no height", "/events/16/level/fill_fraction", json!(0)),
        field("level seen in the future", "/events/16/at", json!("2026-12-25")),
        field("level before the first addition", "/events/16/at", json!("2026-03-01")),
        field("day asked about before the first addition", "/ready_by/0", json!("2026-04-01")),
        field("day asked about beyond the horizon", "/ready_by/1", json!("2028-01-01")),
        field("day asked about twice", "/ready_by/1", json!("2026-08-01")),
        field("more days than are answered", "/ready_by", json!(vec!["2026-08-01"; 25])),
        field("percent for a factor", "/lesson/beliefs/0/factor", json!(115)),
        field("negative factor", "/lesson/beliefs/1/factor", json!(-0.9)),
        field("belief beyond doubt", "/lesson/beliefs/0/log_deviation", json!(0)),
        field("belief in what no bay keeps", "/lesson/beliefs/1/unknown", json!("water")),
        field("belief told twice", "/lesson/beliefs/1/unknown", json!("kinetics")),
        field("batch of no letter", "/lesson/batches/0", json!("")),
        unusable(
            "a level and a reading",
            &edited(&[("/events/16/reading", json!({ "temperature_c": 40 }))]),
            "/events/16",
        ),
        field("unknown feedstock", "/events/0/addition/feedstock", json!("granite")),
        field("unknown bay", "/events/11/move/to_bay", json!("pallet-9")),
        field("unknown source", "/events/12/merge/source", json!("pallet 9, spring")),
        field("name of no letter", "/batch", json!("")),
        field("name of 129 letters", "/batch", json!("x".repeat(129))),
        field("more withdrawn than there is", "/events/14/withdrawal/volume_m3", json!(500)),
        field("own feedstock of more than itself", "/feedstocks/0/slow_fraction", json!(0.9)),
        field("criteria that nothing meets", "/criteria/0/max_moisture_fraction", json!(0.1)),
        field("horizon of three years", "/horizon_days", json!(1095)),
        unusable("two details in one event", &edited(&[("/events/10/firming", json!({}))]), "/events/10"),
        unusable("no detail", &without("/events/10/turn"), "/events/10"),
        unusable(
            "a reading in both units",
            &edited(&[("/events/2/reading/temperature_f", json!(119.3))]),
            "/events/2/reading",
        ),
        unusable("a reading in neither", &without("/events/3/reading/temperature_f"), "/events/3/reading"),
        unusable("two amounts", &edited(&[("/events/0/addition/barrows", json!(3))]), "/events/0/addition"),
        unusable("ids given twice", &edited(&[("/events/3/id", json!("a1"))]), "/events/3/id"),
        unusable("bays of one id", &edited(&[("/other_bays/0/id", json!("pallet-2"))]), "/other_bays/0/id"),
        unusable("no events", &edited(&[("/events", json!([]))]), "/events"),
    ]
}

/// More than is taken.
fn too_large() -> Vec<Case> {
    let turn = json!({ "at": "2026-05-01", "turn": {} });
    let events = |count: usize| {
        let turns = vec![turn.to_string(); count].join(",");
        rewritten(
            r#""events":[{"addition":{"feedstock":"grass"#,
            &format!(r#""events":[{turns},{{"addition":{{"feedstock":"grass"#),
        )
    };
    let lesson = |count: usize| {
        let batches = vec!["\"x\""; count].join(",");
        rewritten(r#"["pallet 1, autumn"]"#, &format!("[{batches}]"))
    };
    let mut nested = full();
    for _ in 0..5 {
        let inner = nested;
        nested = edited(&[("/sources", json!([inner]))]);
    }
    let large = |content, declared| Case {
        name: declared,
        method: "POST",
        path: "/v1/estimates",
        content_type: Some(JSON),
        content,
        status: 413,
        pointer: Some(""),
    };
    vec![
        text("10 020 events", events(10_004), 413, "/events"),
        text("a million events", events(1_000_000), 413, ""),
        text("a million beliefs", lesson(1_000_000), 413, ""),
        text("20 000 batches that taught", lesson(20_000), 413, ""),
        text("sources six deep", nested.to_string(), 413, "/sources"),
        large(Content::Long(100_000_000), "100 MB, said before"),
        large(Content::Chunked(100_000_000), "100 MB, not said before"),
    ]
}

/// The right thing in the wrong place.
fn wrong_address() -> Vec<Case> {
    let case = |name, method, path, content_type, status, pointer| Case {
        name,
        method,
        path,
        content_type,
        content: Content::Bytes(full().to_string().into()),
        status,
        pointer,
    };
    vec![
        case("text/plain", "POST", "/v1/estimates", Some("text/plain"), 415, None),
        case("a form", "POST", "/v1/estimates", Some("application/x-www-form-urlencoded"), 415, None),
        case("a call of gRPC", "POST", "/v1/estimates", Some("application/grpc"), 415, None),
        case("no content type", "POST", "/v1/estimates", None, 415, None),
        case(
            "another character set",
            "POST",
            "/v1/estimates",
            Some("application/json; charset=utf-16"),
            415,
            None,
        ),
        case("lines for one", "POST", "/v1/estimates", Some(LINES), 415, None),
        case("one for lines", "POST", "/v1/estimates:stream", Some(JSON), 415, None),
        case("unknown route", "POST", "/v1/estimate", Some(JSON), 404, None),
        case("unknown version", "POST", "/v2/estimates", Some(JSON), 404, None),
        case("unknown row", "GET", "/v1/feedstocks/granite", None, 404, None),
        case("wrong method", "PUT", "/v1/estimates", Some(JSON), 405, None),
        case("page of letters", "GET", "/v1/feedstocks?page_size=ten", None, 422, Some("/page_size")),
        case(
            "page of less than nothing",
            "GET",
            "/v1/feedstocks?page_size=-1",
            None,
            422,
            Some("/page_size"),
        ),
        case(
            "page that never was",
            "GET",
            "/v1/feedstocks?page_token=granite",
            None,
            422,
            Some("/page_token"),
        ),
        case("unknown parameter", "GET", "/v1/feedstocks?sort=name", None, 422, Some("/sort")),
    ]
}

/// What is on hand and what is needed, of no use.
fn wrong_questions() -> Vec<Case> {
    let asked = |name, path, mut body: Value, at: &'static str, value| {
        let (parent, member) = at.rsplit_once('/').expect("a place");
        let parent = body.pointer_mut(parent).unwrap_or_else(|| panic!("{at}"));
        match parent {
            Value::Array(elements) => elements[member.parse::<usize>().expect("an index")] = value,
            parent => parent[member] = value,
        }
        Case { path, ..unusable(name, &body, at) }
    };
    let mix = |name, at, value| asked(name, "/v1/recipes", on_hand(), at, value);
    let needed = |name, at, value| asked(name, "/v1/requirements", need(), at, value);
    let planned = |name, at, value| asked(name, "/v1/plans", season(), at, value);
    let inflows = vec![json!({ "feedstock": "cardboard", "mass_kg_week": 1 }); 101];
    let many = vec![json!({ "feedstock": "cardboard", "most": { "mass_kg": 1 } }); 25];
    vec![
        mix("no ingredients", "/ingredients", json!([])),
        mix("ingredients beyond count", "/ingredients", json!(many)),
        mix("unknown material", "/ingredients/1/feedstock", json!("granite")),
        mix("negative amount", "/ingredients/0/most/mass_kg", json!(-1)),
        mix("amount told twice", "/ingredients/0/most", json!({ "mass_kg": 1, "barrows": 1 })),
        mix("amount not told", "/ingredients/0/most", json!({})),
        mix("text for an amount", "/ingredients/0/most/mass_kg", json!("300 kg")),
        mix("unit that is not taken", "/ingredients/0/most", json!({ "litres": 3 })),
        mix("more at least than at most", "/ingredients/2/least", json!({ "barrows": 7 })),
        mix("percent for a moisture", "/ingredients/0/moisture_fraction", json!(80)),
        mix("C:N of no mix", "/targets", json!({ "c_to_n": 300 })),
        mix("percent for a target", "/targets", json!({ "moisture_fraction": 55 })),
        mix("range upside down", "/targets", json!({ "min_c_to_n": 45, "max_c_to_n": 25 })),
        mix("more than is on hand", "/volume_m3", json!(50)),
        mix("barrow of a lorry", "/barrow_m3", json!(5)),
        mix("unknown member", "/colour", json!("brown")),
        needed("volume of nothing", "/wanted/volume_m3", json!(0)),
        needed("day before the start", "/wanted/by", json!("2026-09-01")),
        needed("day in three years", "/wanted/by", json!("2029-10-01")),
        needed("day that no month has", "/wanted/by", json!("2027-02-30")),
        needed("unknown use", "/wanted/use", json!("fuel")),
        needed("a year of filling", "/wanted/filling_weeks", json!(52)),
        needed("turned at once", "/wanted/turn_after_days", json!(0)),
        needed("bay in centimetres", "/bay/length_m", json!(150)),
        needed("how much to mix", "/on_hand/volume_m3", json!(1)),
        needed("unknown material needed", "/on_hand/ingredients/0/feedstock", json!("granite")),
        needed("pole", "/site/latitude_deg", json!(90)),
        needed("no place", "/site", json!(null)),
        needed("start in the year 1", "/wanted/earliest_start", json!("0001-01-01")),
        planned("no bays", "/bays", json!([])),
        planned("inflows beyond count", "/inflows", json!(inflows)),
        planned("two years", "/weeks", json!(104)),
        planned("part of a week", "/weeks", json!(4.5)),
        planned("day that no month has to begin", "/from", json!("2026-09-31")),
        planned("material that nobody knows", "/inflows/0/feedstock", json!("granite")),
        planned("less than nothing comes in", "/inflows/0/mass_kg_week", json!(-1)),
        planned(
            "two amounts come in",
            "/inflows/0",
            json!({ "feedstock": "cardboard", "mass_kg_week": 1, "barrows_week": 1 }),
        ),
        planned("demand before the season", "/demands/0/by", json!("2026-09-01")),
        planned("demand after the season", "/demands/0/by", json!("2027-09-01")),
        planned("unknown use of a demand", "/demands/0/use", json!("fuel")),
        planned("dressing in millimetres", "/demands/1/depth_m", json!(20)),
        planned(
            "area without a depth",
            "/demands/1",
            json!({ "id": "a", "use": "mulch", "by": "2026-12-20", "area_m2": 1 }),
        ),
        planned("a batch in no bay of these", "/bays/0/id", json!("elsewhere")),
        planned("no hands can be turned", "/turns_per_week", json!(-1)),
        planned("a year of rest", "/rest_weeks", json!(52)),
        planned("a bay free, said in words", "/keep_bay_free", json!("yes")),
        planned("barrow of a lorry for a season", "/barrow_m3", json!(5)),
        planned("no place for a season", "/site", json!(null)),
        planned("a fault deep in a history", "/batches/0/history/events/0/addition/mass_kg", json!(-1)),
        planned("unknown member of a season", "/colour", json!("brown")),
    ]
    .into_iter()
    .map(|mut case| {
        // Of several members of one object the first at fault is named.
        case.pointer = match case.name {
            "unit that is not taken" => Some("/ingredients/0/most/litres"),
            "C:N of no mix" => Some("/targets/c_to_n"),
            "percent for a target" => Some("/targets/moisture_fraction"),
            "range upside down" => Some("/targets/max_c_to_n"),
            "dressing in millimetres" => Some("/demands/1/depth_m"),
            "a batch in no bay of these" => Some("/batches/0/history/bay/id"),
            _ => case.pointer,
        };
        case
    })
    .collect()
}

/// What is sent, as a body.
fn body(content: Content) -> Body {
    match content {
        Content::Bytes(bytes) => bytes.into(),
        Content::Long(length) => vec![b' '; length].into(),
        Content::Chunked(length) => {
            let chunk = Bytes::from(vec![b' '; 1 << 16]);
            let chunks = stream::repeat(chunk).take(length >> 16).map(Ok::<_, Infallible>);
            Body::from_stream(chunks)
        }
    }
}

#[tokio::test]
async fn each_gets_its_status_and_its_field_and_the_service_goes_on() {
    let server = Server::start();
    let groups = [not_json(), wrong_shape(), wrong_value(), too_large(), wrong_address(), wrong_questions()];
    let mut wrong = Vec::new();
    let mut count = 0;
    for Case { name, method, path, content_type, content, status, pointer } in groups.into_iter().flatten() {
        count += 1;
        let headers: Vec<_> = content_type.iter().map(|value| ("content-type", *value)).collect();
        let answer = send(&server, method, path, &headers, body(content)).await;
        let problem = answer.json();
        let pointers: Vec<_> =
            problem["errors"].as_array().into_iter().flatten().map(|error| &error["pointer"]).collect();
        let named = pointer.is_none_or(|pointer| pointers.iter().any(|given| *given == pointer));
        let complete = answer.header("content-type") == "application/problem+json"
            && problem["status"] == status
            && problem["type"].as_str().is_some_and(|urn| urn.starts_with("urn:baycast:problem:"))
            && problem["detail"].as_str().is_some_and(|detail| !detail.is_empty());
        if answer.status != status || !named || !complete {
            wrong.push(format!("{name}: {status} {pointer:?} expected, {} {problem} given", answer.status));
        }
    }
    assert!(count > 80, "{count} cases");
    assert!(wrong.is_empty(), "{} of {count}:\n{}", wrong.len(), wrong.join("\n"));
    assert_eq!(estimate(&server, &full()).await.status, 200);
}

#[tokio::test]
async fn every_wrong_field_is_told_at_once_with_its_value_and_what_is_taken() {
    let server = Server::start();
    let history = edited(&[
        ("/events/2/reading/temperature_c", json!(180)),
        ("/events/0/addition/mass_kg", json!(-3)),
        ("/barrow_m3", json!(9)),
    ]);
    let problem = estimate(&server, &history).await.json();
    let mut errors: Vec<_> =
        problem["errors"].as_array().expect("errors").iter().map(Value::to_string).collect();
    errors.sort_unstable();
    assert_eq!(
        errors,
        [
            r#"{"accepted":"-20 to 95","pointer":"/events/2/reading/temperature_c","value":"180"}"#,
            r#"{"accepted":"0 to 50000","pointer":"/events/0/addition/mass_kg","value":"-3"}"#,
            r#"{"accepted":"0.01 to 0.5","pointer":"/barrow_m3","value":"9"}"#,
        ]
    );
}
