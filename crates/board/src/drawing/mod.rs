//! Drawings as SVG, one file a kind.
//!
//! Where a drawing stretches with the page, what lies along it is placed in percent, so that letters and dots keep their
//! form. Colours and letters are the style sheet's; patterns are those of `textures.html`.

pub mod bay;
pub mod course;
pub mod holding;
pub mod season;
pub mod supply;

use std::fmt;

/// A number with at most one decimal, as short as it can be written.
#[derive(Clone, Copy, Debug)]
struct Short(f64);

impl fmt::Display for Short {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 * 10.0).round() as i64;
        let sign = if tenths < 0 { "-" } else { "" };
        write!(f, "{sign}{}", tenths.abs() / 10)?;
        match tenths.abs() % 10 {
            0 => Ok(()),
            tenth => write!(f, ".{tenth}"),
        }
    }
}

/// A text in which nothing reads as markup.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// A stretch of days, and where each lies in it.
#[derive(Clone, Copy, Debug)]
pub struct Span {
    /// Its start, days since 1970.
    pub from: f64,
    /// Its end, days since 1970.
    pub to: f64,
}

impl Span {
    /// Where a day lies, percent; at the edge where beyond it.
    fn percent(&self, day: f64) -> f64 {
        (100.0 * (day - self.from) / (self.to - self.from)).clamp(0.0, 100.0)
    }

    /// Whether a day lies in it.
    fn holds(&self, day: f64) -> bool {
        (self.from..=self.to).contains(&day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        assert_eq!(
            [0.0, -0.04, 12.0, -3.25, 99.96].map(|number| Short(number).to_string()),
            ["0", "0", "12", "-3.3", "100"]
        );
    }

    #[test]
    fn what_lies_beyond_a_stretch_is_at_its_edge() {
        let span = Span { from: 10.0, to: 20.0 };
        assert_eq!([5.0, 12.5, 30.0].map(|day| span.percent(day)), [0.0, 25.0, 100.0]);
    }
}
