//! The events of a row, one function for each kind: which cells it takes, and what it makes of them.

use baycast_model::history::{
    Addition, Cover, CoverState, Event, Firming, Level, Merge, MoistureNote, Move, Placement, Preparation,
    Reading, Squeeze, Turn, Watering, Withdrawal,
};
use baycast_model::moment::Moment;

use super::cells::Cells;
use super::column;
use super::field::Field;
use super::kind::Kind;
use super::row::{Noted, Places};
use super::unit::{Quantity, Unit, billionth};
use super::word;

/// More words for what a squeezed handful did.
const SQUEEZED: [(&str, &str); 5] =
    [("crumbly", "crumbles"), ("moist", "damp"), ("wet", "drips"), ("dripping", "drips"), ("dusty", "dry")];

/// Highest that a heap stands, as a share of the bay's height: a larger number is no share.
const FULLEST: f64 = 1.5;

/// From here on a number without a unit is a percentage: nobody looks at so little as a twentieth of a bay, and between
/// the two it may be either.
const LEAST_PERCENT: f64 = 5.0;

/// More words for how a batch was put with another.
const LAID: [(&str, &str); 2] = [("top", "on_top"), ("together", "mixed")];

/// More words for a material's preparation.
const PREPARED: [(&str, &str); 3] = [("chopped", "shredded"), ("whole", "as_listed"), ("no", "as_listed")];

/// More words for a cover's state.
const COVERED: [(&str, &str); 6] =
    [("yes", "on"), ("no", "off"), ("y", "on"), ("n", "off"), ("covered", "on"), ("uncovered", "off")];

/// Adds the events of one kind.
pub fn add(cells: &mut Cells<'_>, kind: Kind, at: Moment, noted: &mut Vec<Noted>) {
    if kind == Kind::Reading {
        readings(cells, at, noted);
        return;
    }
    let mut event = Event::at(at);
    match kind {
        Kind::Reading => {}
        Kind::Addition => event.addition = Some(addition(cells)),
        Kind::Moisture => event.moisture = Some(moisture(cells)),
        Kind::Level => event.level = level(cells),
        Kind::Turn => {
            cells.yes(Field::Turned);
            event.turn = Some(Turn {});
        }
        Kind::Move => event.moved = Some(Move { to_bay: to_bay(cells) }),
        Kind::Merge => event.merge = Some(merge(cells)),
        Kind::Cover(said) => {
            let told: Option<CoverState> = cells.word(Field::Cover, &COVERED);
            match told.or(said) {
                Some(state) => event.cover = Some(Cover { state }),
                None if cells.faults.is_empty() => cells.wrong("state", "nothing", "on or off"),
                None => {}
            }
        }
        Kind::Watering => match litres(cells) {
            Some(litres) => event.watering = Some(Watering { litres }),
            None if cells.faults.is_empty() => cells.wrong("litres", "nothing", "0 to 20000"),
            None => {}
        },
        Kind::Firming => {
            cells.yes(Field::Firmed);
            event.firming = Some(Firming {});
        }
        Kind::Withdrawal => event.withdrawal = Some(withdrawal(cells)),
    }
    finish(cells, event, noted);
}

/// Adds an event with the places of its values.
fn finish(cells: &mut Cells<'_>, event: Event, noted: &mut Vec<Noted>) {
    // The place of the moment is that of each event of the row.
    let places = cells.places.clone();
    cells.places.retain(|place| place.below == "/at");
    noted.push(Noted { event, places: Places::new(places) });
}

/// Material put in.
fn addition(cells: &mut Cells<'_>) -> Addition {
    let mut addition = Addition {
        feedstock: feedstock(cells),
        mass_kg: cells.measure(Field::Mass, "/addition/mass_kg", Quantity::Mass),
        volume_m3: cells.measure(Field::Volume, "/addition/volume_m3", Quantity::Volume),
        barrows: cells.measure(Field::Barrows, "/addition/barrows", Quantity::Barrows),
        filled_to_fraction: cells.measure(Field::FilledTo, "/addition/filled_to_fraction", Quantity::Share),
        moisture_fraction: cells.measure(Field::Moisture, "/addition/moisture_fraction", Quantity::Share),
        temperature_c: material_temperature(cells),
        preparation: cells.word(Field::Preparation, &PREPARED).unwrap_or_default(),
    };
    if addition.volume_m3.is_none() {
        addition.volume_m3 = cells.measure(Field::Litres, "/addition/volume_m3", Quantity::Volume);
    }
    if cells.yes(Field::Shredded) == Some(true) {
        addition.preparation = Preparation::Shredded;
    }
    if let Some(cell) = cells.take(Field::Amount)
        && let Some((value, unit)) = cells.number(cell)
    {
        let slot = match unit.map(Unit::quantity) {
            Some(Quantity::Mass) => Some((&mut addition.mass_kg, "/addition/mass_kg")),
            Some(Quantity::Volume) => Some((&mut addition.volume_m3, "/addition/volume_m3")),
            Some(Quantity::Barrows) => Some((&mut addition.barrows, "/addition/barrows")),
            _ => None,
        };
        match (slot, unit) {
            (Some((Some(_), _)), _) => cells.wrong_cell(cell, "one amount of the material"),
            (Some((slot, below)), Some(unit)) => {
                *slot = Some(unit.to_si(value));
                cells.place(cell.0, below, (!unit.is_si()).then(|| unit.quantity().si()));
            }
            _ => cells.wrong_cell(cell, "an amount with its unit, like 12 kg, 0.5 m3 or 3 barrows"),
        }
    }
    addition
}

