//! What a column holds, from the name that its header gives it.

use baycast_model::history::Zone;

use super::field::{Field, NAMES};
use super::unit::{Quantity, Unit};

/// Words that a name may have besides, of a temperature.
const TEMPERATURE_WORDS: [&str; 6] = ["temp", "temperature", "reading", "probe", "deg", "degrees"];

/// A column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The name as it stands in the header; empty where there is none.
    pub name: String,
    /// What it holds.
    pub field: Field,
    /// The unit that its name says.
    pub unit: Option<Unit>,
}

impl Column {
    /// The column that a header names, whatever its case, spacing and punctuation.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let words = words(name);
        let (field, unit) = whole(&words).map(|field| (field, None)).or_else(|| with_unit(&words))?;
        Some(Self { name: name.trim().to_owned(), field, unit })
    }
}

/// The words of a name: lower case, figures parted from what follows them.
fn words(name: &str) -> Vec<String> {
    let name = name.to_lowercase().replace('³', "3").replace('%', " percent ");
    let mut spaced = String::with_capacity(name.len() + 4);
    let mut last = ' ';
    for letter in name.chars() {
        let letter = if letter.is_alphanumeric() { letter } else { ' ' };
        if last.is_ascii_digit() && letter.is_alphabetic() {
            spaced.push(' ');
        }
        spaced.push(letter);
        last = letter;
    }
    spaced.split_whitespace().map(str::to_owned).collect()
}

/// The field that all the words together name.
fn whole(words: &[String]) -> Option<Field> {
    let name = words.join(" ");
    NAMES.iter().find(|(_, names)| names.contains(&name.as_str())).map(|(field, _)| *field)
}

/// The field and the unit of words of which some are a unit, a depth or speak of a temperature.
fn with_unit(words: &[String]) -> Option<(Field, Option<Unit>)> {
    let mut rest: Vec<&str> = words.iter().map(String::as_str).collect();
    let depth_cm = take_depth(&mut rest);
    let unit = take_unit(&mut rest);
    let left: Vec<String> = rest.iter().map(|word| (*word).to_owned()).collect();
    let field = match whole(&left) {
        Some(field) => field,
        None if left.is_empty() => alone(unit?)?,
        None => temperature(&rest)?,
    };
    let field = match (field, depth_cm) {
        (field, None) => field,
        (Field::Temperature(zone, None), Some(_)) => Field::Temperature(zone, depth_cm),
        (_, Some(_)) => return None,
    };
    fits(field, unit).then_some((field, unit))
}

/// Takes out a depth, such as `30 cm`; in cm.
fn take_depth(words: &mut Vec<&str>) -> Option<u16> {
    let place = words.iter().position(|word| word.bytes().all(|byte| byte.is_ascii_digit()))?;
    let figures: u16 = words[place].parse().ok()?;
    let depth = match *words.get(place + 1)? {
        "cm" => figures,
        "m" => figures.checked_mul(100)?,
        _ => return None,
    };
    words.drain(place..place + 2);
    words.retain(|word| !["at", "deep", "depth"].contains(word));
    Some(depth)
}

/// Takes out a unit, of one word or two.
fn take_unit(words: &mut Vec<&str>) -> Option<Unit> {
    for length in [2, 1] {
        let found = words.windows(length).enumerate().rev().find_map(|(place, window)| {
            let unit = Unit::of(&window.join(" "))?;
            Some((place, unit))
        });
        if let Some((place, unit)) = found {
            words.drain(place..place + length);
            return Some(unit);
        }
    }
    None
}

/// What a column holds whose name is its unit.
fn alone(unit: Unit) -> Option<Field> {
    match (unit, unit.quantity()) {
        (Unit::Litre, _) => Some(Field::Litres),
        (_, Quantity::Temperature) => Some(Field::Temperature(None, None)),
        (_, Quantity::Mass) => Some(Field::Mass),
        (_, Quantity::Volume) => Some(Field::Volume),
        (_, Quantity::Barrows) => Some(Field::Barrows),
        (Unit::Percent, _) => Some(Field::Moisture),
        (_, Quantity::Length | Quantity::Share) => None,
    }
}

/// A temperature by words that say so, the zone that they name, and perhaps a number that tells probes apart.
fn temperature(words: &[&str]) -> Option<Field> {
    let mut rest = words.to_vec();
    rest.retain(|word| !TEMPERATURE_WORDS.contains(word));
    if rest.len() < words.len() && rest.last().is_some_and(|word| word.parse::<u8>().is_ok()) {
        rest.pop();
    }
    match rest.as_slice() {
        [] => Some(Field::Temperature(None, None)),
        ["air" | "ambient"] => Some(Field::Ambient),
        [word] => Some(Field::Temperature(Some(zone(word)?), None)),
        _ => None,
    }
}

/// The part of the heap that a word names.
#[must_use]
pub fn zone(word: &str) -> Option<Zone> {
    match word {
        "core" | "centre" | "center" | "middle" | "inside" => Some(Zone::Core),
        "edge" | "side" | "outer" | "outside" => Some(Zone::Edge),
        _ => None,
    }
}

