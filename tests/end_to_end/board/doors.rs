//! Who is let in to a board, and to nothing else.

use axum::http::HeaderMap;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;
use sha2::{Digest, Sha256};

use crate::http::{Answer, send};
use crate::records_rest::yard::{Yard, text};

/// What the board's own pages send with a form.
const OWN: (&str, &str) = ("sec-fetch-site", "same-origin");

/// Everything on a board, of a farm and a batch.
fn pages(farm: &str, batch: &str) -> [String; 4] {
    [
        format!("/board/{farm}"),
        format!("/board/{farm}/batches/{batch}"),
        format!("/board/{farm}/plan"),
        format!("/board/{farm}/changes?after=0"),
    ]
}

async fn call(
    yard: &Yard,
    method: &str,
    path: &str,
    key: Option<&str>,
    more: &[(&str, &str)],
    form: &str,
) -> Answer {
    let cookie = key.map(|key| format!("baycast_key={key}"));
    let mut headers = more.to_vec();
    headers.extend(cookie.as_deref().map(|cookie| ("cookie", cookie)));
    if !form.is_empty() {
        headers.push(("content-type", "application/x-www-form-urlencoded"));
    }
    send(&yard.server, method, path, &headers, form.to_owned()).await
}

/// Status and text, with the names taken out.
fn shape(answer: &Answer, names: &[&str]) -> (u16, String) {
    let mut text = String::from_utf8_lossy(&answer.body).into_owned();
    for name in names {
        text = text.replace(&format!("\"{name}\""), "\"…\"");
    }
    (answer.status.as_u16(), text)
}

fn policy(headers: &HeaderMap) -> String {
    headers
        .get("content-security-policy")
        .map_or_else(String::new, |own| own.to_str().expect("text").to_owned())
}

#[tokio::test]
async fn no_key_that_must_not_opens_a_board_or_tells_what_is_there() {
    let yard = Yard::open();
    yard.farm(None, "theirs", "-theirs").await;
    yard.farm(None, "mine", "-mine").await;
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let by = Some(admin.as_str());
    let (_, mine) = yard.key(by, "write", &["mine"]).await;
    let (_, reader) = yard.key(by, "read", &["theirs"]).await;
    let (revoked_id, revoked) = yard.key(by, "admin", &[]).await;
    yard.good("POST", &format!("/v1/keys/{revoked_id}/revoke"), by, None).await;
    let note = "kind=turn&key=0123456789abcdef";
    let names = ["theirs", "nowhere"];

    for (there, nowhere) in pages("theirs", "heap-theirs").iter().zip(&pages("nowhere", "heap")) {
        for key in [None, Some(revoked.as_str()), Some("bck_0")] {
            let told = call(&yard, "GET", there, key, &[], "").await;
            assert_eq!(told.status, 401, "{key:?}: {there}");
            assert_eq!(shape(&told, &names), shape(&call(&yard, "GET", nowhere, key, &[], "").await, &names));
        }
        let told = call(&yard, "GET", there, Some(&mine), &[], "").await;
        assert_eq!(told.status, 404, "another farm's: {there}");
        assert_eq!(
            shape(&told, &names),
            shape(&call(&yard, "GET", nowhere, Some(&mine), &[], "").await, &names)
        );
    }
    let heap = "/board/theirs/batches/heap-theirs";
    for (key, status) in
        [(None, 401), (Some(revoked.as_str()), 401), (Some(mine.as_str()), 404), (Some(reader.as_str()), 403)]
    {
        let told = call(&yard, "POST", heap, key, &[OWN], note).await;
        assert_eq!(told.status, status, "{key:?}");
    }
    // A key in a header, as for the contracts, opens no board: only a browser that has signed in does.
    let bearer = format!("Bearer {admin}");
    assert_eq!(call(&yard, "GET", heap, None, &[("authorization", &bearer)], "").await.status, 401);

    let read = call(&yard, "GET", heap, Some(&reader), &[], "").await;
    assert_eq!(read.status, 200);
    let read = shape(&read, &[]).1;
    assert!(!read.contains("class=\"note\"") && read.contains("April fill"), "read, and no form to write");
    let written = call(&yard, "GET", heap, Some(&admin), &[], "").await;
    assert!(shape(&written, &[]).1.contains("class=\"note\""));

    // What another site's page sends is not recorded, whatever cookie comes with it.
    let host = yard.server.address.as_str();
    let own = format!("http://{host}");
    for (headers, status) in [
        (vec![("sec-fetch-site", "cross-site"), ("origin", own.as_str())], 403),
        (vec![("origin", "https://elsewhere.example")], 403),
        (vec![("origin", "null")], 403),
        (vec![], 403),
        (vec![("origin", own.as_str())], 303),
    ] {
        assert_eq!(
            call(&yard, "POST", heap, Some(&admin), &headers, note).await.status,
            status,
            "{headers:?}"
        );
    }
    let events = yard.good("GET", "/v1/farms/theirs/batches/heap-theirs/events", by, None).await;
    assert_eq!(events["items"].as_array().expect("events").len(), 2, "the fill, and the one note");
    assert_eq!(text(&events["items"][1]["external_id"]), "board-0123456789abcdef");
}