/// The material's own temperature: told only where the row says that it is an addition.
fn material_temperature(cells: &mut Cells<'_>) -> Option<f64> {
    let plain = Field::Temperature(None, None);
    cells.measure(plain, "/addition/temperature_c", Quantity::Temperature)
}

/// The id of the material that a cell names.
fn feedstock(cells: &mut Cells<'_>) -> String {
    let Some(cell) = cells.take(Field::Feedstock) else {
        cells.wrong("feedstock", "nothing", "a feedstock's id or name");
        return String::new();
    };
    cells.place(cell.0, "/addition/feedstock", None);
    let found = cells.grammar.feedstocks.find(cell.1);
    named(cells, cell, found)
}

/// Adds a reading for each temperature of the row.
fn readings(cells: &mut Cells<'_>, at: Moment, noted: &mut Vec<Noted>) {
    let mut temperatures = Vec::new();
    while let Some(cell) = cells.take_if(|field| matches!(field, Field::Temperature(..))) {
        temperatures.push(cell);
    }
    if temperatures.is_empty() {
        cells.wrong("temperature", "nothing", "a temperature");
    }
    let mut shared = Reading {
        depth_m: cells.measure(Field::Depth, "/reading/depth_m", Quantity::Length),
        ambient_c: cells.measure(Field::Ambient, "/reading/ambient_c", Quantity::Temperature),
        ..Reading::default()
    };
    if let Some(cell) = cells.take(Field::Zone) {
        cells.place(cell.0, "/reading/zone", None);
        shared.zone = column::zone(&cell.1.to_lowercase());
        if shared.zone.is_none() {
            cells.wrong_cell(cell, "core or edge");
        }
    }
    let places = cells.places.clone();
    let mut told: Vec<(Field, bool)> = Vec::new();
    for cell in temperatures {
        cells.places.clone_from(&places);
        let Some((value, unit)) = cells.number(cell) else { continue };
        let mut reading = shared;
        let field = cells.field_of(cell.0);
        if let Some(Field::Temperature(zone, depth_cm)) = field {
            reading.zone = zone.or(reading.zone);
            reading.depth_m = depth_cm.map(|depth_cm| f64::from(depth_cm) / 100.0).or(reading.depth_m);
        }
        let fahrenheit = match unit.unwrap_or_else(|| cells.grammar.unit()) {
            Unit::Celsius => false,
            Unit::Fahrenheit => true,
            _ => {
                cells.wrong_cell(cell, "a temperature in °C or °F");
                continue;
            }
        };
        if field.is_some_and(|field| told.contains(&(field, !fahrenheit))) {
            cells.wrong_cell(cell, "nothing: the temperature is told in the other unit already");
        }
        told.extend(field.map(|field| (field, fahrenheit)));
        if fahrenheit {
            reading.temperature_f = Some(value);
            cells.place(cell.0, "/reading/temperature_f", None);
        } else {
            reading.temperature_c = Some(value);
            cells.place(cell.0, "/reading/temperature_c", None);
        }
        finish(cells, Event { reading: Some(reading), ..Event::at(at) }, noted);
    }
    cells.places.retain(|place| place.below == "/at");
}

/// A moisture measurement, or what a squeezed handful did.
fn moisture(cells: &mut Cells<'_>) -> MoistureNote {
    let squeeze = cells.word(Field::Squeeze, &SQUEEZED);
    let in_words = cells.peek(Field::Moisture).and_then(|text| {
        let text = text.to_lowercase();
        let word = SQUEEZED.iter().find(|(other, _)| *other == text).map_or(text.as_str(), |(_, word)| word);
        word::parse::<Squeeze>(word).ok()
    });
    if in_words.is_some() {
        cells.take(Field::Moisture);
    }
    MoistureNote {
        percent: cells.percent(Field::Moisture, "/moisture/percent"),
        squeeze: squeeze.or(in_words),
    }
}

