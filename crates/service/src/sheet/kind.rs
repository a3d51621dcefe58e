//! The kinds of event that a row may tell of, by the words that people have for them.

use baycast_model::history::CoverState;

/// What a row tells of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Material put in.
    Addition,
    /// One probe reading, or several at once.
    Reading,
    /// A moisture measurement or a hand-squeeze.
    Moisture,
    /// How high the heap was seen to stand.
    Level,
    /// A turn.
    Turn,
    /// A move into another bay.
    Move,
    /// Another batch joined to this one.
    Merge,
    /// The cover put on or taken off, where the word says which.
    Cover(Option<CoverState>),
    /// Water given.
    Watering,
    /// Trodden down.
    Firming,
    /// Compost taken out.
    Withdrawal,
}

/// The kinds there are, for who asks.
pub const KINDS: &str =
    "addition, reading, moisture, level, turn, move, merge, cover, watering, firming, withdrawal";

impl Kind {
    /// The kind that a cell names.
    #[must_use]
    pub fn of(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split(|letter: char| !letter.is_alphanumeric()).collect();
        let name = words.join(" ").trim().to_lowercase();
        Some(match name.as_str() {
            "addition" | "add" | "added" | "fill" | "filled" | "filling" | "put in" | "went in" => {
                Self::Addition
            }
            "reading" | "read" | "temperature" | "temp" | "probe" | "probed" => Self::Reading,
            "moisture" | "squeeze" | "squeezed" | "squeeze test" => Self::Moisture,
            "level" | "level seen" | "height" => Self::Level,
            "turn" | "turned" | "turning" => Self::Turn,
            "move" | "moved" => Self::Move,
            "merge" | "merged" | "join" | "joined" => Self::Merge,
            "cover" => Self::Cover(None),
            "covered" | "cover on" => Self::Cover(Some(CoverState::On)),
            "uncovered" | "uncover" | "cover off" => Self::Cover(Some(CoverState::Off)),
            "watering" | "water" | "watered" => Self::Watering,
            "firming" | "firm" | "firmed" | "trodden" | "pressed down" => Self::Firming,
            "withdrawal" | "withdrawn" | "taken out" | "took out" | "removed" | "emptied" => Self::Withdrawal,
            _ => return None,
        })
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Addition => "addition",
            Self::Reading => "reading",
            Self::Moisture => "moisture",
            Self::Level => "level",
            Self::Turn => "turn",
            Self::Move => "move",
            Self::Merge => "merge",
            Self::Cover(_) => "cover",
            Self::Watering => "watering",
            Self::Firming => "firming",
            Self::Withdrawal => "withdrawal",
        }
    }
}
