//! What is expected beside what is needed: the range as a bar, its middle as a line in it, the need as a mark across.

use std::fmt::Write;

use baycast_model::estimate::Spread;

use super::{Short, escaped};

/// Height of the drawing, and where the bar is in it.
const HEIGHT: f64 = 26.0;
const BAR: (f64, f64) = (7.0, 12.0);

/// The drawing; `told` is what it says in words.
pub fn drawing(needed_m3: f64, expected_m3: &Spread, told: &str) -> String {
    let whole = needed_m3.max(expected_m3.p90).max(1e-9);
    let at = |volume_m3: f64| Short((98.0 * volume_m3 / whole).clamp(0.0, 98.0));
    let Spread { p10, p50, p90 } = *expected_m3;
    let (top, tall) = BAR;
    let mut out = String::with_capacity(500);
    let _ = write!(
        out,
        r#"<svg class="supply" width="100%" height="{HEIGHT}" role="img" aria-label="{}">"#,
        escaped(told)
    );
    let _ = write!(
        out,
        r#"<line class="nothing" x1="{}%" x2="98%" y1="{middle}" y2="{middle}"/><rect class="there" y="{top}" width="{}%" height="{tall}"/>"#,
        at(p90),
        at(p10),
        middle = top + tall / 2.0,
    );
    let _ = write!(
        out,
        r#"<rect class="perhaps" x="{}%" y="{top}" width="{}%" height="{tall}"/>"#,
        at(p10),
        at(p90 - p10),
    );
    let _ = write!(
        out,
        r#"<line class="in-the-middle" x1="{x}%" x2="{x}%" y1="{top}" y2="{}"/><line class="need" x1="{need}%" x2="{need}%" y2="{HEIGHT}"/></svg>"#,
        top + tall,
        x = at(p50),
        need = at(needed_m3),
    );
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_and_the_need_are_on_one_scale() {
        let drawn = drawing(1.0, &Spread { p10: 0.25, p50: 0.5, p90: 0.75 }, "1 <m³>");
        // 98 % of the width is the larger of the two.
        assert!(drawn.contains(r#"class="there" y="7" width="24.5%""#), "{drawn}");
        assert!(drawn.contains(r#"class="perhaps" x="24.5%" y="7" width="49%""#), "{drawn}");
        assert!(drawn.contains(r#"class="in-the-middle" x1="49%""#), "{drawn}");
        assert!(drawn.contains(r#"class="need" x1="98%""#), "{drawn}");
        assert!(drawn.contains("1 &lt;m³&gt;"), "{drawn}");
        let nothing = drawing(0.0, &Spread { p10: 0.0, p50: 0.0, p90: 0.0 }, "");
        assert!(!nothing.contains("NaN"), "{nothing}");
    }
}
