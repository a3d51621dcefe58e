//! What the model does not know of a heap, and one heap with all of that chosen.
//!
//! Each unknown is a standard normal deviate before anything is read; [`error`] says what one standard deviation of it is.

use serde::{Deserialize, Serialize};

use crate::agenda::{Agenda, Change, Dated};
use crate::checkpoint::{Alike, Earlier};
use crate::course::Course;
use crate::draw::{Draw, SOUGHT, Sought, UNKNOWNS};
use crate::parameters::Parameters;
use crate::rosenbrock::{Failure, Tolerance};
use crate::timeline::Timeline;

/// Something the model does not know of a heap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Unknown {
    /// How fast everything breaks down, as a factor.
    Kinetics,
    /// How fast the heap loses heat, by conduction and with air: a factor on conduction, and on air flow to the power of
    /// their two standard errors.
    HeatLoss,
    /// Water in what was put in, as a factor on water to dry mass.
    Water,
    /// All amounts put in, as a factor.
    Amount,
    /// How fast the slow and resistant part breaks down, as a further factor.
    SlowPart,
    /// Air temperature to come where only normals are known, as a difference in °C.
    Season,
    /// Rain to come where only normals are known, as a factor.
    Rain,
    /// Error common to all moisture notes, in their standard errors.
    MoistureNotes,
}

impl Unknown {
    /// All, in their order in a [`Draw`].
    pub const ALL: [Self; UNKNOWNS] = [
        Self::Kinetics,
        Self::HeatLoss,
        Self::Water,
        Self::Amount,
        Self::SlowPart,
        Self::Season,
        Self::Rain,
        Self::MoistureNotes,
    ];
}

impl Unknown {
    /// Its factor at a draw, `amount_error` being the relative error of all amounts; the season's warmth in °C.
    #[must_use]
    pub fn factor(self, draw: &Draw, amount_error: f64) -> f64 {
        let z = draw[self as usize];
        match self {
            Self::Kinetics => (error::KINETICS * z).exp(),
            Self::HeatLoss => (error::CONDUCTANCE * z).exp(),
            Self::Water => (error::WATER * z).exp(),
            Self::Amount => (amount_error * z).exp(),
            Self::SlowPart => (error::SLOW_PART * z).exp(),
            Self::Season => error::SEASON_C * z,
            Self::Rain => (error::RAIN * z).exp(),
            Self::MoistureNotes => z,
        }
    }
}

/// Standard errors of the unknowns. Estimates; that of amounts follows from the history.
pub mod error {
    /// Kinetics, log scale.
    pub const KINETICS: f64 = 0.25;
    /// Slow part against the fast one, log scale.
    pub const SLOW_PART: f64 = 0.2;
    /// Conduction, log scale.
    pub const CONDUCTANCE: f64 = 0.2;
    /// Air flow, log scale.
    pub const AIR_FLOW: f64 = 0.3;
    /// Water in what is put in, log scale of water to dry mass.
    pub const WATER: f64 = 0.15;
    /// Air temperature of the season to come beyond what is known, °C.
    pub const SEASON_C: f64 = 1.0;
    /// Rain of the season to come beyond what is known, log scale.
    pub const RAIN: f64 = 0.3;
    /// Ripeness against what the balance of two pools has, log scale: what criteria ask for is less than the balance knows.
    pub const RIPENESS: f64 = 0.4;
    /// Seed death rate, log scale: half to double at one standard error.
    pub const SEEDS: f64 = 0.7;
}

/// How closely courses are followed: on average a hundredth of a degree and at worst four tenths off their exact ones, and a
/// quarter of a per cent of the volume, far inside the spread between them.
pub const TOLERANCE: Tolerance =
    Tolerance { relative: 2e-4, absolute_scale: 3.0, max_step_days: 16.0, max_steps: 100_000 };

/// One plausible heap: what it integrates, and its constants.
#[derive(Clone, Debug)]
pub struct Variant {
    /// What it integrates.
    pub agenda: Agenda,
    /// Its constants.
    pub parameters: Parameters,
}

impl Variant {
    /// The heap of a timeline that lies at `draw`, in the middle of what is not looked for.
    #[must_use]
    pub fn sought(draw: &Sought, timeline: &Timeline) -> Self {
        let mut whole: Draw = [0.0; UNKNOWNS];
        whole[..SOUGHT].copy_from_slice(draw.as_slice());
        Self::new(&whole, timeline)
    }

    /// The heap of a timeline that lies at `draw`.
    #[must_use]
    pub fn new(draw: &Draw, timeline: &Timeline) -> Self {
        let [kinetics, loss, water, amount, slow, season, rain, notes] = *draw;
        let mut parameters = Parameters::default();
        let kinetics = (error::KINETICS * kinetics).exp();
        let slow = kinetics * (error::SLOW_PART * slow).exp();
        parameters.fast_per_day *= kinetics;
        parameters.slow_per_day *= slow;
        parameters.resistant_per_day *= slow;
        let conductance = (error::CONDUCTANCE * loss).exp();
        parameters.conductivity_base *= conductance;
        parameters.conductivity_water *= conductance;
        parameters.conductivity_solid *= conductance;
        parameters.air_flow_kg_m2_day *= (error::AIR_FLOW * loss).exp();
        let offsets = Offsets {
            water: (error::WATER * water).exp(),
            amount: (timeline.amount_error * amount).exp(),
            season_c: error::SEASON_C * season,
            rain: (error::RAIN * rain).exp(),
            notes,
        };
        let mut agenda = timeline.agenda.clone();
        offsets.apply(&mut agenda);
        Self { agenda, parameters }
    }

    /// Its course to `until`.
    pub(crate) fn course(&self, until: f64, earlier: Option<Earlier<'_>>) -> Result<Course, Failure> {
        self.agenda.run_from(&self.parameters, TOLERANCE, until, earlier)
    }

    /// What its course would be with further changes, each after what else happens at its time.
    pub(crate) fn course_with(
        &self,
        course: &Course,
        changes: Vec<Dated>,
        until: f64,
    ) -> Result<Course, Failure> {
        let mut agenda = self.agenda.clone();
        for dated in changes {
            let place = agenda.changes.partition_point(|other| other.day <= dated.day);
            agenda.changes.insert(place, dated);
        }
        let earlier = Earlier { course, alike: &Alike::itself(&agenda) };
        agenda.run_from(&self.parameters, TOLERANCE, until, Some(earlier))
    }
}

/// How a heap and its season differ from the middle ones.
struct Offsets {
    /// Factor on water put in with material.
    water: f64,
    /// Factor on amounts.
    amount: f64,
    /// Warmer season to come, °C.
    season_c: f64,
    /// Factor on its rain.
    rain: f64,
    /// Error of moisture notes, in their standard errors: whoever squeezes reads all of them alike.
    notes: f64,
}

impl Offsets {
    /// Gives them to an agenda and to what merges into it.
    fn apply(&self, agenda: &mut Agenda) {
        agenda.weather.shift(self.season_c, self.rain);
        for dated in &mut agenda.changes {
            match &mut dated.change {
                Change::Add(material) => {
                    *material = material.times(self.amount);
                    material.matter.water_kg *= self.water;
                }
                Change::FillTo { per_m3, .. } => per_m3.matter.water_kg *= self.water,
                Change::SeeMoisture { fraction, error } => *fraction += *error * self.notes,
                _ => {}
            }
        }
        for source in &mut agenda.sources {
            self.apply(source);
        }
    }
}
