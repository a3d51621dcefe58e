//! Numbers as they are told: no finer than anyone can use, and the same in every form.

use baycast_service::readiness::to_litre;

/// A quantity and how finely it is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quantity {
    /// m³, to the litre.
    VolumeM3(f64),
    /// °C, to a tenth.
    TemperatureC(f64),
    /// 0 to 1, to a thousandth.
    Fraction(f64),
}

impl Quantity {
    /// The rounded value; there is no negative zero among them.
    pub fn value(self) -> f64 {
        let rounded = match self {
            Self::VolumeM3(value) => to_litre(value),
            Self::TemperatureC(value) => (value * 10.0).round() / 10.0,
            Self::Fraction(value) => (value * 1000.0).round() / 1000.0,
        };
        rounded + 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_and_without_a_negative_zero() {
        assert_eq!(Quantity::VolumeM3(1.449_9).value(), 1.45);
        assert_eq!(Quantity::TemperatureC(-0.04).value().to_string(), "0");
        assert_eq!(Quantity::Fraction(0.540_6).value().to_string(), "0.541");
    }
}
