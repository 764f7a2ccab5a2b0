//! PIDs 61 to C4 (SAE J1979-DA; from memory of the published tables).
//!
//! Most of these start with a byte whose bits say which of the following quantities the car has. Where a layout is not
//! tabulated here only name and length are, and the bytes stay raw.

use super::super::codes;
use super::super::scaling::{Quantity, code, if_bit, linear};
use super::Row;
use crate::unit::Unit::{
    DegreeCelsius, GramPerSecond, KilogramPerHour, Kilometre, Kilopascal, MilligramPerStroke,
    NewtonMetre, None, PartPerMillion, Percent, RevolutionPerMinute, Second,
};

const PERCENT: (f64, f64) = (100.0 / 255.0, 0.0);
const TORQUE: (f64, f64) = (1.0, -125.0);
const MINUS_40: (f64, f64) = (1.0, -40.0);
const EXHAUST: (f64, f64) = (0.1, -40.0);

const fn celsius(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, DegreeCelsius, (at, 1), MINUS_40))
}

const fn exhaust(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, DegreeCelsius, (at, 2), EXHAUST))
}

const fn percent(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, Percent, (at, 1), PERCENT))
}

const fn pressure(bit: u8, name: &'static str, at: u8, factor: f64) -> Quantity {
    if_bit(bit, linear(name, Kilopascal, (at, 2), (factor, 0.0)))
}

const fn ppm(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, PartPerMillion, (at, 2), (1.0, 0.0)))
}

const fn untabulated(pid: u8, name: &'static str, lengths: &'static [u8]) -> Row {
    Row::new(pid, name, lengths, &[])
}