/// Whether a field can be told in a unit.
fn fits(field: Field, unit: Option<Unit>) -> bool {
    let Some(unit) = unit else { return true };
    let of = unit.quantity();
    match field {
        Field::Temperature(..) | Field::Ambient => of == Quantity::Temperature,
        Field::Mass => of == Quantity::Mass,
        Field::Volume => of == Quantity::Volume,
        Field::Barrows => of == Quantity::Barrows,
        Field::Amount => matches!(of, Quantity::Mass | Quantity::Volume | Quantity::Barrows),
        Field::TakenOut => matches!(of, Quantity::Volume | Quantity::Barrows),
        Field::FilledTo | Field::Moisture | Field::Level | Field::Height => of == Quantity::Share,
        Field::Depth => of == Quantity::Length,
        Field::Water | Field::Litres => unit == Unit::Litre,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_understood_as_growers_write_them() {
        let temperature = Field::Temperature(None, None);
        let core = Field::Temperature(Some(Zone::Core), None);
        let edge = Field::Temperature(Some(Zone::Edge), None);
        for (name, field, unit) in [
            ("batch", Field::Batch, None),
            ("Heap name", Field::Batch, None),
            ("BAY", Field::Bay, None),
            (" Date ", Field::At, None),
            ("date/time", Field::At, None),
            ("Time", Field::Time, None),
            ("What was done", Field::Event, None),
            ("temperature_c", temperature, Some(Unit::Celsius)),
            ("Temp °C", temperature, Some(Unit::Celsius)),
            ("temp (F)", temperature, Some(Unit::Fahrenheit)),
            ("TEMP", temperature, None),
            ("°F", temperature, Some(Unit::Fahrenheit)),
            ("Temp 2 (°C)", temperature, Some(Unit::Celsius)),
            ("degrees C", temperature, Some(Unit::Celsius)),
            ("core", core, None),
            ("Core temp °C", core, Some(Unit::Celsius)),
            ("edge (F)", edge, Some(Unit::Fahrenheit)),
            ("Temp at 60cm", Field::Temperature(None, Some(60)), None),
            ("Temp °C 30 cm deep", Field::Temperature(None, Some(30)), Some(Unit::Celsius)),
            ("Air temp °C", Field::Ambient, Some(Unit::Celsius)),
            ("ambient_c", Field::Ambient, Some(Unit::Celsius)),
            ("Outside temp", Field::Ambient, None),
            ("depth_m", Field::Depth, Some(Unit::Metre)),
            ("Depth (cm)", Field::Depth, Some(Unit::Centimetre)),
            ("depth, inches", Field::Depth, Some(Unit::Inch)),
            ("Material", Field::Feedstock, None),
            ("kg", Field::Mass, Some(Unit::Kilogram)),
            ("mass_kg", Field::Mass, Some(Unit::Kilogram)),
            ("Weight (lb)", Field::Mass, Some(Unit::Pound)),
            ("m³", Field::Volume, Some(Unit::CubicMetre)),
            ("volume_m3", Field::Volume, Some(Unit::CubicMetre)),
            ("cubic metres", Field::Volume, Some(Unit::CubicMetre)),
            ("Barrow loads", Field::Barrows, None),
            ("barrows", Field::Barrows, None),
            ("Amount", Field::Amount, None),
            ("filled_to_fraction", Field::FilledTo, Some(Unit::Fraction)),
            ("Filled to %", Field::FilledTo, Some(Unit::Percent)),
            ("percent", Field::Moisture, Some(Unit::Percent)),
            ("Moisture %", Field::Moisture, Some(Unit::Percent)),
            ("moisture_fraction", Field::Moisture, Some(Unit::Fraction)),
            ("level", Field::Level, None),
            ("Level %", Field::Level, Some(Unit::Percent)),
            ("fill", Field::Level, None),
            ("fill_fraction", Field::Level, Some(Unit::Fraction)),
            ("Heap level (percent)", Field::Level, Some(Unit::Percent)),
            ("Height %", Field::Height, Some(Unit::Percent)),
            ("height", Field::Height, None),
            ("Fill level %", Field::FilledTo, Some(Unit::Percent)),
            ("litres", Field::Litres, Some(Unit::Litre)),
            ("Water (l)", Field::Water, Some(Unit::Litre)),
            ("to_bay", Field::ToBay, None),
            ("Moved to", Field::ToBay, None),
            ("Turned?", Field::Turned, None),
            ("Taken out m3", Field::TakenOut, Some(Unit::CubicMetre)),
            ("Notes", Field::Notes, None),
        ] {
            let column = Column::named(name).unwrap_or_else(|| panic!("{name} is not known"));
            assert_eq!((column.field, column.unit), (field, unit), "{name}");
        }
    }

    #[test]
    fn what_is_not_meant_is_not_guessed() {
        for name in [
            "",
            "pH",
            "cm",
            "fraction",
            "batch kg",
            "depth °C",
            "height cm",
            "level m",
            "mass m3",
            "rim temp",
            "2026-03-01",
            "turn 30 cm",
        ] {
            assert_eq!(Column::named(name), None, "{name}");
        }
    }
}
