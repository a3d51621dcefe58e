//! What compost is needed, by when, and from what.

use jiff::civil::Date;
use jiff::{Span, ToSpan};
use serde::{Deserialize, Serialize};

use crate::bay::Bay;
use crate::check::{bay, quoted, site};
use crate::moment::{ACCEPTED_DAYS, date_to_days};
use crate::problem::Problems;
use crate::recipe::OnHand;
use crate::site::Site;
use crate::window::Use;

/// Compost that is needed, where it would be made and from what.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Need {
    /// Place and weather.
    pub site: Site,
    /// A bay of the kind that it is made in; as many of them as are needed.
    pub bay: Bay,
    /// What is needed.
    pub wanted: CompostWanted,
    /// What it is made from. How much of it to mix follows from what is needed, so `volume_m3` is left out.
    pub on_hand: OnHand,
}

/// How much compost is needed, what for and by when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CompostWanted {
    /// What it is for.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// How much, when its window opens, 0.01 to 200 m³.
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 200))]
    pub volume_m3: f64,
    /// The day by which it is needed, after the earliest start and at most 730 days after it.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub by: Date,
    /// The earliest start; today where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub earliest_start: Option<Date>,
    /// Weeks over which a bay is filled, an equal part at the start of each, 0 to 12; in one go where absent or 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 12))]
    pub filling_weeks: Option<u32>,
    /// Days from the last filling to the one turn, 1 to 180; 21 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 180))]
    pub turn_after_days: Option<u32>,
}

/// Days from the last filling to the turn where nothing is said. Common practice, no source.
const TURN_AFTER_DAYS: u32 = 21;
/// Longest time from the earliest start to the day of need.
const LONGEST_DAYS: i32 = 730;

impl CompostWanted {
    /// Days from the start on which a part goes in.
    pub(super) fn fillings(&self) -> impl Iterator<Item = Span> + use<> {
        (0..self.filling_weeks.unwrap_or_default().max(1)).map(|week| i64::from(7 * week).days())
    }

    /// Days from the start to the last filling.
    pub(super) fn filling_days(&self) -> i64 {
        i64::from(7 * (self.filling_weeks.unwrap_or_default().max(1) - 1))
    }

    /// Days from the start to the turn.
    pub(super) fn turn_days(&self) -> i64 {
        self.filling_days() + i64::from(self.turn_after_days.unwrap_or(TURN_AFTER_DAYS))
    }
}

/// Notes every value out of range, but for those of what is on hand.
pub(super) fn check(need: &Need, earliest: Date, problems: &mut Problems) {
    site(&need.site, "", problems);
    bay(&need.bay, "/bay", problems);
    let wanted = &need.wanted;
    problems.range("/wanted/volume_m3", wanted.volume_m3, 0.01, 200.0);
    problems.range_if("/wanted/filling_weeks", wanted.filling_weeks.map(f64::from), 0.0, 12.0);
    problems.range_if("/wanted/turn_after_days", wanted.turn_after_days.map(f64::from), 1.0, 180.0);
    if !ACCEPTED_DAYS.contains(&date_to_days(earliest)) {
        problems.add("/wanted/earliest_start", quoted(&earliest.to_string()), "1900-01-01 to 2199-12-31");
    } else if wanted.by <= earliest || wanted.by > earliest.saturating_add(LONGEST_DAYS.days()) {
        let first = earliest.saturating_add(1.day());
        let last = earliest.saturating_add(LONGEST_DAYS.days());
        problems.add("/wanted/by", quoted(&wanted.by.to_string()), format!("{first} to {last}"));
    }
    if let Some(given) = need.on_hand.volume_m3 {
        problems.add("/on_hand/volume_m3", given, "nothing: it follows from what is needed");
    }
}
