//! The kinds of note, each with the fields that it asks for and the event that it becomes.

use baycast_model::history::{
    Addition, Cover, CoverState, Event, Firming, Level, MoistureNote, Move, Preparation, Reading, Squeeze,
    Turn, Watering, Withdrawal, Zone,
};
use baycast_model::moment::Moment;
use baycast_model::problem::Problem;
use baycast_service::Error;

use super::answers::{Answers, Fault};
use crate::words;

/// What a note tells of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A temperature.
    Reading,
    /// How wet it is.
    Moisture,
    /// How high it stands.
    Level,
    /// It was turned.
    Turn,
    /// Water was given.
    Watering,
    /// A cover was put on or taken off.
    Cover,
    /// Material was put in.
    Addition,
    /// Compost was taken out.
    Withdrawal,
    /// It was forked into another bay.
    Move,
    /// It was trodden down.
    Firming,
}

/// A field of a form.
pub struct Field {
    /// Its name.
    pub name: &'static str,
    /// What it asks for.
    pub label: &'static str,
    /// How it is asked for.
    pub input: Input,
}

/// How something is asked for.
pub enum Input {
    /// A number.
    Number,
    /// One of a few, all in sight; the first is chosen.
    Few(Vec<(String, String)>),
    /// One of many.
    Many(Vec<(String, String)>),
}

/// What there is to choose from on a farm: ids and names.
pub struct Choices {
    /// Materials.
    pub materials: Vec<(String, String)>,
    /// Bays.
    pub bays: Vec<(String, String)>,
}

/// Share of a heap's height, and depth of a probe, as they may be told: percent and cm.
const LEVEL: (f64, f64) = (1.0, 150.0);
const DEPTH: (f64, f64) = (0.0, 400.0);

impl Kind {
    /// All, the most usual first.
    pub const ALL: [Self; 10] = [
        Self::Reading,
        Self::Moisture,
        Self::Level,
        Self::Turn,
        Self::Watering,
        Self::Cover,
        Self::Addition,
        Self::Withdrawal,
        Self::Move,
        Self::Firming,
    ];