pub(super) const ROWS: &[Row] = &[
    Row::new(
        0x61,
        "demanded engine torque",
        &[1],
        &[linear("demanded engine torque", Percent, (0, 1), TORQUE)],
    ),
    Row::new(
        0x62,
        "actual engine torque",
        &[1],
        &[linear("actual engine torque", Percent, (0, 1), TORQUE)],
    ),
    Row::new(
        0x63,
        "reference engine torque",
        &[2],
        &[linear(
            "reference engine torque",
            NewtonMetre,
            (0, 2),
            (1.0, 0.0),
        )],
    ),
    Row::new(
        0x64,
        "engine torque points",
        &[5],
        &[
            linear("engine torque at idle", Percent, (0, 1), TORQUE),
            linear("engine torque at point 1", Percent, (1, 1), TORQUE),
            linear("engine torque at point 2", Percent, (2, 1), TORQUE),
            linear("engine torque at point 3", Percent, (3, 1), TORQUE),
            linear("engine torque at point 4", Percent, (4, 1), TORQUE),
        ],
    ),
    Row::new(
        0x65,
        "auxiliary inputs and outputs",
        &[2],
        &[
            code("auxiliary inputs supported", (0, 1), codes::auxiliary),
            code("auxiliary inputs active", (1, 1), codes::auxiliary),
        ],
    ),
    Row::new(
        0x66,
        "air flow sensors",
        &[5],
        &[
            if_bit(
                0,
                linear(
                    "air flow sensor A",
                    GramPerSecond,
                    (1, 2),
                    (1.0 / 32.0, 0.0),
                ),
            ),
            if_bit(
                1,
                linear(
                    "air flow sensor B",
                    GramPerSecond,
                    (3, 2),
                    (1.0 / 32.0, 0.0),
                ),
            ),
        ],
    ),
    Row::new(
        0x67,
        "coolant temperature sensors",
        &[3],
        &[
            celsius(0, "coolant temperature sensor 1", 1),
            celsius(1, "coolant temperature sensor 2", 2),
        ],
    ),
    Row::new(
        0x68,
        "intake air temperature sensors",
        &[3, 7],
        &[
            celsius(0, "intake air temperature bank 1 sensor 1", 1),
            celsius(1, "intake air temperature bank 1 sensor 2", 2),
            celsius(2, "intake air temperature bank 1 sensor 3", 3),
            celsius(3, "intake air temperature bank 2 sensor 1", 4),
            celsius(4, "intake air temperature bank 2 sensor 2", 5),
            celsius(5, "intake air temperature bank 2 sensor 3", 6),
        ],
    ),
    Row::new(
        0x69,
        "exhaust gas recirculation valves",
        &[7],
        &[
            percent(0, "commanded recirculation A", 1),
            percent(1, "actual recirculation A", 2),
            if_bit(
                2,
                linear(
                    "recirculation A error",
                    Percent,
                    (3, 1),
                    super::rows_00::TRIM,
                ),
            ),
            percent(3, "commanded recirculation B", 4),
            percent(4, "actual recirculation B", 5),
            if_bit(
                5,
                linear(
                    "recirculation B error",
                    Percent,
                    (6, 1),
                    super::rows_00::TRIM,
                ),
            ),
        ],
    ),
    Row::new(
        0x6A,
        "diesel intake air flow control",
        &[5],
        &[
            percent(0, "commanded intake air flow A", 1),
            percent(1, "intake air flow A position", 2),
            percent(2, "commanded intake air flow B", 3),
            percent(3, "intake air flow B position", 4),
        ],
    ),
    Row::new(
        0x6B,
        "recirculation temperatures",
        &[5],
        &[
            celsius(0, "recirculation temperature bank 1 sensor 1", 1),
            celsius(1, "recirculation temperature bank 1 sensor 2", 2),
            celsius(2, "recirculation temperature bank 2 sensor 1", 3),
            celsius(3, "recirculation temperature bank 2 sensor 2", 4),
        ],
    ),
    Row::new(
        0x6C,
        "throttle actuator control",
        &[5],
        &[
            percent(0, "commanded throttle actuator A", 1),
            percent(1, "throttle A position (relative)", 2),
            percent(2, "commanded throttle actuator B", 3),
            percent(3, "throttle B position (relative)", 4),
        ],
    ),
    Row::new(
        0x6D,
        "fuel pressure control",
        &[6, 11],
        &[
            pressure(0, "commanded rail pressure A", 1, 10.0),
            pressure(1, "rail pressure A", 3, 10.0),
            celsius(2, "rail temperature A", 5),
            pressure(3, "commanded rail pressure B", 6, 10.0),
            pressure(4, "rail pressure B", 8, 10.0),
            celsius(5, "rail temperature B", 10),
        ],
    ),
    Row::new(
        0x6E,
        "injection pressure control",
        &[5, 9],
        &[
            pressure(0, "commanded injection pressure A", 1, 10.0),
            pressure(1, "injection pressure A", 3, 10.0),
            pressure(2, "commanded injection pressure B", 5, 10.0),
            pressure(3, "injection pressure B", 7, 10.0),
        ],
    ),
    Row::new(
        0x6F,
        "compressor inlet pressures",
        &[3],
        &[
            if_bit(
                0,
                linear(
                    "compressor inlet pressure A",
                    Kilopascal,
                    (1, 1),
                    (1.0, 0.0),
                ),
            ),
            if_bit(
                1,
                linear(
                    "compressor inlet pressure B",
                    Kilopascal,
                    (2, 1),
                    (1.0, 0.0),
                ),
            ),
        ],
    ),
    Row::new(
        0x70,
        "boost pressure control",
        &[9, 10],
        &[
            pressure(0, "commanded boost pressure A", 1, 1.0 / 32.0),
            pressure(1, "boost pressure A", 3, 1.0 / 32.0),
            pressure(2, "commanded boost pressure B", 5, 1.0 / 32.0),
            pressure(3, "boost pressure B", 7, 1.0 / 32.0),
        ],
    ),
    untabulated(0x71, "variable geometry turbo control", &[5, 6]),
    Row::new(
        0x72,
        "wastegate control",
        &[5],
        &[
            percent(0, "commanded wastegate A", 1),
            percent(1, "wastegate A position", 2),
            percent(2, "commanded wastegate B", 3),
            percent(3, "wastegate B position", 4),
        ],
    ),
    Row::new(
        0x73,
        "exhaust pressure",
        &[5],
        &[
            pressure(0, "exhaust pressure bank 1", 1, 0.01),
            pressure(1, "exhaust pressure bank 2", 3, 0.01),
        ],
    ),
    Row::new(
        0x74,
        "turbocharger speed",
        &[5],
        &[
            if_bit(
                0,
                linear(
                    "turbocharger A speed",
                    RevolutionPerMinute,
                    (1, 2),
                    (10.0, 0.0),
                ),
            ),
            if_bit(
                1,
                linear(
                    "turbocharger B speed",
                    RevolutionPerMinute,
                    (3, 2),
                    (10.0, 0.0),
                ),
            ),
        ],
    ),
    Row::new(
        0x75,
        "turbocharger A temperatures",
        &[7],
        &[
            celsius(0, "turbocharger A compressor inlet temperature", 1),
            celsius(1, "turbocharger A compressor outlet temperature", 2),
            exhaust(2, "turbocharger A turbine inlet temperature", 3),
            exhaust(3, "turbocharger A turbine outlet temperature", 5),
        ],
    ),
    Row::new(
        0x76,
        "turbocharger B temperatures",
        &[7],
        &[
            celsius(0, "turbocharger B compressor inlet temperature", 1),
            celsius(1, "turbocharger B compressor outlet temperature", 2),
            exhaust(2, "turbocharger B turbine inlet temperature", 3),
            exhaust(3, "turbocharger B turbine outlet temperature", 5),
        ],
    ),
    Row::new(
        0x77,
        "charge air cooler temperatures",
        &[5],
        &[
            celsius(0, "charge air temperature bank 1 sensor 1", 1),
            celsius(1, "charge air temperature bank 1 sensor 2", 2),
            celsius(2, "charge air temperature bank 2 sensor 1", 3),
            celsius(3, "charge air temperature bank 2 sensor 2", 4),
        ],
    ),
    Row::new(
        0x78,
        "exhaust gas temperatures bank 1",
        &[9],
        &[
            exhaust(0, "exhaust gas temperature bank 1 sensor 1", 1),
            exhaust(1, "exhaust gas temperature bank 1 sensor 2", 3),
            exhaust(2, "exhaust gas temperature bank 1 sensor 3", 5),
            exhaust(3, "exhaust gas temperature bank 1 sensor 4", 7),
        ],
    ),
    Row::new(
        0x79,
        "exhaust gas temperatures bank 2",
        &[9],
        &[
            exhaust(0, "exhaust gas temperature bank 2 sensor 1", 1),
            exhaust(1, "exhaust gas temperature bank 2 sensor 2", 3),
            exhaust(2, "exhaust gas temperature bank 2 sensor 3", 5),
            exhaust(3, "exhaust gas temperature bank 2 sensor 4", 7),
        ],
    ),
    Row::new(
        0x7A,
        "particulate filter bank 1",
        &[7],
        &[
            pressure(
                0,
                "particulate filter bank 1 differential pressure",
                1,
                0.01,
            ),
            pressure(1, "particulate filter bank 1 inlet pressure", 3, 0.01),
            pressure(2, "particulate filter bank 1 outlet pressure", 5, 0.01),
        ],
    ),
    Row::new(
        0x7B,
        "particulate filter bank 2",
        &[7],
        &[
            pressure(
                0,
                "particulate filter bank 2 differential pressure",
                1,
                0.01,
            ),
            pressure(1, "particulate filter bank 2 inlet pressure", 3, 0.01),
            pressure(2, "particulate filter bank 2 outlet pressure", 5, 0.01),
        ],
    ),
    Row::new(
        0x7C,
        "particulate filter temperatures",
        &[9],
        &[
            exhaust(0, "particulate filter bank 1 inlet temperature", 1),
            exhaust(1, "particulate filter bank 1 outlet temperature", 3),
            exhaust(2, "particulate filter bank 2 inlet temperature", 5),
            exhaust(3, "particulate filter bank 2 outlet temperature", 7),
        ],
    ),
    Row::new(
        0x7D,
        "NOx control area status",
        &[1],
        &[code("NOx control area status", (0, 1), codes::raw_hex)],
    ),
    Row::new(
        0x7E,
        "particulate control area status",
        &[1],
        &[code(
            "particulate control area status",
            (0, 1),
            codes::raw_hex,
        )],
    ),
    Row::new(
        0x7F,
        "engine run times",
        &[13],
        &[
            if_bit(
                0,
                linear("total engine run time", Second, (1, 4), (1.0, 0.0)),
            ),
            if_bit(
                1,
                linear("total engine idle time", Second, (5, 4), (1.0, 0.0)),
            ),
            if_bit(
                2,
                linear(
                    "total run time with power take-off",
                    Second,
                    (9, 4),
                    (1.0, 0.0),
                ),
            ),
        ],
    ),
    untabulated(
        0x81,
        "run times of auxiliary emission devices 1 to 5",
        &[21, 41],
    ),
    untabulated(
        0x82,
        "run times of auxiliary emission devices 6 to 10",
        &[21, 41],
    ),
    Row::new(
        0x83,
        "NOx sensors",
        &[5, 9],
        &[
            ppm(0, "NOx concentration bank 1 sensor 1", 1),
            ppm(1, "NOx concentration bank 1 sensor 2", 3),
            ppm(2, "NOx concentration bank 2 sensor 1", 5),
            ppm(3, "NOx concentration bank 2 sensor 2", 7),
        ],
    ),
    Row::new(
        0x84,
        "manifold surface temperature",
        &[1],
        &[linear(
            "manifold surface temperature",
            DegreeCelsius,
            (0, 1),
            MINUS_40,
        )],
    ),
    untabulated(0x85, "NOx reagent system", &[10]),
    untabulated(0x86, "particulate matter sensors", &[5]),
    Row::new(
        0x87,
        "intake manifold pressure sensors",
        &[5],
        &[
            pressure(0, "intake manifold pressure sensor A", 1, 1.0 / 32.0),
            pressure(1, "intake manifold pressure sensor B", 3, 1.0 / 32.0),
        ],
    ),
    untabulated(0x88, "reagent inducement system", &[13]),
    untabulated(
        0x89,
        "run times of auxiliary emission devices 11 to 15",
        &[41],
    ),
    untabulated(
        0x8A,
        "run times of auxiliary emission devices 16 to 20",
        &[41],
    ),
    untabulated(0x8B, "diesel aftertreatment", &[7]),
    untabulated(0x8C, "wide-range oxygen sensors", &[16, 17]),
    Row::new(
        0x8D,
        "absolute throttle position G",
        &[1],
        &[linear(
            "absolute throttle position G",
            Percent,
            (0, 1),
            PERCENT,
        )],
    ),
    Row::new(
        0x8E,
        "engine friction torque",
        &[1],
        &[linear("engine friction torque", Percent, (0, 1), TORQUE)],
    ),
    untabulated(0x8F, "particulate matter sensor output", &[5, 7]),
    untabulated(0x90, "worldwide harmonised vehicle information", &[3]),
    untabulated(0x91, "worldwide harmonised controller information", &[5]),
    untabulated(0x92, "fuel system control", &[2]),
    untabulated(0x93, "worldwide harmonised counters", &[3]),
    untabulated(0x94, "NOx warning and inducement", &[12]),
    untabulated(
        0x98,
        "exhaust gas temperatures bank 1, further sensors",
        &[9],
    ),
    untabulated(
        0x99,
        "exhaust gas temperatures bank 2, further sensors",
        &[9],
    ),
    untabulated(0x9A, "hybrid or electric system", &[6]),
    untabulated(0x9B, "diesel exhaust fluid sensor", &[4]),
    untabulated(0x9C, "oxygen sensors, further data", &[17]),
    Row::new(
        0x9D,
        "fuel rate by mass",
        &[4],
        &[
            linear(
                "engine fuel rate by mass",
                GramPerSecond,
                (0, 2),
                (0.02, 0.0),
            ),
            linear(
                "vehicle fuel rate by mass",
                GramPerSecond,
                (2, 2),
                (0.02, 0.0),
            ),
        ],
    ),
    Row::new(
        0x9E,
        "exhaust flow rate",
        &[2],
        &[linear(
            "exhaust flow rate",
            KilogramPerHour,
            (0, 2),
            (0.2, 0.0),
        )],
    ),
    untabulated(0x9F, "fuel system use", &[9]),
    untabulated(0xA1, "NOx sensors, corrected", &[9]),
    Row::new(
        0xA2,
        "cylinder fuel rate",
        &[2],
        &[linear(
            "cylinder fuel rate",
            MilligramPerStroke,
            (0, 2),
            (1.0 / 32.0, 0.0),
        )],
    ),
    untabulated(0xA3, "evaporative system pressures", &[9]),
    Row::new(
        0xA4,
        "transmission gear",
        &[4],
        &[
            if_bit(0, code("recommended gear", (1, 1), codes::raw_hex)),
            if_bit(1, linear("actual gear ratio", None, (2, 2), (0.001, 0.0))),
        ],
    ),
    untabulated(0xA5, "commanded diesel exhaust fluid dosing", &[4]),
    Row::new(
        0xA6,
        "odometer",
        &[4],
        &[linear("odometer", Kilometre, (0, 4), (0.1, 0.0))],
    ),
    untabulated(0xA7, "NOx sensors, further", &[4]),
    untabulated(0xA8, "NOx sensors, further, corrected", &[4]),
    untabulated(0xA9, "anti-lock brake switch", &[1]),
    Row::new(
        0xC3,
        "fuel level inputs",
        &[2],
        &[
            linear("fuel level input A", Percent, (0, 1), PERCENT),
            linear("fuel level input B", Percent, (1, 1), PERCENT),
        ],
    ),
    untabulated(0xC4, "particulate control diagnostic time and count", &[8]),
];
