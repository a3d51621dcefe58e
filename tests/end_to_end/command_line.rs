//! `baycast estimate`, `baycast demo` and the commands on a store, as someone at a shell uses them.

mod answers;
mod bring;
mod configuration;
mod demo;
mod faults;
mod pipes;
mod records;

use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use serde_json::{Value, json};

/// A folder of its own under the build's, removed when the test ends.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        fs::write(&path, text).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Runs the binary in `folder` to its end.
fn baycast(folder: &Folder, arguments: &[&str], standard_input: &[u8]) -> Output {
    let mut child = Command::new(crate::binary::path())
        .args(arguments)
        .current_dir(&folder.0)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let text = standard_input.to_vec();
    let feeder = std::thread::spawn(move || {
        let _ = pipe.write_all(&text);
    });
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    output
}

/// Standard output of a run that served everything and said nothing else.
fn served(output: &Output) -> String {
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!((output.status.code(), stderr.as_ref()), (Some(0), ""), "{}", text(&output.stdout));
    text(&output.stdout)
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// The estimates in NDJSON.
fn estimates(ndjson: &str) -> Vec<Value> {
    ndjson.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// The place and bay of the histories below, for sheets.
const SHEET_FLAGS: [&str; 4] =
    ["--latitude", "52", "--bay", "pallet-1: 1.0x1.0x1.1 cardboard_lined open soil"];

/// A history of a pallet bay with these events.
fn history(batch: &str, events: &Value) -> Value {
    json!({
        "batch": batch,
        "as_of": "2026-06-01",
        "site": {"latitude_deg": 52.0},
        "bay": {
            "id": "pallet-1", "length_m": 1.0, "width_m": 1.0, "height_m": 1.1,
            "wall": {"construction": "cardboard_lined"}, "base": "soil", "top": "open",
        },
        "events": events,
    })
}

/// The events of a spring filling.
fn spring() -> Value {
    json!([
        {"at": "2026-03-20", "addition": {"feedstock": "shredded_prunings", "mass_kg": 60}},
        {"at": "2026-03-20", "addition": {"feedstock": "grass_mowings", "barrows": 1.5}},
        {"at": "2026-03-20", "addition": {"feedstock": "cardboard", "volume_m3": 0.08, "preparation": "shredded"}},
        {"at": "2026-03-24T07:30:00Z", "id": "r1", "reading": {"temperature_c": 45.0, "depth_m": 0.5, "ambient_c": 9.5}},
        {"at": "2026-04-02", "reading": {"temperature_c": 55.0, "zone": "core"}},
        {"at": "2026-04-10", "addition": {"feedstock": "leafy_crop_waste", "filled_to_fraction": 0.8, "moisture_fraction": 0.88}},
        {"at": "2026-04-11", "moisture": {"squeeze": "damp"}},
        {"at": "2026-04-12", "cover": {"state": "on"}},
        {"at": "2026-04-20", "firming": {}},
        {"at": "2026-05-01", "watering": {"litres": 20}},
        {"at": "2026-05-10", "turn": {}},
        {"at": "2026-05-12", "moisture": {"percent": 60}},
        {"at": "2026-05-20", "withdrawal": {"volume_m3": 0.05}},
        {"at": "2026-05-25", "level": {"fill_fraction": 0.62}},
    ])
}

/// The same as a sheet.
const SPRING_SHEET: &str = "\
event,at,id,feedstock,mass_kg,barrows,volume_m3,filled_to_fraction,moisture_fraction,preparation,temperature_c,depth_m,zone,ambient_c,percent,squeeze,state,litres,fill_fraction
addition,2026-03-20,,shredded_prunings,60,,,,,,,,,,,,,,
addition,2026-03-20,,grass_mowings,,1.5,,,,,,,,,,,,,
addition,2026-03-20,,cardboard,,,0.08,,,shredded,,,,,,,,,
reading,2026-03-24T07:30:00Z,r1,,,,,,,,45.0,0.5,,9.5,,,,,
reading,2026-04-02,,,,,,,,,55.0,,core,,,,,,
addition,2026-04-10,,leafy_crop_waste,,,,0.8,0.88,,,,,,,,,,
moisture,2026-04-11,,,,,,,,,,,,,,damp,,,
cover,2026-04-12,,,,,,,,,,,,,,,on,,
firming,2026-04-20,,,,,,,,,,,,,,,,,
watering,2026-05-01,,,,,,,,,,,,,,,,20,
turn,2026-05-10,,,,,,,,,,,,,,,,,
moisture,2026-05-12,,,,,,,,,,,,,60,,,,
withdrawal,2026-05-20,,,,,0.05,,,,,,,,,,,,
level,2026-05-25,,,,,,,,,,,,,,,,,0.62
";

/// The same as a grower might keep it, with the kinds of event left to be seen from the columns; half past eight on 24
/// March is half past seven UTC in Madrid (UTC + 1 h before the last Sunday of March).
const SPRING_LOGBOOK: &str = "\u{feff}\
Date;Time;Heap;Material;Amount;Filled to %;Moisture %;Shredded;Temp °C;Depth cm;Part;Air °C;Squeeze;Covered;\
Water (l);Turned;Trodden;Taken out;Ref;Level %;Notes\r
20/03/2026;;spring;Shredded prunings;60 kg;;;;;;;;;;;;;;;;from the orchard\r
20/03/2026;;spring;grass mowing;1,5 barrows;;;;;;;;;;;;;;;;\r
20/03/2026;;spring;Cardboard;80 litres;;;yes;;;;;;;;;;;;;\r
;;;;;;;;;;;;;;;;;;;;\r
24/03/2026;08:30;spring;;;;;;45,0;50;;9,5;;;;;;;r1;;\r
2.4.2026;;spring;;;;;;55;;centre;;;;;no;;;;;\r
10/04/26;;spring;Leafy crop waste;;80;88;;;;;;;;;;;;;;\r
11/04/2026;;spring;;;;;;;;;;Moist;;;;;;;;\r
12 April 2026;;spring;;;;;;;;;;;yes;;;;;;;\r
20/04/2026;;spring;;;;;;;;;;;;;;x;;;;\r
01/05/2026;;spring;;;;;;;;;;;;20;;;;;;\r
10/05/2026;;spring;;;;;;;;;;;;;yes;;;;;\r
12/05/2026;;spring;;;;60;;;;;;;;;;;;;;\r
20/05/2026;;spring;;;;;;;;;;;;;;;50 l;;;\"for the leeks; two beds\"\r
25/05/2026;;spring;;;;;;;;;;;;;;;;;62;\r
";