    /// The word that a form has for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Reading => "reading",
            Self::Moisture => "moisture",
            Self::Level => "level",
            Self::Turn => "turn",
            Self::Watering => "watering",
            Self::Cover => "cover",
            Self::Addition => "addition",
            Self::Withdrawal => "withdrawal",
            Self::Move => "move",
            Self::Firming => "firming",
        }
    }

    /// The kind of that word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// What its form asks for, beside when.
    pub fn fields(self, choices: &Choices) -> Vec<Field> {
        let number = |name, label| Field { name, label, input: Input::Number };
        let few = |name, label, words: &[(&str, &str)]| {
            let words = words.iter().map(|(value, word)| ((*value).to_owned(), (*word).to_owned()));
            Field { name, label, input: Input::Few(words.collect()) }
        };
        let many = |name, label, words: &[(String, String)]| {
            let first = (String::new(), words::CHOOSE.to_owned());
            Field {
                name,
                label,
                input: Input::Many([first].into_iter().chain(words.iter().cloned()).collect()),
            }
        };
        let squeezes = [
            ("", words::NOT_SAID),
            ("dry", words::squeeze(Squeeze::Dry)),
            ("crumbles", words::squeeze(Squeeze::Crumbles)),
            ("damp", words::squeeze(Squeeze::Damp)),
            ("drips", words::squeeze(Squeeze::Drips)),
        ];
        match self {
            Self::Reading => vec![
                number("temperature", words::TEMPERATURE),
                few("unit", words::UNIT, &[("c", "°C"), ("f", "°F")]),
                number("depth", words::DEPTH),
                few(
                    "zone",
                    words::WHERE,
                    &[("", words::NOT_SAID), ("core", words::CORE), ("edge", words::EDGE)],
                ),
            ],
            Self::Moisture => {
                vec![few("squeeze", words::SQUEEZE, &squeezes), number("percent", words::MEASURED)]
            }
            Self::Level => vec![number("level", words::LEVEL_PERCENT)],
            Self::Turn | Self::Firming => Vec::new(),
            Self::Watering => vec![number("litres", words::LITRES)],
            Self::Cover => vec![few("state", words::COVER_IS, &[("on", words::ON), ("off", words::OFF)])],
            Self::Addition => vec![
                many("material", words::MATERIAL, &choices.materials),
                number("barrows", words::BARROWS),
                number("mass", words::KILOGRAMS),
                few("preparation", words::SHREDDED, &[("", words::NO), ("shredded", words::YES)]),
            ],
            Self::Withdrawal => vec![number("volume", words::TAKEN_M3)],
            Self::Move => vec![many("to_bay", words::TO_BAY, &choices.bays)],
        }
    }

    /// The event that the answers tell of; what is wrong with them is noted there.
    pub(super) fn event(self, answers: &mut Answers<'_>, at: Moment) -> Event {
        let mut event = Event::at(at);
        match self {
            Self::Reading => event.reading = Some(reading(answers)),
            Self::Moisture => event.moisture = Some(moisture(answers)),
            Self::Level => {
                if answers.text("level").is_none() {
                    answers.fault("level", words::LEVEL_TAKEN);
                }
                let level = answers.hundredths("level", LEVEL, words::LEVEL_TAKEN);
                event.level = level.map(|fill_fraction| Level { fill_fraction });
            }
            Self::Turn => event.turn = Some(Turn {}),
            Self::Firming => event.firming = Some(Firming {}),
            Self::Watering => event.watering = answers.needed("litres").map(|litres| Watering { litres }),
            Self::Cover => {
                let state = match answers.text("state").as_deref() {
                    Some("on") => Some(CoverState::On),
                    Some("off") => Some(CoverState::Off),
                    _ => None,
                };
                if state.is_none() {
                    answers.fault("state", words::ONE_OF_THESE);
                }
                event.cover = state.map(|state| Cover { state });
            }
            Self::Addition => event.addition = Some(addition(answers)),
            Self::Withdrawal => {
                event.withdrawal = Some(Withdrawal { volume_m3: answers.number("volume") });
            }
            Self::Move => event.moved = Some(Move { to_bay: chosen(answers, "to_bay") }),
        }
        event
    }

    /// What the service finds wrong with the event, field by field.
    pub(super) fn faults(self, error: &Error) -> Vec<Fault> {
        let fields = error.fields();
        if fields.is_empty() {
            return vec![Fault { field: "", text: words::sentence(&error.to_string()) }];
        }
        fields.into_iter().map(|problem| self.fault(problem)).collect()
    }

    fn fault(self, problem: Problem) -> Fault {
        let Problem { pointer, value, accepted } = problem;
        let member = pointer.rsplit('/').next().unwrap_or_default();
        let field = match (self, member) {
            (Self::Reading, "temperature_c" | "temperature_f") => "temperature",
            (Self::Reading, "depth_m") => "depth",
            (Self::Moisture, "percent" | "moisture") => "percent",
            (Self::Level, "fill_fraction") => "level",
            (Self::Watering, "litres") => "litres",
            (Self::Addition, "feedstock") => "material",
            (Self::Addition, "barrows") => "barrows",
            (Self::Addition, "mass_kg") => "mass",
            (Self::Withdrawal, "volume_m3") => "volume",
            (Self::Move, "to_bay") => "to_bay",
            (_, "at") => "when",
            _ => "",
        };
        Fault { field, text: words::fault(&value, &accepted) }
    }
}

fn reading(answers: &mut Answers<'_>) -> Reading {
    let temperature = answers.needed("temperature");
    let fahrenheit = answers.text("unit").as_deref() == Some("f");
    Reading {
        temperature_c: temperature.filter(|_| !fahrenheit),
        temperature_f: temperature.filter(|_| fahrenheit),
        depth_m: answers.hundredths("depth", DEPTH, words::DEPTH_TAKEN),
        zone: match answers.text("zone").as_deref() {
            Some("core") => Some(Zone::Core),
            Some("edge") => Some(Zone::Edge),
            _ => None,
        },
        ambient_c: None,
    }
}

fn moisture(answers: &mut Answers<'_>) -> MoistureNote {
    let squeeze = match answers.text("squeeze").as_deref() {
        Some("dry") => Some(Squeeze::Dry),
        Some("crumbles") => Some(Squeeze::Crumbles),
        Some("damp") => Some(Squeeze::Damp),
        Some("drips") => Some(Squeeze::Drips),
        _ => None,
    };
    let percent = answers.number("percent");
    if squeeze.is_some() == percent.is_some() {
        answers.fault("percent", words::SQUEEZE_OR_PERCENT);
    }
    MoistureNote { percent, squeeze }
}

fn addition(answers: &mut Answers<'_>) -> Addition {
    let (barrows, mass_kg) = (answers.number("barrows"), answers.number("mass"));
    if barrows.is_some() && mass_kg.is_some() {
        answers.fault("mass", words::BARROWS_OR_KG);
    }
    let shredded = answers.text("preparation").as_deref() == Some("shredded");
    Addition {
        feedstock: chosen(answers, "material"),
        barrows,
        mass_kg,
        preparation: if shredded { Preparation::Shredded } else { Preparation::AsListed },
        ..Addition::default()
    }
}

