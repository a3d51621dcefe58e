//! Invented sheets as growers keep them, and what they tell.

use jiff::tz::TimeZone;

use super::*;

/// How the sheets below are read: in London, with two bays and two batches.
fn grammar(dates: SheetDates, units: SheetUnits) -> Grammar {
    let named = |(id, name): (&str, &str)| (id.to_owned(), name.to_owned());
    let feedstocks = baycast_model::default_feedstocks();
    let feedstocks = feedstocks.iter().map(|own| (own.id.clone(), own.name.clone()));
    Grammar {
        dates,
        units,
        zone: Some(TimeZone::get("Europe/London").expect("the zone is built in")),
        barrow_m3: Some(0.1),
        feedstocks: Names::new("a feedstock's id or name", feedstocks),
        bays: Some(Names::new("a bay's id", [("bay-1", ""), ("bay-2", "")].map(named))),
        batches: Some(Names::new(
            "a batch's id or name",
            [("heap", "Spring"), ("pile", "Summer")].map(named),
        )),
    }
}

/// The rows of a sheet: line, batch or bay, and the events as JSON without their moment, or the faults.
fn told_by(text: &[u8], grammar: &Grammar) -> Vec<String> {
    let sheet = Sheet::open(text, None).unwrap_or_else(|problems| panic!("{problems}"));
    let event = |noted: &Noted| {
        let mut event = serde_json::to_value(&noted.event).expect("JSON");
        let at = event["at"].take();
        let members = event.as_object_mut().expect("an object");
        members.remove("at");
        if let Some(addition) = members.get_mut("addition").and_then(serde_json::Value::as_object_mut)
            && addition["preparation"] == "as_listed"
        {
            addition.remove("preparation");
        }
        format!("{} {event}", at.as_str().expect("a text")).replace('"', "")
    };
    let told = sheet.rows(grammar).map(|row| {
        let place = row.batch.or(row.bay).map(|name| name.text).unwrap_or_default();
        let told = match row.events {
            Ok(events) => events.iter().map(event).collect::<Vec<_>>().join(" + "),
            Err(problems) => problems.iter().map(ToString::to_string).collect::<Vec<_>>().join(" + "),
        };
        format!("{} {place}: {told}", row.line)
    });
    told.collect()
}

#[track_caller]
fn tells(text: &str, expected: &[&str]) {
    assert_eq!(told_by(text.as_bytes(), &grammar(SheetDates::Iso, SheetUnits::Celsius)), expected);
}

#[test]
fn a_logbook_without_kinds_of_event() {
    tells(
        "Date,Heap,Material,Barrow loads,Kg,Temp °C,Turned?,Notes\n\
         2026-04-01,Spring,Grass mowings,3,,,,first cut\n\
         2026-04-01,Spring,cardboard,,\"12,5\",,no,\n\
         2026-04-08,Spring,,,,58.5,yes,\"steaming, turned at noon\"\n\
         2026-04-09,Spring,,,,,,rained all day\n",
        &[
            "2 Spring: 2026-04-01 {addition:{barrows:3.0,feedstock:grass_mowings}}",
            "3 Spring: 2026-04-01 {addition:{feedstock:cardboard,mass_kg:12.5}}",
            "4 Spring: 2026-04-08 {reading:{temperature_c:58.5}} + 2026-04-08 {turn:{}}",
            "5 Spring: event: nothing given, accepted: addition, reading, moisture, level, turn, move, merge, cover, \
             watering, firming, withdrawal",
        ],
    );
}

#[test]
fn lines_are_counted_however_they_end() {
    for end in ["\n", "\r\n", "\r"] {
        let rows =
            ["at;event", "2026-04-01;\"turn\"", "", "2026-04-02;", ";", "\"2026-04-03\"", "2026-04-04;turn"];
        let told = told_by(rows.join(end).as_bytes(), &grammar(SheetDates::Iso, SheetUnits::Celsius));
        let lines: Vec<_> = told.iter().map(|row| row.split(' ').next().unwrap_or_default()).collect();
        assert_eq!(lines, ["2", "4", "6", "7"], "{end:?}: {told:?}");
    }
    tells(
        "at,notes,event\r2026-04-01,\"two\rlines\",turn\r2026-04-02,,turn\r",
        &["2 : 2026-04-01 {turn:{}}", "4 : 2026-04-02 {turn:{}}"],
    );
}

