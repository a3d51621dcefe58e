//! Rules, seeds, advice and suspect readings, on the way out.

use baycast_model::advice::{Advice, Subject, Urgency};
use baycast_model::probe::{SuspectReading, Suspicion};
use baycast_model::sanitisation::{Rule, RuleFinding, Verdict};
use baycast_model::seeds::{SeedSurvival, Tolerance};

use super::word::word;
use crate::proto;

word!(Rule, proto::Rule {
    PsrpComposting PfrpStaticPile PfrpWindrow OrganicStaticPile OrganicWindrow Pas100Default EuAnimalByProducts
    LethalityEquation
});
word!(Verdict, proto::Verdict { Met NotMet NotEnoughReadings IndicativeOnly });
word!(Tolerance, proto::Tolerance { Soft Medium Hard });
word!(Urgency, proto::Urgency { Now Soon Whenever });
word!(Subject, proto::Subject {
    FireRisk TooHot TooWet TooDry TooLittleAir TooMuchNitrogen TooMuchCarbon Stalled Turn Cover ColdEdge
    TakeReading Spread
});
word!(Suspicion, proto::Suspicion { Stuck Spike LooksLikeFahrenheit OutOfTheHeap InTheShell UnlikeTheRest });

impl From<RuleFinding> for proto::RuleFinding {
    fn from(finding: RuleFinding) -> Self {
        let RuleFinding { rule, verdict, from, to, shown_days, required_days, turns, explanation, source } =
            finding;
        Self {
            rule: proto::Rule::from(rule).into(),
            verdict: proto::Verdict::from(verdict).into(),
            from: from.map(|date| date.to_string()),
            to: to.map(|date| date.to_string()),
            shown_days,
            required_days,
            turns,
            explanation,
            source,
        }
    }
}

impl From<SeedSurvival> for proto::SeedSurvival {
    fn from(survival: SeedSurvival) -> Self {
        let SeedSurvival {
            species,
            name,
            tolerance,
            core_fraction,
            edge_fraction,
            p10_fraction,
            p50_fraction,
            p90_fraction,
            source,
        } = survival;
        Self {
            species,
            name,
            tolerance: proto::Tolerance::from(tolerance).into(),
            core_fraction,
            edge_fraction,
            p10_fraction,
            p50_fraction,
            p90_fraction,
            source,
        }
    }
}

impl From<Advice> for proto::Advice {
    fn from(Advice { subject, urgency, action, reason }: Advice) -> Self {
        Self {
            subject: proto::Subject::from(subject).into(),
            urgency: proto::Urgency::from(urgency).into(),
            action,
            reason,
        }
    }
}

impl From<SuspectReading> for proto::SuspectReading {
    fn from(SuspectReading { pointer, at, temperature_c, reason, weight }: SuspectReading) -> Self {
        Self {
            pointer,
            at: at.to_string(),
            temperature_c,
            reason: proto::Suspicion::from(reason).into(),
            weight,
        }
    }
}
