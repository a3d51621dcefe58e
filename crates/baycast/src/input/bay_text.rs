//! A bay in one line, as someone describes it: `pallet-1: 1.0x1.0x1.1 cardboard_lined open soil`.

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_service::sheet::word;

/// The bay that `text` describes: an id and a colon where it has a name, inside length, width and height in
/// metres, and one word each for wall, top (open where none) and base (soil where none), in any order.
pub fn parse(text: &str) -> Result<Bay, String> {
    let (id, rest) = match text.split_once(':') {
        Some((id, rest)) => (id.trim(), rest),
        None => ("bay", text),
    };
    let mut size = None;
    let mut construction = None;
    let mut top = None;
    let mut base = None;
    for token in rest.split_whitespace() {
        if token.starts_with(|first: char| first.is_ascii_digit()) {
            set(&mut size, metres(token)?, token)?;
        } else if let Ok(word) = word::parse::<Construction>(token) {
            set(&mut construction, word, token)?;
        } else if let Ok(word) = word::parse::<Top>(token) {
            set(&mut top, word, token)?;
        } else if let Ok(word) = word::parse::<Base>(token) {
            set(&mut base, word, token)?;
        } else {
            return Err(format!("`{token}` given, accepted: {}", words()));
        }
    }
    let [length_m, width_m, height_m] =
        size.ok_or("no size given, accepted: length x width x height in metres, such as 1.0x1.0x1.1")?;
    let construction = construction.ok_or_else(|| format!("no wall given, accepted: {}", walls()))?;
    Ok(Bay {
        id: id.into(),
        length_m,
        width_m,
        height_m,
        wall: Wall { construction, layers: Vec::new() },
        base: base.unwrap_or_default(),
        top: top.unwrap_or_default(),
    })
}

/// Three lengths parted by `x` or `×`.
fn metres(token: &str) -> Result<[f64; 3], String> {
    let lengths: Result<Vec<f64>, _> = token.split(['x', '×']).map(str::parse).collect();
    lengths.ok().and_then(|lengths| lengths.try_into().ok()).ok_or_else(|| {
        format!("`{token}` given, accepted: length x width x height in metres, such as 1.0x1.0x1.1")
    })
}

/// Sets what may be said only once.
fn set<T>(slot: &mut Option<T>, value: T, token: &str) -> Result<(), String> {
    match slot.replace(value) {
        None => Ok(()),
        Some(_) => Err(format!("`{token}` given, accepted: one size, one wall, one top and one base")),
    }
}

/// The words for a wall.
fn walls() -> String {
    word::parse::<Construction>("").unwrap_err()
}

/// Every word that is taken.
fn words() -> String {
    let tops = word::parse::<Top>("").unwrap_err();
    let bases = word::parse::<Base>("").unwrap_err();
    format!("a wall ({}), a top ({tops}), a base ({bases})", walls())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_in_any_order_and_defaults_fill_in() {
        let bay = parse("pallet-1: 1.0x1.2×1.1 cardboard_lined slab roofed").unwrap();
        assert_eq!((bay.id.as_str(), bay.length_m, bay.width_m, bay.height_m), ("pallet-1", 1.0, 1.2, 1.1));
        assert_eq!(
            (bay.wall.construction, bay.top, bay.base),
            (Construction::CardboardLined, Top::Roofed, Base::Slab)
        );
        let plain = parse("2x2x1.5 open_heap").unwrap();
        assert_eq!((plain.id.as_str(), plain.top, plain.base), ("bay", Top::Open, Base::Soil));
    }

    #[test]
    fn what_is_wrong_is_named_with_what_is_taken() {
        assert!(parse("1x1x1 brick").unwrap_err().contains("`brick` given, accepted: a wall (thin_plastic,"));
        assert!(parse("1x1 block").unwrap_err().starts_with("`1x1` given"));
        assert!(parse("block").unwrap_err().starts_with("no size"));
        assert!(parse("1x1x1").unwrap_err().starts_with("no wall given, accepted: thin_plastic"));
        assert!(parse("1x1x1 block slab soil").unwrap_err().starts_with("`soil` given"));
    }
}
