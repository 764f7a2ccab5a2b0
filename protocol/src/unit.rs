//! The units that SAE J1979 uses, as a type.

use std::fmt;

/// The unit of a decoded number. Metric, as in the standard; showing other units is the program's affair.
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
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
