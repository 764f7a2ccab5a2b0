//! PIDs 21 to 3F (SAE J1979, Appendix B; ISO 15031-5).

use super::super::scaling::{Quantity, linear, signed};
use super::Row;
use crate::unit::Unit::{
    DegreeCelsius, Kilometre, Kilopascal, Milliampere, None, Pascal, Percent, Volt,
};

const PERCENT: (f64, f64) = (100.0 / 255.0, 0.0);
const ONE: (f64, f64) = (1.0, 0.0);
const LAMBDA: (f64, f64) = (2.0 / 65536.0, 0.0);
const CATALYST: (f64, f64) = (0.1, -40.0);

const fn lambda_voltage(lambda: &'static str, voltage: &'static str) -> [Quantity; 2] {
    [
        linear(lambda, None, (0, 2), LAMBDA),
        linear(voltage, Volt, (2, 2), (8.0 / 65536.0, 0.0)),
    ]
}

const fn lambda_current(lambda: &'static str, current: &'static str) -> [Quantity; 2] {
    [
        linear(lambda, None, (0, 2), LAMBDA),
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

macro_rules! catalyst {
    ($pid:literal, $place:literal) => {
        Row::new(
            $pid,
            concat!("catalyst temperature ", $place),
            &[2],
            &[linear(
                concat!("catalyst temperature ", $place),
                DegreeCelsius,
                (0, 2),
                CATALYST,
            )],
        )
    };
}

pub(super) const ROWS: &[Row] = &[
    Row::new(
        0x21,
        "distance with lamp on",
        &[2],
        &[linear("distance with lamp on", Kilometre, (0, 2), ONE)],
    ),
    Row::new(
        0x22,
        "fuel rail pressure (to manifold)",
        &[2],
        &[linear(
            "fuel rail pressure (to manifold vacuum)",
            Kilopascal,
            (0, 2),
            (5177.0 / 65535.0, 0.0),
        )],
    ),
    Row::new(
        0x23,
        "fuel rail pressure (high)",
        &[2],
        &[linear(
            "fuel rail pressure (gauge)",
            Kilopascal,
            (0, 2),
            (10.0, 0.0),
        )],
    ),
    wide_range!(0x24, "1", lambda_voltage, "voltage"),
    wide_range!(0x25, "2", lambda_voltage, "voltage"),
    wide_range!(0x26, "3", lambda_voltage, "voltage"),
    wide_range!(0x27, "4", lambda_voltage, "voltage"),
    wide_range!(0x28, "5", lambda_voltage, "voltage"),
    wide_range!(0x29, "6", lambda_voltage, "voltage"),
    wide_range!(0x2A, "7", lambda_voltage, "voltage"),
    wide_range!(0x2B, "8", lambda_voltage, "voltage"),
    Row::new(
        0x2C,
        "commanded exhaust gas recirculation",
        &[1],
        &[linear(
            "commanded exhaust gas recirculation",
            Percent,
            (0, 1),
            PERCENT,
        )],
    ),
    Row::new(
        0x2D,
        "exhaust gas recirculation error",
        &[1],
        &[linear(
            "exhaust gas recirculation error",
            Percent,
            (0, 1),
            super::rows_00::TRIM,
        )],
    ),
    Row::new(
        0x2E,
        "commanded evaporative purge",
        &[1],
        &[linear(
            "commanded evaporative purge",
            Percent,
            (0, 1),
            PERCENT,
        )],
    ),
    Row::new(
        0x2F,
        "fuel level",
        &[1],
        &[linear("fuel level", Percent, (0, 1), PERCENT)],
    ),
    Row::new(
        0x30,
        "warm-ups since codes cleared",
        &[1],
        &[linear("warm-ups since codes cleared", None, (0, 1), ONE)],
    ),
    Row::new(
        0x31,
        "distance since codes cleared",
        &[2],
        &[linear(
            "distance since codes cleared",
            Kilometre,
            (0, 2),
            ONE,
        )],
    ),
    Row::new(
        0x32,
        "evaporative system vapour pressure",
        &[2],
        &[signed(
            "evaporative system vapour pressure",
            Pascal,
            (0, 2),
            0.25,
        )],
    ),
    Row::new(
        0x33,
        "barometric pressure",
        &[1],
        &[linear(
            "barometric pressure (absolute)",
            Kilopascal,
            (0, 1),
            ONE,
        )],
    ),
    wide_range!(0x34, "1", lambda_current, "current"),
    wide_range!(0x35, "2", lambda_current, "current"),
    wide_range!(0x36, "3", lambda_current, "current"),
    wide_range!(0x37, "4", lambda_current, "current"),
    wide_range!(0x38, "5", lambda_current, "current"),
    wide_range!(0x39, "6", lambda_current, "current"),
    wide_range!(0x3A, "7", lambda_current, "current"),
    wide_range!(0x3B, "8", lambda_current, "current"),
    catalyst!(0x3C, "bank 1 sensor 1"),
    catalyst!(0x3D, "bank 2 sensor 1"),
    catalyst!(0x3E, "bank 1 sensor 2"),
    catalyst!(0x3F, "bank 2 sensor 2"),
];
