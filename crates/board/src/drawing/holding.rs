//! A bay over a season: what it holds, as stretches with the texture of what goes on in them, and their word where there is
//! room.

use std::fmt::Write;

use jiff::civil::Date;

use super::season::Season;
use super::{Short, escaped};
use crate::words;

/// Height of a strip, and of what is drawn in it.
const HEIGHT: f64 = 30.0;
const TALL: f64 = 26.0;
/// A stretch that is narrower has no word, percent.
const ROOM: f64 = 13.0;

/// What goes on in a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Material goes in.
    Filling,
    /// It is full and waits to be turned.
    Resting,
    /// It breaks down to the end.
    Maturing,
    /// It is fit for beds.
    Ready,
}

impl Phase {
    /// All of them, in the order in which a heap goes through them.
    pub const ALL: &[Self] = &[Self::Filling, Self::Resting, Self::Maturing, Self::Ready];

    /// The pattern that it is drawn with.
    pub fn texture(self) -> &'static str {
        match self {
            Self::Filling => "filling",
            Self::Resting => "resting",
            Self::Maturing => "curing",
            Self::Ready => "ready",
        }
    }
}

/// A stretch of days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// What goes on.
    pub phase: Phase,
    /// Its first day.
    pub from: Date,
    /// The day after its last.
    pub until: Date,
}

impl Season {
    /// A bay; `told` is what it holds in words.
    pub fn holding(&self, stretches: &[Stretch], told: &str) -> String {
        let mut out = String::with_capacity(1200);
        let _ = write!(
            out,
            r#"<svg class="strip" width="100%" height="{HEIGHT}" role="img" aria-label="{}">"#,
            escaped(told)
        );
        out.push_str(r##"<use href="#months"/>"##);
        for Stretch { phase, from, until } in stretches {
            let (from, until) = (self.at(*from), self.at(*until));
            let wide = until - from;
            let _ = write!(
                out,
                r#"<rect class="stay" fill="url(#{})" x="{}%" y="2" width="{}%" height="{TALL}"/>"#,
                phase.texture(),
                Short(from),
                Short(wide),
            );
            if wide >= ROOM {
                let _ = write!(
                    out,
                    r#"<text class="phase" x="{}%" y="20">{}</text>"#,
                    Short(from + wide / 2.0),
                    words::phase(*phase)
                );
            }
        }
        let today = Short(self.at(self.today()));
        let _ = write!(out, r#"<line class="today" x1="{today}%" x2="{today}%" y2="{HEIGHT}"/></svg>"#);
        out
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_stretch_lies_where_its_days_do_and_has_its_word_where_there_is_room() {
        // 1 January to 1 May are 120 days.
        let season = Season::until(date(2026, 1, 1), date(2026, 4, 20));
        let stretch = |phase, from, until| Stretch { phase, from, until };
        let strip = season.holding(
            &[
                stretch(Phase::Filling, date(2026, 1, 1), date(2026, 1, 31)),
                stretch(Phase::Ready, date(2026, 3, 2), date(2026, 3, 8)),
            ],
            "east: \"a\" & b",
        );
        assert!(strip.contains(r#"fill="url(#filling)" x="0%" y="2" width="25%""#), "{strip}");
        assert!(strip.contains(r#"fill="url(#ready)" x="50%" y="2" width="5%""#), "{strip}");
        assert_eq!(strip.matches("<text").count(), 1, "one has no room for its word: {strip}");
        assert!(strip.contains("east: &quot;a&quot; &amp; b"), "{strip}");
    }
}
