//! Moisture and C:N of a mix against printed worked examples.

use baycast_model::feedstock::{Feedstock, Structure, TABLE};
use baycast_model::heap::Material;
use baycast_model::history::Preparation;

fn feedstock(moisture_fraction: f64, carbon: f64, nitrogen_fraction: f64) -> Feedstock {
    Feedstock {
        id: "example".into(),
        name: String::new(),
        moisture_fraction,
        nitrogen_fraction,
        c_to_n: carbon / nitrogen_fraction,
        ash_fraction: 0.1,
        bulk_density_kg_m3: 200.0,
        fast_fraction: 0.3,
        slow_fraction: 0.3,
        structure: Structure::Mixed,
        note: String::new(),
        sources: Vec::new(),
    }
}

fn mix(parts: &[(f64, Feedstock)]) -> Material {
    let mut materials =
        parts.iter().map(|(kg, feedstock)| feedstock.material(*kg, None, 10.0, Preparation::AsListed));
    let mut mix = materials.next().unwrap();
    materials.for_each(|material| mix.combine(&material));
    mix
}

fn moisture(mix: &Material) -> f64 {
    mix.matter.water_kg / (mix.matter.water_kg + mix.matter.dry_kg())
}

fn c_to_n(mix: &Material) -> f64 {
    mix.matter.carbon_kg_kg * mix.matter.volatile_kg() / mix.nitrogen_kg
}

/// Cornell composting, moisture content worked example (the NRAES-54 moisture equation), read in a reprint: 10 kg of
/// grass at 77 % and leaves at 35 % reach the goal of 60 % with 6.8 kg of leaves.
#[test]
fn grass_and_leaves_reach_the_printed_moisture() {
    let mix = mix(&[(10.0, feedstock(0.77, 0.45, 0.024)), (6.8, feedstock(0.35, 0.5, 0.0075))]);
    assert!((moisture(&mix) - 0.60).abs() < 1e-12);
}

/// Michel, Reddy & Forney 1993, Yard waste composting, Compost Sci. Util. (abstract read; authors and year from memory):
/// leaves alone C:N 48, two thirds leaves 30, one third leaves 22. Grass from the first two at equal carbon (computed:
/// 17.14), the third is then the check, printed to a whole number.
#[test]
fn leaf_and_grass_mixes_have_the_printed_c_to_n() {
    let leaves = || feedstock(0.0, 0.48, 0.48 / 48.0);
    let grass = || feedstock(0.0, 0.48, 0.48 / 17.143);
    assert!((c_to_n(&mix(&[(2.0, leaves()), (1.0, grass())])) - 30.0).abs() < 0.01);
    assert!((c_to_n(&mix(&[(1.0, leaves()), (2.0, grass())])) - 22.0).abs() < 0.5);
}

/// Extension knowledge base 351921, 2016 (read): 400 lb of sawdust with 240 lb C and 0.6 lb N needs 8 lb N for 30:1, that is
/// 16 lb of urea at 46 % N. Forward the rounding of 7.4 lb N to 16 lb of urea gives 30.15 (computed).
#[test]
fn sawdust_with_nitrogen_added_reaches_thirty() {
    let sawdust = feedstock(0.0, 0.60, 0.0015);
    let mut both = mix(&[(400.0, sawdust)]);
    both.nitrogen_kg += 16.0 * 0.46;
    assert!((c_to_n(&both) - 30.0).abs() < 0.2);
}

/// The recipe equation of NRAES-54 (from memory): R = Σ Q C (100−M) / Σ Q N (100−M), here for random parts of the table.
#[test]
fn any_mix_of_the_table_follows_the_recipe_equation() {
    for (i, a) in TABLE.iter().enumerate() {
        let b = &TABLE[(i * 7 + 3) % TABLE.len()];
        let (q_a, q_b) = (1.0 + i as f64, 40.0 - i as f64 / 2.0);
        let mixed = mix(&[(q_a, a.into()), (q_b, b.into())]);
        let carbon = |row: &baycast_model::feedstock::Row, q: f64| {
            q * row.nitrogen_fraction.value * row.c_to_n.value * (1.0 - row.moisture_fraction.value)
        };
        let nitrogen = |row: &baycast_model::feedstock::Row, q: f64| {
            q * row.nitrogen_fraction.value * (1.0 - row.moisture_fraction.value)
        };
        let expected = (carbon(a, q_a) + carbon(b, q_b)) / (nitrogen(a, q_a) + nitrogen(b, q_b));
        assert!((c_to_n(&mixed) / expected - 1.0).abs() < 1e-12, "{} and {}", a.id, b.id);
    }
}

#[test]
fn the_table_is_in_range_named_once_and_sourced() {
    assert!(TABLE.len() >= 30);
    let mut ids = std::collections::HashSet::new();
    for row in TABLE {
        assert!(ids.insert(row.id), "{} twice", row.id);
        let carbon = row.nitrogen_fraction.value * row.c_to_n.value / (1.0 - row.ash_fraction.value);
        // Carbon of organic matter: (100 − ash) / 1.8 (Gotaas 1956), ± 2-10 %; here wider, for fats and lignin.
        assert!((0.40..=0.60).contains(&carbon), "{}: carbon {carbon:.2} of volatile solids", row.id);
        let own = Feedstock::from(row);
        assert!(own.fast_fraction + own.slow_fraction <= 1.0, "{}", row.id);
        assert!((0.0..0.98).contains(&own.moisture_fraction) && own.bulk_density_kg_m3 > 20.0, "{}", row.id);
        assert_eq!(own.sources.len(), 7);
        assert!(own.sources.iter().all(|source| source.citation.len() > 10 && !source.checked.is_empty()));
    }
}
