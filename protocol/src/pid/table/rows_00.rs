//! PIDs 00 to 1F (SAE J1979, Appendix B; ISO 15031-5).

use super::super::scaling::{Quantity, absent_at, code, linear};
use super::super::{codes, readiness};
use super::{Row, scale};
use crate::unit::Unit::{
    DegreeCelsius, DegreeCrank, GramPerSecond, KilometrePerHour, Kilopascal, Percent,
    RevolutionPerMinute, Second, Volt,
};

/// Trim FF: the sensor takes no part in the trim.
const fn sensor(voltage: &'static str, trim: &'static str) -> [Quantity; 2] {
    [
        linear(voltage, Volt, (0, 1), (0.005, 0.0)),
        absent_at(0xFF, linear(trim, Percent, (1, 1), scale::TRIM)),
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

// One row a line, as far as it fits.
#[rustfmt::skip]
pub(super) const ROWS: &[Row] = &[
    Row::mask(0x00, "supported parameters 01 to 20"),
    Row::new(
        0x01,
        "monitor status since codes cleared",
        &[4],
        &[
            code("check-engine light and number of codes", (0, 1), readiness::lamp_words),
            code("readiness", (0, 4), readiness::monitor_words),
        ],
    ),
    coded!(0x02, "code that stored the freeze frame", 2, crate::dtc::text_of_raw),
    Row::new(
        0x03,
        "fuel system status",
        &[2],
        &[
            code("fuel system 1 status", (0, 1), codes::fuel_system),
            code("fuel system 2 status", (1, 1), codes::fuel_system),
        ],
    ),
    measured!(0x04, "calculated load", Percent, 1, scale::PERCENT),
    measured!(0x05, "coolant temperature", DegreeCelsius, 1, scale::CELSIUS),
    trim!(0x06, "short term fuel trim bank ", "1", "3"),
    trim!(0x07, "long term fuel trim bank ", "1", "3"),
    trim!(0x08, "short term fuel trim bank ", "2", "4"),
    trim!(0x09, "long term fuel trim bank ", "2", "4"),
    measured!(0x0A, "fuel pressure (gauge)", Kilopascal, 1, (3.0, 0.0)),
    measured!(0x0B, "intake manifold pressure (absolute)", Kilopascal, 1, scale::ONE),
    measured!(0x0C, "engine speed", RevolutionPerMinute, 2, (0.25, 0.0)),
    measured!(0x0D, "vehicle speed", KilometrePerHour, 1, scale::ONE),
    measured!(0x0E, "spark advance cylinder 1", DegreeCrank, 1, (0.5, -64.0)),
    measured!(0x0F, "intake air temperature", DegreeCelsius, 1, scale::CELSIUS),
    measured!(0x10, "air flow rate", GramPerSecond, 2, (0.01, 0.0)),
    measured!(0x11, "throttle position (absolute)", Percent, 1, scale::PERCENT),
    coded!(0x12, "commanded secondary air", 1, codes::secondary_air),
    coded!(0x13, "oxygen sensors present (two banks)", 1, codes::sensors_two_banks),
    sensor_row!(0x14, "1"),
    sensor_row!(0x15, "2"),
    sensor_row!(0x16, "3"),
    sensor_row!(0x17, "4"),
    sensor_row!(0x18, "5"),
    sensor_row!(0x19, "6"),
    sensor_row!(0x1A, "7"),
    sensor_row!(0x1B, "8"),
    coded!(0x1C, "diagnostic regulation", 1, codes::regulation),
    coded!(0x1D, "oxygen sensors present (four banks)", 1, codes::sensors_four_banks),
    coded!(0x1E, "auxiliary input status", 1, codes::power_take_off),
    measured!(0x1F, "time since engine start", Second, 2, scale::ONE),
];