#[test]
fn probes_in_columns_of_their_own() {
    tells(
        "when\tbay\tcore (F)\tedge (F)\tTemp 30 cm °C\tAir °C\n\
         2026-04-08 07:30\t1\t137\t104,9\t-\t11\n\
         2026-04-09 18:00\t1\t\t\t49.5 °C\t\n",
        &[
            "2 1: 2026-04-08T06:30:00Z {reading:{ambient_c:11.0,temperature_f:137.0,zone:core}} + \
             2026-04-08T06:30:00Z {reading:{ambient_c:11.0,temperature_f:104.9,zone:edge}}",
            "3 1: 2026-04-09T17:00:00Z {reading:{depth_m:0.3,temperature_c:49.5}}",
        ],
    );
}

#[test]
fn a_spreadsheet_that_parts_by_semicolons_and_writes_decimal_commas() {
    let text = "\u{feff}\"Date\";\"Time\";\"Batch\";\"Temperature °C\";\"Depth cm\";\"Moisture %\";\"\"\r\n\
         \"03/04/2026\";\"07:30\";\"heap\";\"58,5\";\"50\";\"62,5\";\"\"\r\n\
         ;;;;;;\r\n\
         \r\n\
         \"04.04.26\";\"\";\"heap\";\"1.234,5\";\"\";\"\";\"\"\r\n\
         \"05/04/2026\";\"\";\"heap\";\"\";\"\";\"\";\"seen by nobody\"\r\n";
    let told = told_by(text.as_bytes(), &grammar(SheetDates::DayFirst, SheetUnits::Celsius));
    assert_eq!(
        told,
        [
            "2 heap: 2026-04-03T06:30:00Z {reading:{depth_m:0.5,temperature_c:58.5}} + \
             2026-04-03T06:30:00Z {moisture:{percent:62.5}}",
            "5 heap: 2026-04-04 {reading:{temperature_c:1234.5}}",
            "6 heap: column 7: `seen by nobody` under no name given, accepted: nothing, or a name in the header, \
             such as `notes`",
        ]
    );
}

#[test]
fn each_kind_of_event_by_its_name() {
    tells(
        "date,batch,what,material,amount,temp,zone,squeeze,moved to,cover,litres,merged from,taken out,shredded,ref\n\
         2026-04-01,heap,added,wheat straw,200 kg,,,,,,,,,yes,\n\
         2026-04-01,heap,filled,Tree leaves,0.5 m3,12,,,,,,,,,leaves-1\n\
         2026-04-02,heap,Reading,,,131 °F,Centre,,,,,,,,\n\
         2026-04-03,heap,squeeze test,,,,,wet,,,,,,,\n\
         2026-04-04,heap,turned,,,,,,,,,,,,\n\
         2026-04-05,heap,moved,,,,,,Bay 2,,,,,,\n\
         2026-04-06,heap,merged,,,,,,,,,Summer,,,\n\
         2026-04-07,heap,uncovered,,,,,,,,,,,,\n\
         2026-04-07,heap,cover,,,,,,,On,,,,,\n\
         2026-04-08,heap,watered,,,,,,,,40,,,,\n\
         2026-04-09,heap,firmed,,,,,,,,,,,,\n\
         2026-04-10,heap,taken out,,,,,,,,,,3 barrows,,\n\
         2026-04-11,heap,emptied,,,,,,,,,,all,,\n",
        &[
            "2 heap: 2026-04-01 {addition:{feedstock:wheat_straw,mass_kg:200.0,preparation:shredded}}",
            "3 heap: 2026-04-01 {addition:{feedstock:tree_leaves,temperature_c:12.0,volume_m3:0.5},id:leaves-1}",
            "4 heap: 2026-04-02 {reading:{temperature_f:131.0,zone:core}}",
            "5 heap: 2026-04-03 {moisture:{squeeze:drips}}",
            "6 heap: 2026-04-04 {turn:{}}",
            "7 heap: 2026-04-05 {move:{to_bay:bay-2}}",
            "8 heap: 2026-04-06 {merge:{placement:mixed,source:pile}}",
            "9 heap: 2026-04-07 {cover:{state:off}}",
            "10 heap: 2026-04-07 {cover:{state:on}}",
            "11 heap: 2026-04-08 {watering:{litres:40.0}}",
            "12 heap: 2026-04-09 {firming:{}}",
            "13 heap: 2026-04-10 {withdrawal:{volume_m3:0.3}}",
            "14 heap: 2026-04-11 {withdrawal:{}}",
        ],
    );
}

