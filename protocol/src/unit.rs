//! The units that SAE J1979 uses, as a type.

use std::fmt;

/// The unit of a decoded number. Metric, as in the standard; showing other units is the program's
/// affair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Unit {
    /// A pure number, a ratio or a count.
    None,
    /// Percent.
    Percent,
    /// Degrees Celsius.
    DegreeCelsius,
    /// Kilopascal; whether absolute or gauge is said by the quantity's name.
    Kilopascal,
    /// Revolutions per minute.
    RevolutionPerMinute,
    /// Kilometres per hour.
    KilometrePerHour,
    /// Degrees of crank angle.
    DegreeCrank,
    /// Grams per second.
    GramPerSecond,
    /// Volts.
    Volt,
    /// Seconds.
    Second,
    /// Kilometres.
    Kilometre,
    /// Milliamperes.
    Milliampere,
    /// Minutes.
    Minute,
    /// Pascal.
    Pascal,
    /// Litres per hour.
    LitrePerHour,
    /// Newton metres.
    NewtonMetre,
    /// Kilograms per hour.
    KilogramPerHour,
    /// Milligrams per stroke.
    MilligramPerStroke,
    /// Parts per million.
    PartPerMillion,
    /// Millivolts.
    Millivolt,
    /// Amperes.
    Ampere,
    /// Ohms.
    Ohm,
    /// Milliseconds.
    Millisecond,
    /// Hertz.
    Hertz,
    /// Grams.
    Gram,
    /// A plain count of events.
    Count,
    /// Litres.
    Litre,
    /// Microseconds.
    Microsecond,
    /// Milligrams per cubic metre.
    MilligramPerCubicMetre,
    /// Degrees of any other angle.
    Degree,
    /// Milliohms.
    Milliohm,
    /// Kiloohms.
    Kiloohm,
    /// Millihertz.
    Millihertz,
    /// Kilohertz.
    Kilohertz,
    /// Millivolts per millisecond.
    MillivoltPerMillisecond,
    /// Millivolts per second.
    MillivoltPerSecond,
    /// Pascal per second.
    PascalPerSecond,
    /// Grams per cylinder.
    GramPerCylinder,
    /// Inches.
    Inch,
    /// Microamperes.
    Microampere,
}

impl Unit {
    /// The unit's symbol as it is printed, empty for a pure number.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::None => "",
            Self::Percent => "%",
            Self::DegreeCelsius => "°C",
            Self::Kilopascal => "kPa",
            Self::RevolutionPerMinute => "rpm",
            Self::KilometrePerHour => "km/h",
            Self::DegreeCrank => "°",
            Self::GramPerSecond => "g/s",
            Self::Volt => "V",
            Self::Second => "s",
            Self::Kilometre => "km",
            Self::Milliampere => "mA",
            Self::Minute => "min",
            Self::Pascal => "Pa",
            Self::LitrePerHour => "L/h",
            Self::NewtonMetre => "N m",
            Self::KilogramPerHour => "kg/h",
            Self::MilligramPerStroke => "mg/stroke",
            Self::PartPerMillion => "ppm",
            Self::Millivolt => "mV",
            Self::Ampere => "A",
            Self::Ohm => "Ω",
            Self::Millisecond => "ms",
            Self::Hertz => "Hz",
            Self::Gram => "g",
            Self::Count => "counts",
            Self::Litre => "L",
            Self::Microsecond => "µs",
            Self::MilligramPerCubicMetre => "mg/m³",
            Self::Degree => "°",
            Self::Milliohm => "mΩ",
            Self::Kiloohm => "kΩ",
            Self::Millihertz => "mHz",
            Self::Kilohertz => "kHz",
            Self::MillivoltPerMillisecond => "mV/ms",
            Self::MillivoltPerSecond => "mV/s",
            Self::PascalPerSecond => "Pa/s",
            Self::GramPerCylinder => "g/cyl",
            Self::Inch => "in",
            Self::Microampere => "µA",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
