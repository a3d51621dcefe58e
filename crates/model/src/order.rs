//! The order of events: by time, and within one moment by kind and content, whatever their order in the list.

use crate::history::Event;
use crate::moisture::squeezed;

/// Kinds in the order in which they count at one moment: what was seen, then what left, came and was done.
const KINDS: [&str; 11] = [
    "reading",
    "moisture",
    "level",
    "withdrawal",
    "merge",
    "move",
    "addition",
    "turn",
    "watering",
    "firming",
    "cover",
];

/// Events that have exactly one detail, in order, with their index in the list.
#[must_use]
pub fn ordered(events: &[Event]) -> Vec<(usize, &Event)> {
    let mut order: Vec<(usize, &Event)> =
        events.iter().enumerate().filter(|(_, event)| event.details().len() == 1).collect();
    order.sort_by(|(_, a), (_, b)| {
        a.at.days()
            .total_cmp(&b.at.days())
            .then_with(|| rank(a).cmp(&rank(b)))
            .then_with(|| fill(a).total_cmp(&fill(b)))
            .then_with(|| content(a).total_cmp(&content(b)))
    });
    order
}

fn rank(event: &Event) -> usize {
    let name = event.details().first().copied().unwrap_or_default();
    KINDS.iter().position(|kind| *kind == name).unwrap_or(KINDS.len())
}

/// Mark that an addition fills up to: known amounts go in before any filling, and the lowest mark first.
fn fill(event: &Event) -> f64 {
    event.addition.as_ref().and_then(|addition| addition.filled_to_fraction).unwrap_or(-1.0)
}

/// A number that tells events of one kind and moment apart by what they say.
fn content(event: &Event) -> f64 {
    let text = |text: &str| text.bytes().fold(7.0, |sum, byte| (sum * 31.0 + f64::from(byte)) % 1e9);
    if let Some(own) = &event.addition {
        let amounts =
            [own.mass_kg, own.volume_m3, own.barrows, own.filled_to_fraction, own.moisture_fraction];
        text(&own.feedstock) + amounts.into_iter().flatten().sum::<f64>() * 1e-6
    } else if let Some(own) = &event.reading {
        own.celsius().unwrap_or_default()
    } else if let Some(own) = &event.merge {
        text(&own.source)
    } else if let Some(own) = &event.moved {
        text(&own.to_bay)
    } else if let Some(own) = &event.watering {
        own.litres
    } else if let Some(own) = &event.moisture {
        own.percent.unwrap_or_default() / 100.0 + own.squeeze.map_or(0.0, |squeeze| squeezed(squeeze).0)
    } else if let Some(own) = &event.level {
        own.fill_fraction
    } else if let Some(own) = &event.withdrawal {
        own.volume_m3.unwrap_or(f64::MAX)
    } else {
        0.0
    }
}
