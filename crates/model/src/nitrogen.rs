//! Nitrogen: how much of what breakdown sets free leaves as ammonia.

use crate::parameters::Parameters;

/// Share of released nitrogen that is lost, falling with the mix's carbon to nitrogen ratio.
///
/// Logistic in C:N, an estimate: 0.4 at 15 and 0.1 at 25. Feedlot manure at a C:N near 15 lost up to 40 % of its
/// nitrogen with up to 60 % of its carbon (University of Nebraska NebGuide G1315, read in a summary).
#[must_use]
pub fn ammonia_share(p: &Parameters, c_to_n: f64) -> f64 {
    p.ammonia_share / (1.0 + ((c_to_n - p.ammonia_c_to_n) / p.ammonia_width).exp())
}

/// Slope of that share over C:N, where it is `share`.
#[must_use]
pub fn ammonia_slope(p: &Parameters, share: f64) -> f64 {
    -share * (1.0 - share / p.ammonia_share) / p.ammonia_width
}
