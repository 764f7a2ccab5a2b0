//! Units as loggers write them, and the way from one to another.
//!
//! Factors are exact by definition (international pound, inch, mile; standard gravity) or rounded in the last place;
//! the inch of mercury is the conventional one (at 0 °C).

use pintle_protocol::Unit;

/// What is measured: only units of one dimension turn into each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Dimension {
    Temperature,
    Pressure,
    Speed,
    Rotation,
    MassFlow,
    VolumeFlow,
    Voltage,
    Current,
    Time,
    Length,
    Angle,
    Share,
    Torque,
    Number,
}

/// A unit: `base = value × scale + offset` in its dimension's base unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    dimension: Dimension,
    scale: f64,
    offset: f64,
}

use Dimension::{
    Angle, Current, Length, MassFlow, Number, Pressure, Rotation, Share, Speed, Temperature, Time,
    Torque, Voltage, VolumeFlow,
};

/// Spellings in lower case without spaces, with scale and offset to the dimension's base unit.
const MEASURES: &[(&[&str], Dimension, f64, f64)] = &[
    (
        &[
            "°c",
            "degc",
            "celsius",
            "c",
            "degreesc",
            "degreecelsius",
            "ºc",
        ],
        Temperature,
        1.0,
        0.0,
    ),
    (
        &["°f", "degf", "fahrenheit", "f", "degreesf", "ºf"],
        Temperature,
        5.0 / 9.0,
        -160.0 / 9.0,
    ),
    (&["k", "kelvin"], Temperature, 1.0, -273.15),
    (&["kpa", "kpaabs", "kpaa"], Pressure, 1.0, 0.0),
    (&["pa"], Pressure, 0.001, 0.0),
    (&["hpa", "mbar"], Pressure, 0.1, 0.0),
    (&["mpa"], Pressure, 1000.0, 0.0),
    (&["bar"], Pressure, 100.0, 0.0),
    (&["psi", "psia"], Pressure, 6.894_757_293, 0.0),
    (&["inhg"], Pressure, 3.386_389, 0.0),
    (&["mmhg"], Pressure, 0.133_322_4, 0.0),
    (&["inh2o"], Pressure, 0.249_088_9, 0.0),
    (&["km/h", "kph", "kmh", "km/hr", "kmph"], Speed, 1.0, 0.0),
    (&["mph", "mi/h", "miles/h"], Speed, 1.609_344, 0.0),
    (&["m/s"], Speed, 3.6, 0.0),
    (
        &["rpm", "1/min", "/min", "r/min", "rev/min", "min-1"],
        Rotation,
        1.0,
        0.0,
    ),
    (&["g/s", "g/sec", "gm/s", "grams/sec"], MassFlow, 1.0, 0.0),
    (&["kg/h", "kg/hr"], MassFlow, 1.0 / 3.6, 0.0),
    (&["lb/min", "lbs/min"], MassFlow, 7.559_872_833, 0.0),
    (&["l/h", "l/hr", "lph"], VolumeFlow, 1.0, 0.0),
    (&["gal/h", "gal/hr", "gph"], VolumeFlow, 3.785_411_784, 0.0),
    (&["v", "volt", "volts"], Voltage, 1.0, 0.0),
    (&["mv"], Voltage, 0.001, 0.0),
    (&["ma"], Current, 1.0, 0.0),
    (&["a"], Current, 1000.0, 0.0),
    (&["s", "sec", "secs", "second", "seconds"], Time, 1.0, 0.0),
    (
        &["ms", "msec", "millisecond", "milliseconds"],
        Time,
        0.001,
        0.0,
    ),
    (
        &["us", "µs", "μs", "usec", "microseconds"],
        Time,
        0.000_001,
        0.0,
    ),
    (&["min", "mins", "minute", "minutes"], Time, 60.0, 0.0),
    (&["h", "hr", "hour", "hours"], Time, 3600.0, 0.0),
    (
        &["km", "kilometre", "kilometres", "kilometer", "kilometers"],
        Length,
        1.0,
        0.0,
    ),
    (&["mi", "mile", "miles"], Length, 1.609_344, 0.0),
    (&["m", "metre", "metres"], Length, 0.001, 0.0),
    (
        &["°", "deg", "degree", "degrees", "degca", "°ca"],
        Angle,
        1.0,
        0.0,
    ),
    (&["%", "percent", "pct"], Share, 1.0, 0.0),
    (&["nm", "n·m", "n.m"], Torque, 1.0, 0.0),
    (
        &["lbft", "lb-ft", "ftlb", "ft-lb"],
        Torque,
        1.355_817_948,
        0.0,
    ),
    (
        &["", "ratio", "count", "counts", "lambda"],
        Number,
        1.0,
        0.0,
    ),
];

