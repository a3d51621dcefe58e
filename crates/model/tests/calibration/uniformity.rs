//! Pearson's test of counts against what they should be.

/// The statistic and the probability of one as large where the expectation holds.
///
/// Pearson 1900: `Σ (n − e)²/e`, with one degree of freedom less than there are classes.
pub fn chi_square(counts: &[f64], expected: &[f64]) -> (f64, f64) {
    let statistic = counts.iter().zip(expected).map(|(n, e)| (n - e).powi(2) / e).sum();
    (statistic, upper_tail((counts.len() - 1) as f64 / 2.0, statistic / 2.0))
}

/// Upper regularised incomplete gamma function `Q(a, x)` by its power series below `a + 1` and its continued fraction above
/// (Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 6.5.29 and 6.5.31, from memory).
fn upper_tail(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    let front = (a * x.ln() - x - log_gamma_of_half(a)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > 1e-16 * sum {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return 1.0 - front * sum;
    }
    // Lentz's evaluation of the even part.
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (1e300, 1.0 / b);
    let mut fraction = d;
    for i in 1..500 {
        let step = -f64::from(i) * (f64::from(i) - a);
        b += 2.0;
        d = 1.0 / (step * d + b);
        c = b + step / c;
        fraction *= d * c;
        if (d * c - 1.0).abs() < 1e-15 {
            break;
        }
    }
    front * fraction
}

/// ln Γ of a positive multiple of one half, by `Γ(a + 1) = a Γ(a)` from Γ(1) = 1 and Γ(1/2) = √π.
fn log_gamma_of_half(a: f64) -> f64 {
    let whole = a.fract() == 0.0;
    let (mut log, mut at) = if whole { (0.0, 1.0) } else { (std::f64::consts::PI.sqrt().ln(), 0.5) };
    while at < a {
        log += f64::ln(at);
        at += 1.0;
    }
    log
}

/// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, table 26.8: points that chi-square exceeds with the
/// probability given (values from memory).
#[test]
fn chi_square_tails_are_the_tabulated_ones() {
    for (freedom, point, probability) in [
        (1.0, 3.841, 0.05),
        (2.0, 5.991, 0.05),
        (3.0, 7.815, 0.05),
        (3.0, 11.345, 0.01),
        (9.0, 16.919, 0.05),
        (9.0, 4.168, 0.9),
        (19.0, 30.144, 0.05),
        (19.0, 43.820, 0.001),
    ] {
        let tail = upper_tail(freedom / 2.0, point / 2.0);
        assert!((tail / probability - 1.0).abs() < 2e-3, "{freedom} {point}: {tail}");
    }
}