#[test]
fn levels_in_percent_or_as_a_share() {
    tells(
        "date,heap,Level %\n2026-05-01,heap,62\n2026-05-02,heap,0.62\n2026-05-03,heap,120\n2026-05-04,heap,\"62,5\"\n",
        &[
            "2 heap: 2026-05-01 {level:{fill_fraction:0.62}}",
            "3 heap: 2026-05-02 {level:{fill_fraction:0.0062}}",
            "4 heap: 2026-05-03 {level:{fill_fraction:1.2}}",
            "5 heap: 2026-05-04 {level:{fill_fraction:0.625}}",
        ],
    );
    tells(
        "date,heap,fill_fraction,temp\n2026-05-01,heap,0.62,51\n2026-05-02,heap,62 %,\n",
        &[
            "2 heap: 2026-05-01 {reading:{temperature_c:51.0}} + 2026-05-01 {level:{fill_fraction:0.62}}",
            "3 heap: 2026-05-02 {level:{fill_fraction:0.62}}",
        ],
    );
    tells(
        "date,what,level\n2026-05-01,level,0.62\n2026-05-02,level seen,62\n2026-05-03,level,1\n2026-05-04,level,5\n",
        &[
            "2 : 2026-05-01 {level:{fill_fraction:0.62}}",
            "3 : 2026-05-02 {level:{fill_fraction:0.62}}",
            "4 : 2026-05-03 {level:{fill_fraction:1.0}}",
            "5 : 2026-05-04 {level:{fill_fraction:0.05}}",
        ],
    );
    tells("date,height %\n2026-05-01,62\n", &["2 : 2026-05-01 {level:{fill_fraction:0.62}}"]);
}

#[test]
fn a_level_that_may_be_something_else_is_refused() {
    let accepted = "a share of the bay's height with its unit, like 62 %";
    tells(
        "date,level\n2026-05-01,1.6\n2026-05-02,4\n2026-05-03,0.8 m\n2026-05-04,full\n",
        &[
            &format!("2 : level: `1.6` given, accepted: {accepted}"),
            &format!("3 : level: `4` given, accepted: {accepted}"),
            &format!("4 : level: `0.8 m` given, accepted: {accepted}"),
            "5 : level: `full` given, accepted: a number like 12.5",
        ],
    );
    tells(
        "date,Height\n2026-05-01,0.8\n2026-05-02,62\n2026-05-03,62 %\n",
        &[
            &format!("2 : Height: `0.8` given, accepted: {accepted}"),
            &format!("3 : Height: `62` given, accepted: {accepted}"),
            "4 : 2026-05-03 {level:{fill_fraction:0.62}}",
        ],
    );
    tells(
        "date,event,level,height %\n2026-05-01,level,,\n2026-05-02,level,0.6,60\n",
        &[
            "2 : level: nothing given, accepted: a share of the bay's height, like 62 %",
            "3 : height %: `60` given, accepted: nothing, for a row of level",
        ],
    );
}

#[test]
fn a_level_beside_what_raises_or_lowers_the_heap_needs_a_row_of_its_own() {
    let own = "the level needs a row of its own";
    tells(
        "date,material,kg,taken out,turned,level %\n\
         2026-05-01,cardboard,12,,,62\n2026-05-02,,,3 barrows,,40\n2026-05-03,,,,yes,38\n",
        &[
            &format!("2 : level %: `62` given, accepted: nothing, for a row of addition; {own}"),
            &format!("3 : level %: `40` given, accepted: nothing, for a row of withdrawal; {own}"),
            "4 : 2026-05-03 {level:{fill_fraction:0.38}} + 2026-05-03 {turn:{}}",
        ],
    );
}

#[test]
fn everything_wrong_with_a_row_is_named_by_its_columns() {
    tells(
        "Date,Batch,Event,Material,Kg,Temp (°C),Zone\n\
         03/04/2026,heap,,straw,many,,\n\
         2026-04-03,heap,addition,,12,,\n\
         2026-04-03,heap,reading,,12,58,rim\n\
         2026-04-03,heap,stirred,,,,\n\
         2026-04-03,heap,,,,58,5\n\
         2026-04-03,heap,,,,58,,5\n\
         2026-04-03,heap\n\
         ,heap,turn,,,,\n",
        &[
            "2 heap: Date: `03/04/2026` given, accepted: 2026-04-03 if the day comes first (say that dates are \
             day-first) or 2026-03-04 if the month does + Material: `straw` given, accepted: a feedstock's id or \
             name, perhaps one of `oat_straw`, `wheat_straw`, `barley_straw`, `horse_manure_bedded` (Horse manure with \
             straw), `farmyard_manure` (Farmyard manure on straw) + Kg: `many` given, accepted: a number like 12.5",
            "3 heap: feedstock: nothing given, accepted: a feedstock's id or name",
            "4 heap: Zone: `rim` given, accepted: core or edge + Kg: `12` given, accepted: nothing, for a row of \
             reading",
            "5 heap: Event: `stirred` given, accepted: addition, reading, moisture, level, turn, move, merge, cover, \
             watering, firming, withdrawal",
            "6 heap: Zone: `5` given, accepted: core or edge",
            "7 heap: : a row of 8 cells given, accepted: 7, as many as the header has; a decimal comma needs quotes \
             around its cell",
            "8 heap: : a row of 2 cells given, accepted: 7, as many as the header has",
            "9 heap: at: nothing given, accepted: a date or time",
        ],
    );
}

