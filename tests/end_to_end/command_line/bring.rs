//! `baycast bring`: notes into the records from the shell.

use super::{Folder, baycast, text};
use crate::http::send;
use crate::server::Server;

/// Runs a command on the store in the folder.
fn on_store(folder: &Folder, arguments: &[&str], standard_input: &[u8]) -> (Option<i32>, String, String) {
    let output = baycast(folder, &[arguments, &["--store", "sqlite:records.db"]].concat(), standard_input);
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

/// A folder whose store has the farm `home` with the batch `heap` in the bay `east`.
async fn planted(name: &str) -> Folder {
    let folder = Folder::new(name);
    let server = Server::with(&["--store", &format!("sqlite:{}", folder.0.join("records.db").display())]);
    for (path, body) in [
        (
            "/v1/farms",
            r#"{"id":"home","site":{"latitude_deg":52},"time_zone":"Europe/London","barrow_m3":0.1}"#,
        ),
        (
            "/v1/farms/home/bays",
            r#"{"bay":{"id":"east","length_m":1.2,"width_m":1.2,"height_m":1.1,"wall":{"construction":"block"}}}"#,
        ),
        ("/v1/farms/home/batches", r#"{"id":"heap","name":"Spring","start_bay":"east"}"#),
    ] {
        let answer = send(&server, "POST", path, &[("content-type", "application/json")], body).await;
        assert!(answer.status.is_success(), "{path}: {}", answer.json());
    }
    folder
}

/// A month as someone notes it.
const NOTES: &str = "Date,Batch,What,Material,Amount,Temp,Time,Level %\n\
    01/04/2026,Spring,filled,Grass mowings,3 barrows,,,\n\
    08/04/2026,Spring,,,,131,07:30,\n\
    20/04/2026,Spring,taken out,,2 barrows,,,\n\
    25/04/2026,Spring,,,,,,62\n";

#[tokio::test]
async fn notes_are_rehearsed_and_recorded_line_by_line() {
    let folder = planted("bring").await;
    folder.write("notes.csv", NOTES);
    let bring = ["bring", "home", "notes.csv", "--dates", "day-first", "--units", "f"];
    let before = on_store(&folder, &["export", "home"], b"").1;
    let (code, told, errors) = on_store(&folder, &[&bring[..], &["--dry-run"]].concat(), b"");
    let lines = "notes.csv:2: added: heap: 2026-04-01 addition grass_mowings\n\
        notes.csv:3: added: heap: 2026-04-08T06:30:00Z reading\n\
        notes.csv:4: added: heap: 2026-04-20 withdrawal\n\
        notes.csv:5: added: heap: 2026-04-25 level\n\
        notes.csv: 4 added, 0 replaced, 0 unchanged, 0 refused";
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    assert_eq!(told, format!("{lines}; a dry run: nothing was written\n"));
    assert_eq!(on_store(&folder, &["export", "home"], b"").1, before);

    assert_eq!(on_store(&folder, &bring, b""), (Some(0), format!("{lines}\n"), String::new()));
    let after = on_store(&folder, &["export", "home"], b"").1;
    assert!(after.contains("\"volume_m3\":0.2") && after.contains("\"temperature_f\":131"), "{after}");
    assert!(after.contains("\"level\":{\"fill_fraction\":0.62}"), "{after}");
    let (code, told, _) = on_store(&folder, &bring, b"");
    assert_eq!(code, Some(0));
    assert!(told.ends_with("notes.csv: 0 added, 0 replaced, 4 unchanged, 0 refused\n"), "{told}");
    assert_eq!(on_store(&folder, &["export", "home"], b"").1, after);
}

#[tokio::test]
async fn a_file_with_a_refused_line_is_kept_whole_not_at_all_or_without_it() {
    let folder = planted("bring-refused").await;
    folder.write("good.tsv", "date\tbatch\ttemp\n2026-04-07\theap\t50\n");
    folder.write(
        "bad.csv",
        "date,batch,temp °C\n2026-04-08,heap,58\n2026-04-09,heap,hot\n2026-04-10,heap,300\n",
    );
    let (code, told, errors) = on_store(&folder, &["bring", "home", "good.tsv", "bad.csv"], b"");
    assert_eq!((code, errors.as_str()), (Some(1), ""));
    assert_eq!(
        told,
        "good.tsv:2: added: heap: 2026-04-07 reading\n\
         good.tsv: 1 added, 0 replaced, 0 unchanged, 0 refused\n\
         bad.csv:3: temp °C: `hot` given, accepted: a number like 12.5\n\
         bad.csv:4: temp °C: 300 given, accepted: -20 to 95\n\
         bad.csv: nothing was recorded; --keep-good keeps the good lines\n"
    );
    let (code, told, _) = on_store(&folder, &["bring", "home", "bad.csv", "--keep-good"], b"");
    assert_eq!(code, Some(1));
    assert_eq!(
        told,
        "bad.csv:2: added: heap: 2026-04-08 reading\n\
         bad.csv:3: refused: temp °C: `hot` given, accepted: a number like 12.5\n\
         bad.csv:4: refused: temp °C: 300 given, accepted: -20 to 95\n\
         bad.csv: 1 added, 0 replaced, 0 unchanged, 2 refused\n"
    );
    let line = br#"{"batch":"heap","event":{"at":"2026-04-11","id":"t1","turn":{}}}"#;
    let (code, told, _) = on_store(&folder, &["bring", "home", "-", "--from", "ndjson"], line);
    assert_eq!((code, told.lines().next()), (Some(0), Some("standard input:1: added: heap: t1")));
}

#[tokio::test]
async fn wrong_usage_and_what_is_not_there_end_as_elsewhere() {
    let folder = planted("bring-usage").await;
    folder.write("notes.csv", NOTES);
    folder.write("notes.txt", NOTES);
    for (arguments, code, told) in [
        (&["bring", "home"][..], 2, "FILE"),
        (&["bring", "home", "notes.txt"], 2, "give --from"),
        (&["bring", "home", "notes.csv", "--dates", "month-first"], 2, "month-first"),
        (&["bring", "away", "notes.csv"], 1, "error: notes.csv: there is no farm `away`"),
        (&["bring", "home", "none.csv"], 1, "error: none.csv: "),
    ] {
        let (ended, out, errors) = on_store(&folder, arguments, b"");
        assert_eq!((ended, out.as_str()), (Some(code), ""), "{arguments:?}: {errors}");
        assert!(errors.contains(told), "{arguments:?}: {errors}");
    }
    let (code, told, errors) = on_store(
        &folder,
        &["bring", "home", "none.csv", "notes.csv", "--dates", "day-first", "--units", "f"],
        b"",
    );
    assert!(code == Some(1) && errors.starts_with("error: none.csv: "), "{errors}");
    assert!(
        told.ends_with("notes.csv: 4 added, 0 replaced, 0 unchanged, 0 refused\n"),
        "the rest is recorded: {told}"
    );
    let lost = baycast(&folder, &["bring", "home", "notes.csv", "--store", "sqlite:lost.db"], b"");
    assert_eq!(lost.status.code(), Some(1));
    assert!(text(&lost.stderr).contains("no records at lost.db"), "{}", text(&lost.stderr));
}
