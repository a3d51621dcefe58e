//! A recipe as a grower reads it.

use std::fmt::Write;

use baycast_model::recipe::{MixMeasure, MixQuality, MixStanding, Recipe, RecipeBound, RecipePart};

use super::paragraph::{WIDTH, labelled};
use super::table::{footer, sentence};

/// Where the text of a line begins.
const INDENT: usize = 18;

/// The whole answer.
pub fn table(recipe: &Recipe) -> String {
    let mut out = block(recipe);
    for assumption in &recipe.assumptions {
        out += &labelled("  Assumed", INDENT, &sentence(&assumption.assumed));
    }
    out + &footer(&recipe.cautions)
}

/// The mix and what it is like, without what is common to all answers.
pub fn block(recipe: &Recipe) -> String {
    let mut out = String::from("Mix                              kg         m³    barrows\n");
    let _ = writeln!(out, "{}", "─".repeat(WIDTH));
    for part in &recipe.parts {
        let RecipePart { mass_kg, volume_m3, barrows, .. } = part;
        let bound = match part.bound {
            Some(RecipeBound::Most) => "   all there is",
            Some(RecipeBound::Least) if *mass_kg < 0.05 => "   left out",
            Some(RecipeBound::Least) => "   the least",
            None => "",
        };
        row(&mut out, called(part), &[(*mass_kg, 0), (*volume_m3, 2), (*barrows, 1)], bound);
    }
    if recipe.water_litres >= 0.5 {
        row(&mut out, "Water", &[(recipe.water_litres, 0)], "");
    }
    let all = [(recipe.mass_kg, 0), (recipe.volume_m3, 2), (recipe.barrows, 1)];
    row(&mut out, "Together", &all, "");
    for quality in &recipe.qualities {
        out += &labelled(&format!("  {}", measure(quality.measure)), INDENT, &reading(quality));
    }
    for mend in &recipe.mends {
        out += &labelled("  ► to mend it", INDENT, &mend.action);
    }
    for part in recipe.parts.iter().filter(|part| part.mass_kg >= 0.05 && !part.note.is_empty()) {
        out += &labelled("  Mind", INDENT, &format!("{}: {}", called(part), sentence(&part.note)));
    }
    out
}

fn row(out: &mut String, name: &str, numbers: &[(f64, usize)], word: &str) {
    let _ = write!(out, "  {name:<24}");
    for (number, decimals) in numbers {
        let _ = write!(out, " {number:>9.decimals$}");
    }
    let _ = writeln!(out, "{word}");
}

fn called(part: &RecipePart) -> &str {
    if part.name.is_empty() { &part.feedstock } else { &part.name }
}

fn measure(measure: MixMeasure) -> &'static str {
    match measure {
        MixMeasure::CToN => "C:N",
        MixMeasure::Moisture => "Moisture",
        MixMeasure::FreeAirSpace => "Air, settled",
        MixMeasure::BulkDensity => "A loose m³",
    }
}

/// A measure with its range and where it lies.
fn reading(quality: &MixQuality) -> String {
    let shown = |value: f64| match quality.measure {
        MixMeasure::CToN => format!("{value:.0}"),
        MixMeasure::Moisture | MixMeasure::FreeAirSpace => format!("{:.0} %", value * 100.0),
        MixMeasure::BulkDensity => format!("{value:.0} kg"),
    };
    let range = match (quality.least, quality.most) {
        (Some(least), Some(most)) => format!(" ({} to {} are good)", shown(least), shown(most)),
        (Some(least), None) => format!(" ({} or more are good)", shown(least)),
        (None, Some(most)) => format!(" ({} or less are good)", shown(most)),
        (None, None) => String::new(),
    };
    let standing = match quality.standing {
        MixStanding::Below => "too little: ",
        MixStanding::Within => "",
        MixStanding::Above => "too much: ",
    };
    format!("{standing}{}{range}", shown(quality.value))
}