/// One of many, which must be chosen.
fn chosen(answers: &mut Answers<'_>, name: &'static str) -> String {
    answers.text(name).unwrap_or_else(|| {
        answers.fault(name, words::ONE_OF_THESE);
        String::new()
    })
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use jiff::tz::TimeZone;

    use super::*;

    type Fields<'a> = &'a [(&'a str, &'a str)];

    fn told(kind: Kind, fields: Fields<'_>) -> Result<Event, Vec<Fault>> {
        let pairs: Vec<_> =
            fields.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
        let now: Timestamp = "2026-07-01T12:00:00Z".parse().expect("a time");
        Answers::new(&pairs, TimeZone::UTC, now).event(kind)
    }

    #[test]
    fn each_kind_becomes_its_own_event() {
        let filled: [(Kind, Fields<'_>, serde_json::Value); 12] = [
            (
                Kind::Reading,
                &[("temperature", "136"), ("unit", "f"), ("depth", "45"), ("zone", "core")],
                serde_json::json!({ "reading": { "temperature_f": 136.0, "depth_m": 0.45, "zone": "core" } }),
            ),
            (
                Kind::Reading,
                &[("temperature", "58,5"), ("unit", "c"), ("zone", "")],
                serde_json::json!({ "reading": { "temperature_c": 58.5 } }),
            ),
            (
                Kind::Moisture,
                &[("squeeze", "damp")],
                serde_json::json!({ "moisture": { "squeeze": "damp" } }),
            ),
            (Kind::Moisture, &[("percent", "55")], serde_json::json!({ "moisture": { "percent": 55.0 } })),
            (Kind::Level, &[("level", "60")], serde_json::json!({ "level": { "fill_fraction": 0.6 } })),
            (Kind::Turn, &[], serde_json::json!({ "turn": {} })),
            (Kind::Watering, &[("litres", "40")], serde_json::json!({ "watering": { "litres": 40.0 } })),
            (Kind::Cover, &[("state", "on")], serde_json::json!({ "cover": { "state": "on" } })),
            (
                Kind::Addition,
                &[("material", "straw"), ("barrows", "2"), ("preparation", "shredded")],
                serde_json::json!({ "addition": { "feedstock": "straw", "barrows": 2.0, "preparation": "shredded" } }),
            ),
            (Kind::Withdrawal, &[("volume", "")], serde_json::json!({ "withdrawal": {} })),
            (Kind::Move, &[("to_bay", "b")], serde_json::json!({ "move": { "to_bay": "b" } })),
            (Kind::Firming, &[], serde_json::json!({ "firming": {} })),
        ];
        for (kind, fields, mut expected) in filled {
            expected["at"] = "2026-07-01T12:00:00Z".into();
            let event = told(kind, fields).unwrap_or_else(|faults| panic!("{kind:?}: {faults:?}"));
            assert_eq!(serde_json::to_value(&event).expect("JSON"), expected, "{kind:?}");
        }
    }

    #[test]
    fn all_that_is_wrong_is_told_at_once_by_its_field() {
        let wrong: [(Kind, Fields<'_>, &[&str]); 7] = [
            (
                Kind::Reading,
                &[("temperature", "hot"), ("depth", "900"), ("when", "2030-01-01T00:00")],
                &["when", "temperature", "depth"],
            ),
            (Kind::Reading, &[], &["temperature"]),
            (Kind::Moisture, &[("squeeze", "damp"), ("percent", "55")], &["percent"]),
            (Kind::Level, &[("level", "200")], &["level"]),
            (Kind::Cover, &[], &["state"]),
            (Kind::Addition, &[("barrows", "2"), ("mass", "30")], &["mass", "material"]),
            (Kind::Move, &[], &["to_bay"]),
        ];
        for (kind, fields, expected) in wrong {
            let faults = told(kind, fields).expect_err("it is wrong");
            assert_eq!(
                faults.iter().map(|fault| fault.field).collect::<Vec<_>>(),
                expected,
                "{kind:?}: {faults:?}"
            );
        }
    }

    #[test]
    fn what_the_service_refuses_is_told_at_its_field() {
        let mut problems = baycast_model::problem::Problems::default();
        problems.add("/entries/0/event/reading/temperature_c", 180, "-20 to 95");
        let faults = Kind::Reading.faults(&Error::Invalid(problems));
        assert_eq!(faults[0].field, "temperature");
        assert!(faults[0].text.contains("-20 to 95"), "{faults:?}");
        assert_eq!(Kind::Turn.faults(&Error::Deadline)[0].field, "");
    }
}
