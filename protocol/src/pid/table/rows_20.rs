//! PIDs 20 to 3F (SAE J1979, Appendix B; ISO 15031-5).
//!
//! The scalings of 24 to 2B and 34 to 3B are those that hold while the car leaves PID 4F at zero;
//! a car that names other greatest values there scales by them, which no single answer can tell.

use super::super::scaling::{Quantity, linear, signed};
use super::{Row, scale};
use crate::unit::Unit::{
    DegreeCelsius, Kilometre, Kilopascal, Milliampere, None, Pascal, Percent, Volt,
};

const fn lambda_voltage(lambda: &'static str, voltage: &'static str) -> [Quantity; 2] {
    [
        linear(lambda, None, (0, 2), scale::LAMBDA),
        linear(voltage, Volt, (2, 2), (8.0 / 65536.0, 0.0)),
    ]
}

const fn lambda_current(lambda: &'static str, current: &'static str) -> [Quantity; 2] {
    [
        linear(lambda, None, (0, 2), scale::LAMBDA),
        linear(current, Milliampere, (2, 2), (1.0 / 256.0, -128.0)),
    ]
}

macro_rules! wide_range {
    ($pid:literal, $place:literal, $shape:ident, $second:literal) => {
        Row::new(
            $pid,
            concat!("wide-range oxygen sensor ", $place, " (", $second, ")"),
            &[4],
            const {
                &$shape(
                    concat!("oxygen sensor ", $place, " equivalence ratio (lambda)"),
                    concat!("oxygen sensor ", $place, " ", $second),
                )
            },
        )
    };
}

// One row a line, as far as it fits.
#[rustfmt::skip]
pub(super) const ROWS: &[Row] = &[
    Row::mask(0x20, "supported parameters 21 to 40"),
    measured!(0x21, "distance with check-engine light on", Kilometre, 2, scale::ONE),
    measured!(0x22, "fuel rail pressure (to manifold vacuum)", Kilopascal, 2, (0.079, 0.0)),
    measured!(0x23, "fuel rail pressure (gauge)", Kilopascal, 2, (10.0, 0.0)),
    wide_range!(0x24, "1", lambda_voltage, "voltage"),
    wide_range!(0x25, "2", lambda_voltage, "voltage"),
    wide_range!(0x26, "3", lambda_voltage, "voltage"),
    wide_range!(0x27, "4", lambda_voltage, "voltage"),
    wide_range!(0x28, "5", lambda_voltage, "voltage"),
    wide_range!(0x29, "6", lambda_voltage, "voltage"),
    wide_range!(0x2A, "7", lambda_voltage, "voltage"),
    wide_range!(0x2B, "8", lambda_voltage, "voltage"),
    measured!(0x2C, "commanded exhaust gas recirculation", Percent, 1, scale::PERCENT),
    measured!(0x2D, "exhaust gas recirculation error", Percent, 1, scale::TRIM),
    measured!(0x2E, "commanded evaporative purge", Percent, 1, scale::PERCENT),
    measured!(0x2F, "fuel level", Percent, 1, scale::PERCENT),
    measured!(0x30, "warm-ups since codes cleared", None, 1, scale::ONE),
    measured!(0x31, "distance since codes cleared", Kilometre, 2, scale::ONE),
    measured_signed!(0x32, "evaporative system vapour pressure", Pascal, 2, 0.25),
    measured!(0x33, "barometric pressure (absolute)", Kilopascal, 1, scale::ONE),
    wide_range!(0x34, "1", lambda_current, "current"),
    wide_range!(0x35, "2", lambda_current, "current"),
    wide_range!(0x36, "3", lambda_current, "current"),
    wide_range!(0x37, "4", lambda_current, "current"),
    wide_range!(0x38, "5", lambda_current, "current"),
    wide_range!(0x39, "6", lambda_current, "current"),
    wide_range!(0x3A, "7", lambda_current, "current"),
    wide_range!(0x3B, "8", lambda_current, "current"),
    measured!(0x3C, "catalyst temperature bank 1 sensor 1", DegreeCelsius, 2, scale::EXHAUST),
    measured!(0x3D, "catalyst temperature bank 2 sensor 1", DegreeCelsius, 2, scale::EXHAUST),
    measured!(0x3E, "catalyst temperature bank 1 sensor 2", DegreeCelsius, 2, scale::EXHAUST),
    measured!(0x3F, "catalyst temperature bank 2 sensor 2", DegreeCelsius, 2, scale::EXHAUST),
];
