//! PIDs 80 to E0 (SAE J1979-DA; from memory of the published tables).
//!
//! Where the exact layout is not known for sure the row says so with `untabulated`: it has a name
//! and lengths only, and its bytes stay raw.

use super::super::codes;
use super::super::scaling::{code, if_bit, if_bit_unless, in_bits, linear};
use super::shape::{exhaust, percent, pressure, word};
use super::{Row, scale};
use crate::unit::Unit::{
    DegreeCelsius, GramPerSecond, KilogramPerHour, Kilometre, LitrePerHour, MilligramPerCubicMetre,
    MilligramPerStroke, Minute, None, PartPerMillion, Percent, Second,
};

/// Factor and offset of a torque, % of the reference torque (SAE J1979).
const TORQUE: (f64, f64) = (1.0, -125.0);

/// Oxygen concentration a count, % (SAE J1979, PID 8C).
const OXYGEN: f64 = 100.0 / 65536.0;

/// Lambda a count (SAE J1979, PID 8C).
const LAMBDA_WIDE: f64 = 8.0 / 65536.0;

/// Layout not tabulated: name and lengths alone.
const fn untabulated(pid: u8, name: &'static str, lengths: &'static [u8]) -> Row {
    Row::new(pid, name, lengths, &[])
}

/// Parts per million, unless the upper half of the first byte says that there is no reading now.
const fn nox(bit: u8, name: &'static str, at: u8) -> super::Quantity {
    let quantity = linear(name, PartPerMillion, (at, 2), scale::ONE);
    if_bit_unless(bit, bit + 4, quantity)
}

