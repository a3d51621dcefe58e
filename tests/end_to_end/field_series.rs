//! Published temperature series, as sheets through `baycast estimate` (sources in `tests/series/README.md`).

use crate::published::{SERIES, rms, warmest};

#[test]
fn published_series_run_as_they_are() {
    for series in &SERIES {
        let name = series.name;
        let field = series.readings();
        let last = field.len() - 1;
        // Without its readings: a forecast from the materials alone.
        let (before, after) = (series.estimate(0, last), series.estimate(field.len(), last));

        assert_eq!(before["thermal_time"]["measured_fraction"], 0.0);
        let measured = after["thermal_time"]["measured_fraction"].as_f64().expect("a number");
        assert!(measured > 0.8, "{name}: readings cover {measured:.2}");
        let (peak_c, until) = (warmest(&field).temperature_c, field[last].day);
        let [alone, with] = [before, after].map(|estimate| {
            let course = series.course(&estimate);
            let off: Vec<f64> =
                field.iter().map(|reading| course.at(reading.day)[1] - reading.temperature_c).collect();
            let worst = off.iter().fold(0.0, |worst: f64, error| worst.max(error.abs()));
            (course.peak(until).temperature_c, rms(&off), worst)
        });
        println!(
            "{name}: field peak {peak_c:.1} °C; from materials alone peak {:.1}, off by {:.1} rms, {:.1} at worst; \
             with readings peak {:.1}, off by {:.1} rms, {:.1} at worst",
            alone.0, alone.1, alone.2, with.0, with.1, with.2
        );
        assert!(with.1 < alone.1, "{name}: readings must bring the estimate closer");
    }
}
