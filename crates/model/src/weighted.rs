//! Quantiles and means of a weighted ensemble.

use crate::estimate::Spread;

/// The value below which `share` of the weight lies; `f64::INFINITY` counts as later than every date.
///
/// Between members the quantile is interpolated on the cumulative weight at their middles, so that a single heavy
/// member does not make it jump.
#[must_use]
pub fn quantile(values: &[(f64, f64)], share: f64) -> f64 {
    quantile_of_sorted(&sorted(values), share)
}

/// Values that carry weight, in order.
fn sorted(values: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut sorted: Vec<(f64, f64)> = values.iter().copied().filter(|(_, weight)| *weight > 0.0).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    sorted
}

fn quantile_of_sorted(sorted: &[(f64, f64)], share: f64) -> f64 {
    let total: f64 = sorted.iter().map(|(_, weight)| weight).sum();
    let target = share * total;
    let mut before = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for &(value, weight) in sorted {
        let middle = before + weight / 2.0;
        if middle >= target {
            return match last {
                Some((position, lower)) if value.is_finite() => {
                    lower + (value - lower) * (target - position) / (middle - position)
                }
                _ => value,
            };
        }
        last = Some((middle, value));
        before += weight;
    }
    last.map_or(f64::NAN, |(_, value)| value)
}

/// P10, P50 and P90.
#[must_use]
pub fn spread(values: &[(f64, f64)]) -> Spread {
    let sorted = sorted(values);
    let quantile = |share| quantile_of_sorted(&sorted, share);
    Spread { p10: quantile(0.1), p50: quantile(0.5), p90: quantile(0.9) }
}

/// Mean.
#[must_use]
pub fn mean(values: &[(f64, f64)]) -> f64 {
    let total: f64 = values.iter().map(|(_, weight)| weight).sum();
    values.iter().map(|(value, weight)| value * weight).sum::<f64>() / total
}

/// Weights of log plausibilities, and how many carry them (Kish's effective size, from memory); where those would be fewer
/// than `least`, weights are evened out until as many do.
#[must_use]
pub fn evened(logs: &[f64], least: f64) -> (Vec<f64>, f64) {
    let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = |power: f64| -> Vec<f64> {
        let raw: Vec<f64> = logs.iter().map(|log| ((log - best) * power).exp()).collect();
        let total: f64 = raw.iter().sum();
        raw.into_iter().map(|weight| weight / total).collect()
    };
    let carrying = |weights: &[f64]| 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
    let plain = weights(1.0);
    let found = carrying(&plain);
    if found >= least {
        return (plain, found);
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if carrying(&weights(middle)) < least {
            high = middle;
        } else {
            low = middle;
        }
    }
    (weights(low), found)
}

/// Standard normal quantile of `share` in 0..1.
///
/// Acklam's rational approximation, relative error under 1.2e-9 (P. J. Acklam 2003, An algorithm for computing the
/// inverse normal cumulative distribution function; coefficients from memory, held by the test below).
#[must_use]
pub fn normal_quantile(share: f64) -> f64 {
    const A: [f64; 6] = [
        -3.969_683_028_665_376e1,
        2.209_460_984_245_205e2,
        -2.759_285_104_469_687e2,
        1.383_577_518_672_69e2,
        -3.066_479_806_614_716e1,
        2.506_628_277_459_239,
    ];
    const B: [f64; 5] = [
        -5.447_609_879_822_406e1,
        1.615_858_368_580_409e2,
        -1.556_989_798_598_866e2,
        6.680_131_188_771_972e1,
        -1.328_068_155_288_572e1,
    ];
    const C: [f64; 6] = [
        -7.784_894_002_430_293e-3,
        -3.223_964_580_411_365e-1,
        -2.400_758_277_161_838,
        -2.549_732_539_343_734,
        4.374_664_141_464_968,
        2.938_163_982_698_783,
    ];
    const D: [f64; 4] =
        [7.784_695_709_041_462e-3, 3.224_671_290_700_398e-1, 2.445_134_137_142_996, 3.754_408_661_907_416];
    let polynomial = |coefficients: &[f64], x: f64| coefficients.iter().fold(0.0, |sum, c| sum * x + c);
    let tail = |share: f64| {
        let q = (-2.0 * share.ln()).sqrt();
        polynomial(&C, q) / (polynomial(&D, q) * q + 1.0)
    };
    if share < 0.02425 {
        tail(share)
    } else if share > 1.0 - 0.02425 {
        -tail(1.0 - share)
    } else {
        let q = share - 0.5;
        let r = q * q;
        polynomial(&A, r) * q / (polynomial(&B, r) * r + 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_weights_give_the_textbook_median_and_heavy_ones_pull_it() {
        let even: Vec<_> = (1..=9).map(|v| (f64::from(v), 1.0)).collect();
        assert!((quantile(&even, 0.5) - 5.0).abs() < 1e-12);
        let heavy = [(1.0, 1.0), (2.0, 1.0), (10.0, 8.0)];
        assert!(quantile(&heavy, 0.5) > 8.0);
        assert_eq!(quantile(&[(1.0, 1.0), (f64::INFINITY, 3.0)], 0.5), f64::INFINITY);
        assert_eq!(mean(&[(1.0, 1.0), (3.0, 3.0)]), 2.5);
    }

    /// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, table 26.5 (values from memory).
    #[test]
    fn normal_quantiles_are_the_tabulated_ones() {
        for (share, z) in [(0.5, 0.0), (0.9, 1.281_551_6), (0.975, 1.959_963_98), (0.01, -2.326_347_87)] {
            assert!((normal_quantile(share) - z).abs() < 1e-7, "{share}");
        }
    }
}
