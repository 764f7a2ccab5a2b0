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
    /// Kiloohms.
    Kiloohm,
    /// Milliseconds.
    Millisecond,
    /// Hertz.
    Hertz,
    /// Microfarads.
    Microfarad,
    /// Grams.
    Gram,
    /// A plain count of events.
    Count,
    /// Kilopascal per second.
    KilopascalPerSecond,
    /// Grams per cylinder.
    GramPerCylinder,
    /// Kilowatts.
    Kilowatt,
    /// Millimetres per second.
    MillimetrePerSecond,
    /// Micrometres.
    Micrometre,
    /// Millimetres.
    Millimetre,
    /// Volts per second.
    VoltPerSecond,
    /// Milliampere seconds.
    MilliampereSecond,
    /// Litres.
    Litre,
    /// Percent per second.
    PercentPerSecond,
    /// Kilograms per second.
    KilogramPerSecond,
    /// Milligrams per second.
    MilligramPerSecond,
    /// Hertz per second.
    HertzPerSecond,
    /// Microseconds.
    MicroSecond,
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
            Self::Kiloohm => "kΩ",
            Self::Millisecond => "ms",
            Self::Hertz => "Hz",
            Self::Microfarad => "µF",
            Self::Gram => "g",
            Self::Count => "counts",
            Self::KilopascalPerSecond => "kPa/s",
            Self::GramPerCylinder => "g/cyl",
            Self::Kilowatt => "kW",
            Self::MillimetrePerSecond => "mm/s",
            Self::Micrometre => "µm",
            Self::Millimetre => "mm",
            Self::VoltPerSecond => "V/s",
            Self::MilliampereSecond => "mA s",
            Self::Litre => "L",
            Self::PercentPerSecond => "%/s",
            Self::KilogramPerSecond => "kg/s",
            Self::MilligramPerSecond => "mg/s",
            Self::HertzPerSecond => "Hz/s",
            Self::MicroSecond => "µs",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
