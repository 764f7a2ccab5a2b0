//! PIDs 41 to 5F (SAE J1979, Appendix B; ISO 15031-5).

use super::super::codes;
use super::super::scaling::{code, linear, signed};
use super::Row;
use super::rows_00::TRIM;
use crate::unit::Unit::{
    DegreeCelsius, DegreeCrank, GramPerSecond, Kilopascal, LitrePerHour, Milliampere, Minute, None,
    Pascal, Percent, Volt,
};

const PERCENT: (f64, f64) = (100.0 / 255.0, 0.0);
const ONE: (f64, f64) = (1.0, 0.0);

macro_rules! percent {
    ($pid:literal, $name:literal) => {
        Row::new(
            $pid,
            $name,
            &[1],
            &[linear($name, Percent, (0, 1), PERCENT)],
        )
    };
}

macro_rules! secondary_trim {
    ($pid:literal, $term:literal, $bank:literal, $other:literal) => {
        Row::new(
            $pid,
            concat!(
                $term,
                " term secondary trim bank ",
                $bank,
                " (and ",
                $other,
                ")"
            ),
            &[1, 2],
            &[
                linear(
                    concat!($term, " term secondary trim bank ", $bank),
                    Percent,
                    (0, 1),
                    TRIM,
                ),
                linear(
                    concat!($term, " term secondary trim bank ", $other),
                    Percent,
                    (1, 1),
                    TRIM,
                ),
            ],
        )
    };
}

pub(super) const ROWS: &[Row] = &[
    Row::new(
        0x41,
        "monitor status this driving cycle",
        &[4],
        &[code(
            "readiness this driving cycle",
            (0, 4),
            codes::readiness,
        )],
    ),
    Row::new(
        0x42,
        "control module voltage",
        &[2],
        &[linear("control module voltage", Volt, (0, 2), (0.001, 0.0))],
    ),
    Row::new(
        0x43,
        "absolute load",
        &[2],
        &[linear(
            "absolute load",
            Percent,
            (0, 2),
            (100.0 / 255.0, 0.0),
        )],
    ),
    Row::new(
        0x44,
        "commanded equivalence ratio",
        &[2],
        &[linear(
            "commanded equivalence ratio (lambda)",
            None,
            (0, 2),
            (2.0 / 65536.0, 0.0),
        )],
    ),
    percent!(0x45, "relative throttle position"),
    Row::new(
        0x46,
        "ambient air temperature",
        &[1],
        &[linear(
            "ambient air temperature",
            DegreeCelsius,
            (0, 1),
            (1.0, -40.0),
        )],
    ),
    percent!(0x47, "absolute throttle position B"),
    percent!(0x48, "absolute throttle position C"),
    percent!(0x49, "accelerator pedal position D"),
    percent!(0x4A, "accelerator pedal position E"),
    percent!(0x4B, "accelerator pedal position F"),
    percent!(0x4C, "commanded throttle actuator"),
    Row::new(
        0x4D,
        "time with lamp on",
        &[2],
        &[linear("time with lamp on", Minute, (0, 2), ONE)],
    ),
    Row::new(
        0x4E,
        "time since codes cleared",
        &[2],
        &[linear("time since codes cleared", Minute, (0, 2), ONE)],
    ),
    Row::new(
        0x4F,
        "greatest values of ratio, voltage, current, pressure",
        &[4],
        &[
            linear("greatest equivalence ratio", None, (0, 1), ONE),
            linear("greatest oxygen sensor voltage", Volt, (1, 1), ONE),
            linear("greatest oxygen sensor current", Milliampere, (2, 1), ONE),
            linear(
                "greatest intake manifold pressure",
                Kilopascal,
                (3, 1),
                (10.0, 0.0),
            ),
        ],
    ),
    Row::new(
        0x50,
        "greatest air flow rate",
        &[4],
        &[linear(
            "greatest air flow rate",
            GramPerSecond,
            (0, 1),
            (10.0, 0.0),
        )],
    ),
    Row::new(
        0x51,
        "type of fuel",
        &[1],
        &[code("type of fuel", (0, 1), codes::fuel_type)],
    ),
    percent!(0x52, "ethanol in the fuel"),
    Row::new(
        0x53,
        "evaporative vapour pressure (absolute)",
        &[2],
        &[linear(
            "evaporative vapour pressure (absolute)",
            Kilopascal,
            (0, 2),
            (0.005, 0.0),
        )],
    ),
    Row::new(
        0x54,
        "evaporative vapour pressure (wide)",
        &[2],
        &[signed(
            "evaporative vapour pressure (wide)",
            Pascal,
            (0, 2),
            1.0,
        )],
    ),
    secondary_trim!(0x55, "short", "1", "3"),
    secondary_trim!(0x56, "long", "1", "3"),
    secondary_trim!(0x57, "short", "2", "4"),
    secondary_trim!(0x58, "long", "2", "4"),
    Row::new(
        0x59,
        "fuel rail pressure (absolute)",
        &[2],
        &[linear(
            "fuel rail pressure (absolute)",
            Kilopascal,
            (0, 2),
            (10.0, 0.0),
        )],
    ),
    percent!(0x5A, "relative accelerator pedal position"),
    percent!(0x5B, "hybrid battery charge"),
    Row::new(
        0x5C,
        "engine oil temperature",
        &[1],
        &[linear(
            "engine oil temperature",
            DegreeCelsius,
            (0, 1),
            (1.0, -40.0),
        )],
    ),
    Row::new(
        0x5D,
        "fuel injection timing",
        &[2],
        &[linear(
            "fuel injection timing",
            DegreeCrank,
            (0, 2),
            (1.0 / 128.0, -210.0),
        )],
    ),
    Row::new(
        0x5E,
        "engine fuel rate",
        &[2],
        &[linear(
            "engine fuel rate",
            LitrePerHour,
            (0, 2),
            (0.05, 0.0),
        )],
    ),
    Row::new(
        0x5F,
        "emission requirements",
        &[1],
        &[code("emission requirements", (0, 1), codes::raw_hex)],
    ),
];
