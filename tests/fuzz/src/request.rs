//! Requests over HTTP: paths, query parameters, headers and bodies.

use std::sync::{Arc, LazyLock, Mutex};

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderName, HeaderValue, Method, Request, StatusCode, header};
use axum::response::Response;
use baycast_model::history::{Event, History};
use baycast_records::{Append, BatchDraft, Entry, FarmDraft, Mode, Placed, Reach, Records, Scope, Stamp};
use baycast_service::{Limits, Service};
use http_body_util::BodyExt;
use jiff::Timestamp;
use jiff::civil::date;
use serde_json::Value;
use tempfile::TempDir;
use tokio::runtime::Runtime;
use tower::ServiceExt;

/// The farm that is asked about.
const FARM: &str = "home";
/// Its one batch.
const BATCH: &str = "heap";
/// What is recorded of it.
const EVENTS: &str = r#"[
    {"at": "2026-09-01", "addition": {"feedstock": "grass_mowings", "mass_kg": 60}},
    {"at": "2026-09-01", "addition": {"feedstock": "shredded_prunings", "mass_kg": 40}},
    {"at": "2026-09-08T18:00:00Z", "reading": {"temperature_c": 58.5, "depth_m": 0.5}}
]"#;

/// A service with a farm that a key may read, and only read: what is asked of it changes nothing.
struct Served {
    runtime: Runtime,
    router: Router,
    key: HeaderValue,
    _folder: TempDir,
}

static SERVED: LazyLock<Mutex<Served>> = LazyLock::new(|| Mutex::new(Served::start()));

/// A request line, headers, an empty line, and a body. It is answered, and where it is declined the answer is a problem
/// document that says why.
pub fn ask(text: &[u8]) {
    let Some(request) = read(text) else { return };
    let served = SERVED.lock().expect("no request has failed before");
    let (status, declined) = served.answer(request);
    if !status.is_client_error() && !status.is_server_error() {
        return;
    }
    let (content_type, body) = declined.expect("the answer ends");
    assert_eq!(content_type, "application/problem+json", "{status}");
    let problem: Value = serde_json::from_slice(&body).expect("a problem document is JSON");
    assert_eq!(problem["status"], status.as_u16(), "{problem}");
    assert!(problem["detail"].as_str().is_some_and(|detail| !detail.is_empty()), "{problem}");
    // Alone, nobody is in the way and nothing takes long.
    assert!(!status.is_server_error(), "{problem}");
    if status == StatusCode::UNPROCESSABLE_ENTITY {
        let errors = problem["errors"].as_array().filter(|errors| !errors.is_empty());
        let errors = errors.unwrap_or_else(|| panic!("no field is named: {problem}"));
        assert!(errors.iter().all(|error| error["accepted"].as_str().is_some_and(|it| !it.is_empty())));
    }
}

/// The request, where it is one that a server would hand on.
fn read(text: &[u8]) -> Option<Request<Body>> {
    let end = text.windows(2).position(|two| two == b"\n\n");
    let (head, body) = end.map_or((text, &[][..]), |end| (&text[..end], &text[end + 2..]));
    let mut head = head.split(|byte| *byte == b'\n');
    let (method, target) = std::str::from_utf8(head.next()?).ok()?.split_once(' ')?;
    // What is followed never ends.
    let ends = !target.contains("watch");
    let mut request = Request::builder().method(Method::from_bytes(method.as_bytes()).ok()?).uri(target);
    for line in head {
        let colon = line.iter().position(|byte| *byte == b':')?;
        let name = HeaderName::from_bytes(&line[..colon]).ok()?;
        request = request.header(name, HeaderValue::from_bytes(line[colon + 1..].trim_ascii()).ok()?);
    }
    let request = request.body(Body::from(body.to_vec())).ok()?;
    (ends && target.starts_with('/')).then_some(request)
}

impl Served {
    fn start() -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let runtime = runtime.expect("a runtime starts");
        let folder = tempfile::tempdir().expect("a folder can be made");
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        let (router, key) = runtime.block_on(async {
            let records = Arc::new(Records::open(&url).await.expect("the records open"));
            keep(&records).await.expect("a farm can be kept");
            let reach = Reach::Farms(vec![FARM.to_owned()]);
            let issued = records.create_key("reader", Scope::Read, reach, Timestamp::UNIX_EPOCH).await;
            let key = format!("Bearer {}", issued.expect("a key can be created").text);
            let service = Service::new(Limits::default(), Arc::new(|| date(2026, 9, 15)));
            let service = service.with_records(records, Arc::new(now));
            (baycast_rest::router(service), key)
        });
        let key = HeaderValue::from_str(&key).expect("a key is text");
        Self { runtime, router, key, _folder: folder }
    }

    /// The status, and content type and body where the request is declined.
    fn answer(&self, mut request: Request<Body>) -> (StatusCode, Option<(String, Vec<u8>)>) {
        request.headers_mut().entry(header::AUTHORIZATION).or_insert(self.key.clone());
        self.runtime.block_on(async {
            let answer: Response = self.router.clone().oneshot(request).await.expect("a router answers");
            let status = answer.status();
            let content_type = answer.headers().get(header::CONTENT_TYPE);
            let content_type =
                content_type.and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned();
            let body = answer.into_body().collect().await;
            (status, body.ok().map(|body| (content_type, body.to_bytes().to_vec())))
        })
    }
}

/// The time of the service.
fn now() -> Timestamp {
    Timestamp::constant(1_789_459_200, 0)
}

/// Keeps a farm with a bay and a batch.
async fn keep(records: &Records) -> baycast_records::Result<()> {
    let of_demo = include_bytes!("../../../crates/baycast/demo/larkfield.json");
    let histories: Vec<History> = serde_json::from_slice(of_demo).expect("the demo's histories can be read");
    let History { site, bay, .. } = histories.into_iter().next().expect("the demo has histories");
    let start_bay = bay.id.clone();
    let farm =
        FarmDraft { name: "Home".to_owned(), site, time_zone: "Europe/London".to_owned(), barrow_m3: None };
    records.create_farm(FARM, &farm).await?;
    records.create_bay(FARM, &bay, 1).await?;
    let batch = BatchDraft {
        name: String::new(),
        start_bay,
        horizon_days: None,
        forecast_step_days: None,
        criteria: Vec::new(),
    };
    records.create_batch(FARM, BATCH, &batch).await?;
    let events: Vec<Event> = serde_json::from_str(EVENTS).expect("events");
    let entries =
        events.into_iter().map(|event| Placed { batch: BATCH.to_owned(), entry: Entry::Add { event } });
    let append = Append {
        farm: FARM.to_owned(),
        entries: entries.collect(),
        mode: Mode::AllOrNothing,
        idempotency_key: None,
    };
    records.append(append, &Stamp::new(now(), "seed")).await.map(|_| ())
}
