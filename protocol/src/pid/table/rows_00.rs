//! PIDs 01 to 1F (SAE J1979, Appendix B; ISO 15031-5).

use super::super::codes;
use super::super::scaling::{Quantity, code, linear};
use super::Row;
use crate::unit::Unit::{
    DegreeCelsius, DegreeCrank, GramPerSecond, KilometrePerHour, Kilopascal, Percent,
    RevolutionPerMinute, Second, Volt,
};

const PERCENT: (f64, f64) = (100.0 / 255.0, 0.0);
pub(super) const TRIM: (f64, f64) = (100.0 / 128.0, -100.0);
const ONE: (f64, f64) = (1.0, 0.0);
const MINUS_40: (f64, f64) = (1.0, -40.0);

const fn sensor(voltage: &'static str, trim: &'static str) -> [Quantity; 2] {
    [
        linear(voltage, Volt, (0, 1), (0.005, 0.0)),
        linear(trim, Percent, (1, 1), TRIM),
    ]
}

macro_rules! sensor_row {
    ($pid:literal, $place:literal) => {
        Row::new(
            $pid,
            concat!("oxygen sensor ", $place),
            &[2],
            const {
                &sensor(
                    concat!("oxygen sensor ", $place, " voltage"),
                    concat!("oxygen sensor ", $place, " short term trim"),
                )
            },
        )
    };
}

pub(super) const ROWS: &[Row] = &[
    Row::new(
        0x01,
        "monitor status since codes cleared",
        &[4],
        &[
            code("lamp and number of codes", (0, 1), codes::lamp_and_count),
            code("readiness", (0, 4), codes::readiness),
        ],
    ),
    Row::new(
        0x02,
        "code that stored the freeze frame",
        &[2],
        &[code(
            "code that stored the freeze frame",
            (0, 2),
            crate::dtc::text_of_raw,
        )],
    ),
    Row::new(
        0x03,
        "fuel system status",
        &[2],
        &[
            code("fuel system 1 status", (0, 1), codes::fuel_system),
            code("fuel system 2 status", (1, 1), codes::fuel_system),
        ],
    ),
    Row::new(
        0x04,
        "calculated load",
        &[1],
        &[linear("calculated load", Percent, (0, 1), PERCENT)],
    ),
    Row::new(
        0x05,
        "coolant temperature",
        &[1],
        &[linear(
            "coolant temperature",
            DegreeCelsius,
            (0, 1),
            MINUS_40,
        )],
    ),
    Row::new(
        0x06,
        "short term fuel trim bank 1 (and 3)",
        &[1, 2],
        &[
            linear("short term fuel trim bank 1", Percent, (0, 1), TRIM),
            linear("short term fuel trim bank 3", Percent, (1, 1), TRIM),
        ],
    ),
    Row::new(
        0x07,
        "long term fuel trim bank 1 (and 3)",
        &[1, 2],
        &[
            linear("long term fuel trim bank 1", Percent, (0, 1), TRIM),
            linear("long term fuel trim bank 3", Percent, (1, 1), TRIM),
        ],
    ),
    Row::new(
        0x08,
        "short term fuel trim bank 2 (and 4)",
        &[1, 2],
        &[
            linear("short term fuel trim bank 2", Percent, (0, 1), TRIM),
            linear("short term fuel trim bank 4", Percent, (1, 1), TRIM),
        ],
    ),
    Row::new(
        0x09,
        "long term fuel trim bank 2 (and 4)",
        &[1, 2],
        &[
            linear("long term fuel trim bank 2", Percent, (0, 1), TRIM),
            linear("long term fuel trim bank 4", Percent, (1, 1), TRIM),
        ],
    ),
    Row::new(
        0x0A,
        "fuel pressure",
        &[1],
        &[linear(
            "fuel pressure (gauge)",
            Kilopascal,
            (0, 1),
            (3.0, 0.0),
        )],
    ),
    Row::new(
        0x0B,
        "intake manifold pressure",
        &[1],
        &[linear(
            "intake manifold pressure (absolute)",
            Kilopascal,
            (0, 1),
            ONE,
        )],
    ),
    Row::new(
        0x0C,
        "engine speed",
        &[2],
        &[linear(
            "engine speed",
            RevolutionPerMinute,
            (0, 2),
            (0.25, 0.0),
        )],
    ),
    Row::new(
        0x0D,
        "vehicle speed",
        &[1],
        &[linear("vehicle speed", KilometrePerHour, (0, 1), ONE)],
    ),
    Row::new(
        0x0E,
        "spark advance cylinder 1",
        &[1],
        &[linear(
            "spark advance cylinder 1",
            DegreeCrank,
            (0, 1),
            (0.5, -64.0),
        )],
    ),
    Row::new(
        0x0F,
        "intake air temperature",
        &[1],
        &[linear(
            "intake air temperature",
            DegreeCelsius,
            (0, 1),
            MINUS_40,
        )],
    ),
    Row::new(
        0x10,
        "air flow rate",
        &[2],
        &[linear("air flow rate", GramPerSecond, (0, 2), (0.01, 0.0))],
    ),
    Row::new(
        0x11,
        "throttle position",
        &[1],
        &[linear(
            "throttle position (absolute)",
            Percent,
            (0, 1),
            PERCENT,
        )],
    ),
    Row::new(
        0x12,
        "commanded secondary air",
        &[1],
        &[code(
            "commanded secondary air",
            (0, 1),
            codes::secondary_air,
        )],
    ),
    Row::new(
        0x13,
        "oxygen sensors present (two banks)",
        &[1],
        &[code(
            "oxygen sensors present",
            (0, 1),
            codes::sensors_two_banks,
        )],
    ),
    sensor_row!(0x14, "1"),
    sensor_row!(0x15, "2"),
    sensor_row!(0x16, "3"),
    sensor_row!(0x17, "4"),
    sensor_row!(0x18, "5"),
    sensor_row!(0x19, "6"),
    sensor_row!(0x1A, "7"),
    sensor_row!(0x1B, "8"),
    Row::new(
        0x1C,
        "diagnostic regulation",
        &[1],
        &[code("diagnostic regulation", (0, 1), codes::regulation)],
    ),
    Row::new(
        0x1D,
        "oxygen sensors present (four banks)",
        &[1],
        &[code(
            "oxygen sensors present",
            (0, 1),
            codes::sensors_four_banks,
        )],
    ),
    Row::new(
        0x1E,
        "auxiliary input status",
        &[1],
        &[code(
            "auxiliary input status",
            (0, 1),
            codes::power_take_off,
        )],
    ),
    Row::new(
        0x1F,
        "time since engine start",
        &[2],
        &[linear("time since engine start", Second, (0, 2), ONE)],
    ),
];