#[tokio::test]
async fn a_key_signs_in_to_its_own_boards_and_out_again() {
    let yard = Yard::open();
    yard.farm(None, "theirs", "-theirs").await;
    yard.farm(None, "mine", "-mine").await;
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let (_, mine) = yard.key(Some(&admin), "read", &["mine"]).await;
    let sign_in = async |key: &str, farm: &str, more: &[(&str, &str)]| {
        call(&yard, "POST", "/board/sign-in", None, more, &format!("key={key}&farm={farm}")).await
    };
    let told = sign_in(&mine, "mine", &[OWN]).await;
    assert_eq!((told.status.as_u16(), told.header("location")), (303, "/board/mine"));
    let cookie = told.header("set-cookie");
    assert!(cookie.starts_with(&format!("baycast_key={mine}; Path=/board; ")), "{cookie}");
    assert!(cookie.ends_with("; HttpOnly; SameSite=Strict"), "{cookie}");
    let secure = sign_in(&mine, "mine", &[OWN, ("x-forwarded-proto", "https")]).await;
    assert!(secure.header("set-cookie").ends_with("; Secure"));

    let wrong = sign_in(&mine, "theirs", &[OWN]).await;
    assert_eq!((wrong.status.as_u16(), wrong.header("set-cookie")), (401, ""));
    let names = ["theirs", "nowhere"];
    assert_eq!(shape(&wrong, &names), shape(&sign_in("bck_0", "nowhere", &[OWN]).await, &names));
    assert_eq!(sign_in(&mine, "mine", &[("sec-fetch-site", "cross-site")]).await.status, 403);

    // With one board there is nothing to choose from.
    let only = call(&yard, "GET", "/board", Some(&mine), &[], "").await;
    assert_eq!((only.status.as_u16(), only.header("location")), (303, "/board/mine"));
    let both = call(&yard, "GET", "/board", Some(&admin), &[], "").await;
    assert!(shape(&both, &[]).1.contains("/board/theirs"));
    let out = call(&yard, "POST", "/board/sign-out", Some(&mine), &[OWN], "").await;
    assert_eq!(out.status, 303);
    assert!(out.header("set-cookie").starts_with("baycast_key=; Path=/board; Max-Age=0;"));
}

#[tokio::test]
async fn a_feeds_address_opens_one_board_to_read_until_it_is_revoked() {
    let yard = Yard::open();
    yard.farm(None, "mine", "-mine").await;
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let by = Some(admin.as_str());
    let issued = yard.good("POST", "/v1/farms/mine/feeds", by, Some(&json!({ "name": "shed" }))).await;
    let board = format!("{}/board", text(&issued["path"]));
    let heap = format!("{board}/batches/heap-mine");
    for path in [&board, &heap, &format!("{board}/plan")] {
        let told = call(&yard, "GET", path, None, &[], "").await;
        assert_eq!(told.status, 200, "{path}");
        let html = shape(&told, &[]).1;
        assert!(!html.contains("<form"), "nothing to fill in");
        assert!(!html.contains("\"/board/mine"), "no way to what needs a key");
    }
    assert_eq!(call(&yard, "POST", &heap, None, &[OWN], "kind=turn").await.status, 405);
    let id = text(&issued["feed"]["id"]);
    yard.good("POST", &format!("/v1/farms/mine/feeds/{id}/revoke"), by, None).await;
    // A revocation is felt within a second.
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    let told = call(&yard, "GET", &board, None, &[], "").await;
    assert_eq!(told.status, 404);
    assert_eq!(shape(&told, &[]), shape(&call(&yard, "GET", "/feeds/none/board", None, &[], "").await, &[]));
}

#[tokio::test]
async fn pages_are_guarded_and_files_are_kept() {
    let yard = Yard::open();
    yard.farm(None, "mine", "-mine").await;
    let page = call(&yard, "GET", "/board/mine", None, &[], "").await;
    let html = shape(&page, &[]).1;
    let policy = policy(&page.headers);
    for own in [
        "default-src 'none'",
        "script-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    ] {
        assert!(policy.contains(own), "{policy}");
    }
    assert!(!policy.contains("unsafe"), "{policy}");
    let (_, style) = html.split_once("<style>").expect("a style sheet");
    let (style, rest) = style.split_once("</style>").expect("its end");
    let source = format!("style-src 'sha256-{}';", STANDARD.encode(Sha256::digest(style)));
    assert!(policy.contains(&source), "{policy}: {source}");
    assert_eq!(page.header("x-content-type-options"), "nosniff");
    assert_eq!(page.header("referrer-policy"), "no-referrer");
    assert!(
        !html.contains(" style=") && !rest.contains("<style") && !html.contains(" onclick"),
        "nothing else inline"
    );
    let tag = page.header("etag").to_owned();
    let again = call(&yard, "GET", "/board/mine", None, &[("if-none-match", &tag)], "").await;
    assert_eq!((again.status.as_u16(), again.body.len()), (304, 0));
    let zipped = call(&yard, "GET", "/board/mine", None, &[("accept-encoding", "gzip")], "").await;
    assert_eq!(zipped.header("content-encoding"), "gzip");

    let files: Vec<&str> = html.split('"').filter(|part| part.starts_with("/board/assets/")).collect();
    assert_eq!(files.len(), 2, "icon and script");
    for file in files {
        let told = call(&yard, "GET", file, None, &[], "").await;
        assert_eq!(told.status, 200, "{file}");
        assert_eq!(told.header("cache-control"), "public, max-age=31536000, immutable");
        assert_eq!(told.header("x-content-type-options"), "nosniff");
    }
    let worker = call(&yard, "GET", "/board/worker.js", None, &[], "").await;
    assert_eq!(
        (worker.header("cache-control"), worker.header("content-type")),
        ("no-cache", "text/javascript; charset=utf-8")
    );
    assert_eq!(call(&yard, "GET", "/board/assets/board-0.js", None, &[], "").await.status, 404);
}
