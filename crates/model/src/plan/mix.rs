//! What comes in, as a mix: whether what goes into the batches of a plan is fit to heat.

use std::ops::Range;

use crate::plan::answer::{Conflict, ConflictKind, Remedy, RemedyKind};
use crate::plan::conflicts::{Finding, plain};
use crate::recipe::proportions::Proportions;
use crate::recipe::quality::{MixMeasure, MixQuality, MixStanding};
use crate::recipe::stock::{Stock, Stocked};
use crate::recipe::{Recipe, Targets, told};

/// A measure of a mix, and on which side of its range it lies.
type Fault = (MixMeasure, MixStanding);

/// Share by which a measure must miss its range to be worth a word: what comes in is told by the barrow.
const CLEARLY: f64 = 0.03;

/// Measures that clearly lie out of their ranges.
fn out(mix: &Recipe) -> impl Iterator<Item = &MixQuality> {
    mix.qualities.iter().filter(|own| {
        own.least.is_some_and(|least| own.value < least * (1.0 - CLEARLY))
            || own.most.is_some_and(|most| own.value > most * (1.0 + CLEARLY))
    })
}

impl Finding<'_> {
    /// A word on each run of batches that get a mix which is out of its ranges in the same way.
    pub fn mixes(&self, conflicts: &mut Vec<Conflict>) {
        let mut run: Option<(Vec<Fault>, Range<usize>, Vec<&str>)> = None;
        for (own, name) in self.found.placed.iter().zip(&self.schedule.names) {
            let batch = own.batch;
            if !batch.is_filled() || batch.standing.is_some() {
                continue;
            }
            let mix = self.mix(batch.start..batch.close);
            let own: Vec<Fault> = out(&mix).map(|own| (own.measure, own.standing)).collect();
            match &mut run {
                Some((faults, weeks, names)) if *faults == own => {
                    weeks.end = batch.close;
                    names.push(name);
                }
                _ => {
                    let before = run.replace((own, batch.start..batch.close, vec![name]));
                    conflicts.extend(before.and_then(|(_, weeks, names)| self.poor_mix(weeks, &names)));
                }
            }
        }
        conflicts.extend(run.and_then(|(_, weeks, names)| self.poor_mix(weeks, &names)));
    }

    /// What comes in during weeks, mixed.
    fn mix(&self, weeks: Range<usize>) -> Recipe {
        let season = self.terrain.season;
        let mut materials: Vec<Stocked> = Vec::new();
        for inflow in &season.inflows {
            let loose_m3: f64 = weeks.clone().map(|week| self.terrain.loose_m3(inflow, week)).sum();
            let Some(feedstock) = self.terrain.feedstock(&inflow.feedstock) else { continue };
            let per_kg = feedstock.material(1.0, None, 0.0, inflow.preparation);
            materials.push(Stocked {
                feedstock: feedstock.clone(),
                preparation: inflow.preparation,
                weighed: inflow.mass_kg_week.is_some(),
                per_kg,
                least_kg: 0.0,
                most_kg: loose_m3 / per_kg.loose_m3,
            });
        }
        let all = Proportions { kg: materials.iter().map(|own| own.most_kg).collect(), water_kg: 0.0 };
        let stock = Stock {
            materials,
            own: season.feedstocks.clone(),
            most_water_kg: 0.0,
            volume_m3: None,
            barrow_m3: self.terrain.barrow_m3(),
            targets: Targets::default(),
            assumptions: Vec::new(),
        };
        told(&stock, &all)
    }

    /// That what goes into batches is out of its ranges, with what would mend it; nothing where it is not.
    fn poor_mix(&self, weeks: Range<usize>, names: &[&str]) -> Option<Conflict> {
        let mix = self.mix(weeks.clone());
        let missed: Vec<String> = out(&mix).map(MixQuality::missed).collect();
        if missed.is_empty() {
            return None;
        }
        let until = self.terrain.date(weeks.end);
        let each_week = 1.0 / weeks.len() as f64;
        // Of two measures that the same material mends, the one that takes more of it tells how much.
        let mends = mix.mends.iter().filter(|mend| out(&mix).any(|own| own.measure == mend.measure));
        let mends = mends.filter(|mend| {
            let mut same = mix.mends.iter().filter(|other| other.feedstock == mend.feedstock);
            same.all(|other| other.mass_kg <= mend.mass_kg)
        });
        let remedies = mends.map(|mend| {
            let what = match &mend.feedstock {
                Some(id) => {
                    let named = self.terrain.feedstock(id).filter(|row| !row.name.is_empty());
                    let name = named.map_or_else(|| id.clone(), |row| row.name.to_lowercase());
                    format!("{} more of {name}", self.said(each_week * mend.volume_m3))
                }
                None => format!("{:.0} litres of water", each_week * mend.mass_kg),
            };
            Remedy {
                volume_m3: Some(mend.volume_m3),
                barrows: Some(self.barrows(mend.volume_m3)),
                on: Some(self.terrain.date(weeks.start)),
                ..plain(RemedyKind::MoreMaterial, mix.volume_m3, format!("{what} each week until {until}"))
            }
        });
        let (first, last) = (names.first()?, names.last()?);
        let who = match names.len() {
            1 => format!("`{first}` gets"),
            2 => format!("`{first}` and `{last}` get"),
            more => format!("`{first}` to `{last}`, {more} batches, get"),
        };
        Some(Conflict {
            kind: ConflictKind::PoorMix,
            on: self.terrain.date(weeks.start),
            demand: None,
            batch: (names.len() == 1).then(|| (*first).to_owned()),
            volume_m3: Some(mix.volume_m3),
            barrows: Some(mix.barrows),
            text: format!("{who} a mix that is out of its range. {}", missed.join(" ").trim_end_matches('.')),
            remedies: remedies.collect(),
        })
    }
}