#[test]
fn a_no_is_no_event_and_a_long_cell_is_cut() {
    let long = "warm ".repeat(40);
    tells(
        &format!(
            "date,event,temp,turned,shredded\n2026-04-08,reading,58,no,n\n2026-04-08,reading,{long},,\n"
        ),
        &[
            "2 : 2026-04-08 {reading:{temperature_c:58.0}}",
            &format!("3 : temp: `{}warm…` given, accepted: a number like 12.5", "warm ".repeat(12)),
        ],
    );
}

#[test]
fn degrees_are_fahrenheit_only_where_that_is_said() {
    let text = "day,heap,temp,air\n2026-04-08,heap,131,50\n2026-04-08,heap,55 C,10 °C\n";
    let celsius = told_by(text.as_bytes(), &grammar(SheetDates::Iso, SheetUnits::Celsius));
    assert_eq!(celsius[0], "2 heap: 2026-04-08 {reading:{ambient_c:50.0,temperature_c:131.0}}");
    let fahrenheit = told_by(text.as_bytes(), &grammar(SheetDates::Iso, SheetUnits::Fahrenheit));
    assert_eq!(
        fahrenheit,
        [
            "2 heap: 2026-04-08 {reading:{ambient_c:10.0,temperature_f:131.0}}",
            "3 heap: 2026-04-08 {reading:{ambient_c:10.0,temperature_c:55.0}}",
        ]
    );
}

#[test]
fn a_temperature_in_both_units_is_refused() {
    tells(
        "date,°C,°F\n2026-04-08,55,131\n",
        &["2 : °F: `131` given, accepted: nothing: the temperature is told in the other unit already"],
    );
}

#[test]
fn a_header_is_held_to_columns_that_are_known() {
    let refused = |text: &[u8]| Sheet::open(text, None).unwrap_err().to_string();
    assert!(
        refused(b"date,pH\n").starts_with("header: column `pH` given, accepted: batch, bay, at, time, event")
    );
    assert!(refused(b"date,Temp,temp\n").contains("column `temp` twice given, accepted: each column once"));
    assert_eq!(
        refused(b"batch,temp\n"),
        "header: no column `at` given, accepted: a header row with a date, such as `at` or `date`"
    );
    assert!(refused(b"date,Temp \xb0C\n").contains("not UTF-8"));
    assert!(refused(b"").contains("no column `at`"));
}

#[test]
fn a_value_in_another_unit_is_told_in_the_one_that_it_is_held_to() {
    let grammar = grammar(SheetDates::Iso, SheetUnits::Celsius);
    let sheet = Sheet::open(b"date,temp,depth cm\n2026-04-08,55,5000\n", None).unwrap();
    let events = sheet.rows(&grammar).next().unwrap().events.unwrap();
    let problem = Problem {
        pointer: "/events/0/reading/depth_m".into(),
        value: "50".into(),
        accepted: "0 to 4".into(),
    };
    let told = events[0].places.told("/reading/depth_m", &problem);
    assert_eq!(told.to_string(), "depth cm: 50 m given, accepted: 0 to 4 m");
    let told = events[0].places.told("/reading", &problem);
    assert_eq!(told.pointer, "reading");
    let sheet = Sheet::open(b"date,moisture %\n2026-04-08,4\n", None).unwrap();
    let events = sheet.rows(&grammar).next().unwrap().events.unwrap();
    let problem = Problem { value: "4".into(), accepted: "5 to 95".into(), ..problem };
    let told = events[0].places.told("/moisture/percent", &problem);
    assert_eq!(told.to_string(), "moisture %: 4 % given, accepted: 5 to 95 %");
    let sheet = Sheet::open(b"date,level %\n2026-04-08,160\n", None).unwrap();
    let events = sheet.rows(&grammar).next().unwrap().events.unwrap();
    let problem = Problem { value: "1.6".into(), accepted: "0.01 to 1.5".into(), ..problem };
    let told = events[0].places.told("/level/fill_fraction", &problem);
    assert_eq!(told.to_string(), "level %: 1.6 of 1 given, accepted: 0.01 to 1.5 of 1");
}

#[test]
fn an_amount_told_twice_is_refused() {
    tells(
        "date,material,amount,kg,m3,litres\n\
         2026-04-08,cardboard,12 kg,13,,\n\
         2026-04-08,cardboard,,,0.1,90\n",
        &[
            "2 : amount: `12 kg` given, accepted: one amount of the material",
            "3 : litres: `90` given, accepted: nothing, for a row of addition",
        ],
    );
}
