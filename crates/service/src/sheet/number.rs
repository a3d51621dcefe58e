//! Numbers as people write them: with a decimal point or a decimal comma, and perhaps a unit behind.

use super::unit::Unit;

/// What is told of a cell that holds no number.
const NUMBER: &str = "a number like 12.5";

/// A number and the unit that stands behind it, or what would be taken instead.
///
/// A comma is a decimal comma: where commas part the cells, one inside a cell has been quoted. A single mark before
/// exactly three digits is refused where it may as well part thousands: the comma in a sheet parted by commas, the point
/// in any other.
pub fn read(text: &str, delimiter: u8) -> Result<(f64, Option<Unit>), String> {
    if let Some(number) = plain(text) {
        return if text.contains('.') { decided(text, number, '.', delimiter != b',') } else { Ok(number) }
            .map(|number| (number, None));
    }
    let end = text.find(|letter: char| !is_of_number(letter)).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let unit = unit.trim().trim_start_matches(['°', 'º']).trim().to_lowercase().replace('³', "3");
    let unit = match unit.trim_end_matches('.') {
        "" => None,
        word => Some(Unit::of(word).ok_or_else(|| NUMBER.to_owned())?),
    };
    Ok((digits(number, delimiter)?, unit))
}

/// A number as programs write it.
fn plain(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// Whether a letter may stand in a number: digits, signs, decimal marks and what parts thousands.
fn is_of_number(letter: char) -> bool {
    letter.is_ascii_digit() || "+-\u{2212}.,' \u{a0}\u{202f}".contains(letter)
}

/// The digits before a unit.
fn digits(text: &str, delimiter: u8) -> Result<f64, String> {
    let text = text.trim().replace('\u{2212}', "-");
    let compact = parted(&text, &[' ', '\'', '\u{a0}', '\u{202f}']).ok_or(NUMBER)?;
    let number = |text: &str| plain(text).ok_or_else(|| NUMBER.to_owned());
    match (compact.rfind(','), compact.rfind('.')) {
        (None, None) => number(&compact),
        (None, Some(_)) => number(&compact).and_then(|n| decided(&compact, n, '.', delimiter != b',')),
        (Some(_), None) => {
            number(&compact.replace(',', ".")).and_then(|n| decided(&compact, n, ',', delimiter == b','))
        }
        (Some(comma), Some(point)) => {
            // The one that comes last is the decimal mark.
            let (decimal, thousands) = if comma > point { (',', '.') } else { ('.', ',') };
            let (whole, rest) = compact.split_once(decimal).ok_or(NUMBER)?;
            let whole = parted(whole, &[thousands]).ok_or(NUMBER)?;
            number(&format!("{whole}.{rest}"))
        }
    }
}

/// Text without the marks that part its thousands, where they do so in threes.
fn parted(text: &str, marks: &[char]) -> Option<String> {
    let mut groups = text.split(marks);
    let first = groups.next()?;
    let mut whole = first.to_owned();
    for group in groups {
        let digits = group.split(['.', ',']).next().unwrap_or_default();
        if digits.len() != 3 || first.trim_start_matches(['-', '+']).is_empty() {
            return None;
        }
        whole.push_str(group);
    }
    Some(whole)
}

/// The number, unless its one mark may as well part thousands.
fn decided(text: &str, number: f64, mark: char, doubtful: bool) -> Result<f64, String> {
    let (whole, rest) = text.split_once(mark).unwrap_or((text, ""));
    let whole = whole.trim_start_matches(['-', '+']);
    let thousands = rest.len() == 3
        && rest.bytes().all(|byte| byte.is_ascii_digit())
        && (1..=3).contains(&whole.len())
        && !whole.starts_with('0');
    if doubtful && thousands {
        let joined: f64 = plain(&format!("{whole}{rest}")).unwrap_or(number);
        return Err(format!("{joined} or {}, written so that it can be only one of them", number.abs()));
    }
    Ok(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_they_are_written() {
        let none = None;
        // Text, delimiter, number, unit.
        for (text, delimiter, number, unit) in [
            ("12.5", b',', 12.5, none),
            ("12,5", b',', 12.5, none),
            ("12,5", b';', 12.5, none),
            ("-3,25", b';', -3.25, none),
            ("\u{2212}3", b',', -3.0, none),
            ("1e3", b',', 1000.0, none),
            ("0.125", b';', 0.125, none),
            ("1,250", b';', 1.25, none),
            ("1.250", b',', 1.25, none),
            ("1.250,5", b';', 1250.5, none),
            ("1,250.5", b',', 1250.5, none),
            ("1 250", b';', 1250.0, none),
            ("12\u{a0}500,5 kg", b'\t', 12_500.5, Some(Unit::Kilogram)),
            ("58 °C", b',', 58.0, Some(Unit::Celsius)),
            ("137F", b',', 137.0, Some(Unit::Fahrenheit)),
            ("137 ° F", b',', 137.0, Some(Unit::Fahrenheit)),
            ("0,5 m³", b';', 0.5, Some(Unit::CubicMetre)),
            ("3 barrow loads", b',', 3.0, Some(Unit::Barrow)),
            ("60%", b',', 60.0, Some(Unit::Percent)),
            ("50 cm.", b',', 50.0, Some(Unit::Centimetre)),
        ] {
            assert_eq!(read(text, delimiter), Ok((number, unit)), "{text}");
        }
    }

    #[test]
    fn what_is_no_number_or_two_is_refused() {
        for text in
            ["", "hot", "NaN", "inf", "12 apples", "1,2,3", "1 2 3", "12-5", "kg", ",", "1..5", "- 500"]
        {
            assert_eq!(read(text, b','), Err(NUMBER.to_owned()), "{text}");
        }
        let twofold = "1250 or 1.25, written so that it can be only one of them";
        for (text, delimiter) in [("1,250", b','), ("1.250", b';'), ("1.250 kg", b'\t')] {
            assert_eq!(read(text, delimiter), Err(twofold.to_owned()), "{text}");
        }
    }
}