// One row a line, as far as it fits.
#[rustfmt::skip]
pub(super) const ROWS: &[Row] = &[
    Row::mask(0x80, "supported parameters 81 to A0"),
    untabulated(0x81, "run times of auxiliary emission devices 1 to 5", &[21, 41]),
    untabulated(0x82, "run times of auxiliary emission devices 6 to 10", &[21, 41]),
    Row::new(0x83, "NOx sensors", &[5, 9], &[
        nox(0, "NOx concentration 1", 1),
        nox(1, "NOx concentration 2", 3),
        nox(2, "NOx concentration 3", 5),
        nox(3, "NOx concentration 4", 7),
    ]),
    measured!(0x84, "manifold surface temperature", DegreeCelsius, 1, scale::CELSIUS),
    Row::new(0x85, "NOx reagent system", &[10], &[
        word(0, "average reagent consumption", LitrePerHour, 1, 0.005),
        word(1, "average demanded reagent consumption", LitrePerHour, 3, 0.005),
        percent(2, "reagent level", 5),
        if_bit(3, linear("run time with NOx warning", Second, (6, 4), scale::ONE)),
    ]),
    Row::new(0x86, "particulate matter sensors", &[5], &[
        word(0, "particulate matter bank 1", MilligramPerCubicMetre, 1, 0.0125),
        word(1, "particulate matter bank 2", MilligramPerCubicMetre, 3, 0.0125),
    ]),
    Row::new(0x87, "intake manifold pressure sensors", &[5], &[
        pressure(0, "intake manifold pressure sensor A", 1, 1.0 / 32.0),
        pressure(1, "intake manifold pressure sensor B", 3, 1.0 / 32.0),
    ]),
    untabulated(0x88, "reagent inducement system", &[13]),
    untabulated(0x89, "run times of auxiliary emission devices 11 to 15", &[41]),
    untabulated(0x8A, "run times of auxiliary emission devices 16 to 20", &[41]),
    Row::new(0x8B, "diesel aftertreatment", &[7], &[
        if_bit(0, in_bits(1, 0, code("particulate filter regeneration", (1, 1), codes::yes_no))),
        percent(4, "trigger of the next regeneration", 2),
        if_bit(5, linear("time between regenerations", Minute, (3, 2), scale::ONE)),
        if_bit(6, linear("distance between regenerations", Kilometre, (5, 2), scale::ONE)),
    ]),
    Row::new(0x8C, "wide-range oxygen sensors", &[17], &[
        word(0, "oxygen bank 1 sensor 1", Percent, 1, OXYGEN),
        word(1, "oxygen bank 1 sensor 2", Percent, 3, OXYGEN),
        word(2, "oxygen bank 2 sensor 1", Percent, 5, OXYGEN),
        word(3, "oxygen bank 2 sensor 2", Percent, 7, OXYGEN),
        word(4, "lambda bank 1 sensor 1", None, 9, LAMBDA_WIDE),
        word(5, "lambda bank 1 sensor 2", None, 11, LAMBDA_WIDE),
        word(6, "lambda bank 2 sensor 1", None, 13, LAMBDA_WIDE),
        word(7, "lambda bank 2 sensor 2", None, 15, LAMBDA_WIDE),
    ]),
    measured!(0x8D, "absolute throttle position G", Percent, 1, scale::PERCENT),
    measured!(0x8E, "engine friction torque", Percent, 1, TORQUE),
    untabulated(0x8F, "particulate matter sensor output", &[5, 7]),
    untabulated(0x90, "worldwide harmonised vehicle information", &[3]),
    untabulated(0x91, "worldwide harmonised controller information", &[5]),
    untabulated(0x92, "fuel system control", &[2]),
    untabulated(0x93, "worldwide harmonised counters", &[3]),
    untabulated(0x94, "NOx warning and inducement", &[12]),
    Row::new(0x98, "exhaust gas temperatures bank 1, further sensors", &[9], &[
        exhaust(0, "exhaust gas temperature bank 1 sensor 5", 1),
        exhaust(1, "exhaust gas temperature bank 1 sensor 6", 3),
        exhaust(2, "exhaust gas temperature bank 1 sensor 7", 5),
        exhaust(3, "exhaust gas temperature bank 1 sensor 8", 7),
    ]),
    Row::new(0x99, "exhaust gas temperatures bank 2, further sensors", &[9], &[
        exhaust(0, "exhaust gas temperature bank 2 sensor 5", 1),
        exhaust(1, "exhaust gas temperature bank 2 sensor 6", 3),
        exhaust(2, "exhaust gas temperature bank 2 sensor 7", 5),
        exhaust(3, "exhaust gas temperature bank 2 sensor 8", 7),
    ]),
    untabulated(0x9A, "hybrid or electric system", &[6]),
    untabulated(0x9B, "diesel exhaust fluid sensor", &[4]),
    untabulated(0x9C, "oxygen sensors, further data", &[17]),
    Row::new(0x9D, "fuel rate by mass", &[4], &[
        linear("engine fuel rate by mass", GramPerSecond, (0, 2), (0.02, 0.0)),
        linear("vehicle fuel rate by mass", GramPerSecond, (2, 2), (0.02, 0.0)),
    ]),
    measured!(0x9E, "exhaust flow rate", KilogramPerHour, 2, (0.2, 0.0)),
    untabulated(0x9F, "fuel system use", &[9]),
    Row::mask(0xA0, "supported parameters A1 to C0"),
    untabulated(0xA1, "NOx sensors, corrected", &[9]),
    measured!(0xA2, "cylinder fuel rate", MilligramPerStroke, 2, (1.0 / 32.0, 0.0)),
    untabulated(0xA3, "evaporative system pressures", &[9]),
    Row::new(0xA4, "transmission gear", &[4], &[
        if_bit(1, linear("actual gear ratio", None, (2, 2), (0.001, 0.0))),
    ]),
    untabulated(0xA5, "commanded diesel exhaust fluid dosing", &[4]),
    measured!(0xA6, "odometer", Kilometre, 4, (0.1, 0.0)),
    untabulated(0xA7, "NOx sensors, further", &[4]),
    untabulated(0xA8, "NOx sensors, further, corrected", &[4]),
    untabulated(0xA9, "anti-lock brake switch", &[4]),
    Row::mask(0xC0, "supported parameters C1 to E0"),
    untabulated(0xC3, "fuel level inputs", &[2]),
    untabulated(0xC4, "particulate control diagnostic time and count", &[8]),
    Row::mask(0xE0, "supported parameters E1 to FF"),
];