impl Measure {
    /// The unit that a word says, however it is capitalised; `None` for words that are no unit.
    pub fn of(word: &str) -> Option<Self> {
        let plain: String = word
            .chars()
            .filter(|c| !c.is_whitespace())
            .flat_map(char::to_lowercase)
            .collect();
        let (_, dimension, scale, offset) = MEASURES
            .iter()
            .find(|(spellings, ..)| spellings.contains(&plain.as_str()))?;
        Some(Self {
            dimension: *dimension,
            scale: *scale,
            offset: *offset,
        })
    }

    /// The unit of a standard quantity.
    pub fn of_unit(unit: Unit) -> Option<Self> {
        Self::of(unit.symbol())
    }

    /// Whether a number in this unit can be given in the other one.
    pub fn fits(self, other: Self) -> bool {
        self.dimension == other.dimension
    }

    /// Turns a number in this unit into one in `other`, which must fit.
    pub fn convert(self, value: f64, other: Self) -> f64 {
        if self == other {
            value
        } else {
            (value * self.scale + self.offset - other.offset) / other.scale
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn convert(value: f64, from: &str, to: Unit) -> f64 {
        let (from, to) = (Measure::of(from).unwrap(), Measure::of_unit(to).unwrap());
        assert!(from.fits(to));
        from.convert(value, to)
    }

    /// Values by definition: freezing and boiling water, the international mile, the standard atmosphere (101.325 kPa
    /// = 14.6959 psi = 29.9213 inHg = 760 mmHg), the pound 453.592 37 g.
    #[test]
    fn conversions_agree_with_the_definitions() {
        for (value, from, to, expected) in [
            (32.0, "degF", Unit::DegreeCelsius, 0.0),
            (212.0, "°F", Unit::DegreeCelsius, 100.0),
            (273.15, "K", Unit::DegreeCelsius, 0.0),
            (60.0, "mph", Unit::KilometrePerHour, 96.560_64),
            (14.695_949, "psi", Unit::Kilopascal, 101.325),
            (29.921_26, "inHg", Unit::Kilopascal, 101.325),
            (760.0, "mmHg", Unit::Kilopascal, 101.325),
            (1.0, "bar", Unit::Pascal, 100_000.0),
            (1.0, "lb/min", Unit::GramPerSecond, 453.592_37 / 60.0),
            (36.0, "kg/h", Unit::GramPerSecond, 10.0),
            (2.0, "h", Unit::Minute, 120.0),
            (450.0, "mV", Unit::Volt, 0.45),
            (12.0, "%", Unit::Percent, 12.0),
        ] {
            let found = convert(value, from, to);
            assert!(
                (found - expected).abs() <= 2e-6 * expected.abs().max(1.0),
                "{value} {from}: {found}"
            );
        }
    }

    #[test]
    fn unlike_units_do_not_fit() {
        let fits = |a, b| Measure::of(a).unwrap().fits(Measure::of(b).unwrap());
        assert!(!fits("psi", "%"));
        assert!(!fits("rpm", "km/h"));
        assert!(Measure::of("furlong").is_none());
    }
}
