//! Units that a column's header or a cell may say, and what they are in SI.

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Told in °C.
    Temperature,
    /// Told in kg.
    Mass,
    /// Told in m³.
    Volume,
    /// Told in barrow loads.
    Barrows,
    /// Told in m.
    Length,
    /// Told as a share of 1.
    Share,
}

impl Quantity {
    /// The unit that it is told in.
    #[must_use]
    pub fn si(self) -> &'static str {
        match self {
            Self::Temperature => "°C",
            Self::Mass => "kg",
            Self::Volume => "m³",
            Self::Barrows => "barrow loads",
            Self::Length => "m",
            Self::Share => "of 1",
        }
    }
}

/// A unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// °C.
    Celsius,
    /// °F.
    Fahrenheit,
    /// kg.
    Kilogram,
    /// 1000 kg.
    Tonne,
    /// The avoirdupois pound, 0.453 592 37 kg.
    Pound,
    /// m³.
    CubicMetre,
    /// 0.001 m³.
    Litre,
    /// (0.9144 m)³.
    CubicYard,
    /// A barrow load, of the farm's own size.
    Barrow,
    /// m.
    Metre,
    /// 0.01 m.
    Centimetre,
    /// 0.0254 m.
    Inch,
    /// A hundredth.
    Percent,
    /// A share of 1.
    Fraction,
}

impl Unit {
    /// The unit that a word in lower case names, without its degree sign.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Some(match word {
            "c" | "celsius" | "centigrade" => Self::Celsius,
            "f" | "fahrenheit" => Self::Fahrenheit,
            "kg" | "kgs" | "kilo" | "kilos" | "kilogram" | "kilograms" => Self::Kilogram,
            "t" | "tonne" | "tonnes" => Self::Tonne,
            "lb" | "lbs" | "pound" | "pounds" => Self::Pound,
            "m3" | "cubic metre" | "cubic metres" | "cubic meter" | "cubic meters" => Self::CubicMetre,
            "l" | "litre" | "litres" | "liter" | "liters" => Self::Litre,
            "yd3" | "cubic yard" | "cubic yards" => Self::CubicYard,
            "barrow" | "barrows" | "barrow load" | "barrow loads" | "barrowload" | "barrowloads"
            | "barrowful" | "barrowfuls" => Self::Barrow,
            "m" | "metre" | "metres" | "meter" | "meters" => Self::Metre,
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Self::Centimetre,
            "in" | "inch" | "inches" => Self::Inch,
            "%" | "percent" | "pct" => Self::Percent,
            "fraction" => Self::Fraction,
            _ => return None,
        })
    }

    /// What it measures.
    #[must_use]
    pub fn quantity(self) -> Quantity {
        match self {
            Self::Celsius | Self::Fahrenheit => Quantity::Temperature,
            Self::Kilogram | Self::Tonne | Self::Pound => Quantity::Mass,
            Self::CubicMetre | Self::Litre | Self::CubicYard => Quantity::Volume,
            Self::Barrow => Quantity::Barrows,
            Self::Metre | Self::Centimetre | Self::Inch => Quantity::Length,
            Self::Percent | Self::Fraction => Quantity::Share,
        }
    }

    /// A value of this unit in SI, to a billionth, so that what is round in its own unit comes out round.
    #[must_use]
    pub fn to_si(self, value: f64) -> f64 {
        match self {
            Self::Celsius
            | Self::Kilogram
            | Self::CubicMetre
            | Self::Barrow
            | Self::Metre
            | Self::Fraction => value,
            Self::Fahrenheit => billionth((value - 32.0) / 1.8),
            Self::Tonne => value * 1000.0,
            Self::Pound => billionth(value * 0.453_592_37),
            Self::Litre => value / 1000.0,
            Self::CubicYard => billionth(value * 0.764_554_857_984),
            Self::Centimetre | Self::Percent => value / 100.0,
            Self::Inch => billionth(value * 0.0254),
        }
    }

    /// Whether a value of this unit is the same number in SI.
    #[must_use]
    pub fn is_si(self) -> bool {
        self.to_si(1.0) == 1.0
    }
}

/// Rounded to a billionth.
pub(super) fn billionth(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_come_out_in_si() {
        // 131 °F is the 55 °C of 40 CFR 503's process to further reduce pathogens (from memory); 1 lb and 1 in by their
        // international definitions of 1959 (from memory); 1 yd = 0.9144 m, cubed (computed).
        for (unit, value, si) in [
            (Unit::Fahrenheit, 131.0, 55.0),
            (Unit::Celsius, 55.0, 55.0),
            (Unit::Pound, 1.0, 0.453_592_37),
            (Unit::Inch, 20.0, 0.508),
            (Unit::CubicYard, 1.0, 0.764_554_858),
            (Unit::Litre, 250.0, 0.25),
            (Unit::Centimetre, 29.0, 0.29),
            (Unit::Percent, 57.0, 0.57),
            (Unit::Tonne, 1.25, 1250.0),
        ] {
            assert_eq!(unit.to_si(value), si, "{unit:?}");
        }
    }
}