/// How high the heap was seen to stand. A number without a unit is a share where it can be one, and a percentage where
/// it can be nothing else; in a column of heights it may be a length, and is neither.
fn level(cells: &mut Cells<'_>) -> Option<Level> {
    const BELOW: &str = "/level/fill_fraction";
    let Some(cell) = cells.take_if(|field| matches!(field, Field::Level | Field::Height)) else {
        cells.wrong("level", "nothing", "a share of the bay's height, like 62 %");
        return None;
    };
    let (value, unit) = cells.number(cell)?;
    let unit = unit.or(match value {
        _ if cells.field_of(cell.0) == Some(Field::Height) => None,
        share if share <= FULLEST => Some(Unit::Fraction),
        percent if percent >= LEAST_PERCENT => Some(Unit::Percent),
        _ => None,
    });
    let Some(unit) = unit.filter(|unit| unit.quantity() == Quantity::Share) else {
        cells.wrong_cell(cell, "a share of the bay's height with its unit, like 62 %");
        return None;
    };
    cells.place(cell.0, BELOW, (!unit.is_si()).then(|| Quantity::Share.si()));
    Some(Level { fill_fraction: unit.to_si(value) })
}

/// The id of the bay that the batch moved to.
fn to_bay(cells: &mut Cells<'_>) -> String {
    let Some(cell) = cells.take(Field::ToBay) else {
        cells.wrong("to_bay", "nothing", "a bay's id");
        return String::new();
    };
    cells.place(cell.0, "/move/to_bay", None);
    let found = cells.grammar.bays.as_ref().map_or(Ok(cell.1), |bays| bays.find(cell.1));
    named(cells, cell, found)
}

/// The batch that was joined to this one.
fn merge(cells: &mut Cells<'_>) -> Merge {
    let placement: Placement = cells.word(Field::Placement, &LAID).unwrap_or_default();
    let Some(cell) = cells.take(Field::Source) else {
        cells.wrong("source", "nothing", "a batch's id or name");
        return Merge { source: String::new(), placement };
    };
    cells.place(cell.0, "/merge/source", None);
    let found = cells.grammar.batches.as_ref().map_or(Ok(cell.1), |batches| batches.find(cell.1));
    Merge { source: named(cells, cell, found), placement }
}

/// The id found for a cell, or the fault that there is none.
fn named(cells: &mut Cells<'_>, cell: (usize, &str), found: Result<&str, String>) -> String {
    match found {
        Ok(id) => id.to_owned(),
        Err(accepted) => {
            cells.wrong_cell(cell, accepted);
            String::new()
        }
    }
}

/// Litres of water.
fn litres(cells: &mut Cells<'_>) -> Option<f64> {
    let field = if cells.has(Field::Water) { Field::Water } else { Field::Litres };
    let cell = cells.take(field)?;
    let (value, unit) = cells.number(cell)?;
    cells.place(cell.0, "/watering/litres", None);
    match unit {
        None | Some(Unit::Litre) => Some(value),
        Some(Unit::CubicMetre) => Some(value * 1000.0),
        Some(_) => {
            cells.wrong_cell(cell, "a number of litres");
            None
        }
    }
}

/// Compost taken out; all of it where no volume is told.
fn withdrawal(cells: &mut Cells<'_>) -> Withdrawal {
    const BELOW: &str = "/withdrawal/volume_m3";
    let all = cells.peek(Field::TakenOut).map(str::to_lowercase);
    if all.is_some_and(|text| ["all", "everything", "yes", "x"].contains(&text.as_str())) {
        cells.take(Field::TakenOut);
        return Withdrawal { volume_m3: None };
    }
    let fields = [Field::TakenOut, Field::Volume, Field::Barrows, Field::Litres, Field::Amount];
    let Some(field) = fields.into_iter().find(|field| cells.has(*field)) else {
        return Withdrawal { volume_m3: None };
    };
    let Some(cell) = cells.take(field) else { return Withdrawal { volume_m3: None } };
    let Some((value, unit)) = cells.number(cell) else { return Withdrawal { volume_m3: None } };
    let usual = match field {
        Field::Volume => Some(Unit::CubicMetre),
        Field::Barrows => Some(Unit::Barrow),
        _ => None,
    };
    let volume_m3 = match unit.or(usual) {
        Some(Unit::Barrow) => {
            if cells.grammar.barrow_m3.is_none() {
                cells.wrong_cell(cell, "a volume in m³: the size of a barrow load is not known here");
            }
            cells.grammar.barrow_m3.map(|barrow_m3| billionth(value * barrow_m3))
        }
        Some(unit) if unit.quantity() == Quantity::Volume => Some(unit.to_si(value)),
        _ => {
            cells.wrong_cell(cell, "a volume with its unit, like 0.5 m3 or 3 barrows, or `all`");
            None
        }
    };
    let converted = unit.or(usual).is_some_and(|unit| unit != Unit::CubicMetre);
    cells.place(cell.0, BELOW, converted.then(|| Quantity::Volume.si()));
    Withdrawal { volume_m3 }
}
