//! PIDs 60 to 7F (SAE J1979-DA; from memory of the published tables).
//!
//! Most of these start with a byte whose bits say which of the following quantities the car has.

use super::super::codes;
use super::super::scaling::{code, if_bit, in_bits, linear};
use super::shape::{celsius, exhaust, percent, pressure, pressure_signed, word};
use super::{Row, scale};
use crate::unit::Unit::{
    GramPerSecond, Kilopascal, NewtonMetre, Percent, RevolutionPerMinute, Second,
};

/// Factor and offset of a torque, % of the reference torque (SAE J1979).
const TORQUE: (f64, f64) = (1.0, -125.0);

// One row a line, as far as it fits.
#[rustfmt::skip]
pub(super) const ROWS: &[Row] = &[
    Row::mask(0x60, "supported parameters 61 to 80"),
    measured!(0x61, "demanded engine torque", Percent, 1, TORQUE),
    measured!(0x62, "actual engine torque", Percent, 1, TORQUE),
    measured!(0x63, "reference engine torque", NewtonMetre, 2, scale::ONE),
    Row::new(0x64, "engine torque points", &[5], &[
        linear("engine torque at idle", Percent, (0, 1), TORQUE),
        linear("engine torque at point 1", Percent, (1, 1), TORQUE),
        linear("engine torque at point 2", Percent, (2, 1), TORQUE),
        linear("engine torque at point 3", Percent, (3, 1), TORQUE),
        linear("engine torque at point 4", Percent, (4, 1), TORQUE),
    ]),
    coded!(0x65, "auxiliary inputs and outputs", 2, codes::auxiliary),
    Row::new(0x66, "air flow sensors", &[5], &[
        word(0, "air flow sensor A", GramPerSecond, 1, 1.0 / 32.0),
        word(1, "air flow sensor B", GramPerSecond, 3, 1.0 / 32.0),
    ]),
    Row::new(0x67, "coolant temperature sensors", &[3], &[
        celsius(0, "coolant temperature sensor 1", 1),
        celsius(1, "coolant temperature sensor 2", 2),
    ]),
    Row::new(0x68, "intake air temperature sensors", &[3, 7], &[
        celsius(0, "intake air temperature bank 1 sensor 1", 1),
        celsius(1, "intake air temperature bank 1 sensor 2", 2),
        celsius(2, "intake air temperature bank 1 sensor 3", 3),
        celsius(3, "intake air temperature bank 2 sensor 1", 4),
        celsius(4, "intake air temperature bank 2 sensor 2", 5),
        celsius(5, "intake air temperature bank 2 sensor 3", 6),
    ]),
    Row::new(0x69, "exhaust gas recirculation valves", &[7], &[
        percent(0, "commanded recirculation A", 1),
        percent(1, "actual recirculation A", 2),
        if_bit(2, linear("recirculation A error", Percent, (3, 1), scale::TRIM)),
        percent(3, "commanded recirculation B", 4),
        percent(4, "actual recirculation B", 5),
        if_bit(5, linear("recirculation B error", Percent, (6, 1), scale::TRIM)),
    ]),
    Row::new(0x6A, "diesel intake air flow control", &[5], &[
        percent(0, "commanded intake air flow A", 1),
        percent(1, "intake air flow A position", 2),
        percent(2, "commanded intake air flow B", 3),
        percent(3, "intake air flow B position", 4),
    ]),
    Row::new(0x6B, "recirculation temperatures", &[5], &[
        celsius(0, "recirculation temperature bank 1 sensor 1", 1),
        celsius(1, "recirculation temperature bank 1 sensor 2", 2),
        celsius(2, "recirculation temperature bank 2 sensor 1", 3),
        celsius(3, "recirculation temperature bank 2 sensor 2", 4),
    ]),
    Row::new(0x6C, "throttle actuator control", &[5], &[
        percent(0, "commanded throttle actuator A", 1),
        percent(1, "throttle A position (relative)", 2),
        percent(2, "commanded throttle actuator B", 3),
        percent(3, "throttle B position (relative)", 4),
    ]),
    Row::new(0x6D, "fuel pressure control", &[6, 11], &[
        pressure(0, "commanded rail pressure A", 1, 10.0),
        pressure(1, "rail pressure A", 3, 10.0),
        celsius(2, "rail temperature A", 5),
        pressure(3, "commanded rail pressure B", 6, 10.0),
        pressure(4, "rail pressure B", 8, 10.0),
        celsius(5, "rail temperature B", 10),
    ]),
    Row::new(0x6E, "injection pressure control", &[5, 9], &[
        pressure(0, "commanded injection pressure A", 1, 10.0),
        pressure(1, "injection pressure A", 3, 10.0),
        pressure(2, "commanded injection pressure B", 5, 10.0),
        pressure(3, "injection pressure B", 7, 10.0),
    ]),
    Row::new(0x6F, "compressor inlet pressures", &[3], &[
        if_bit(0, linear("compressor inlet pressure A", Kilopascal, (1, 1), scale::ONE)),
        if_bit(1, linear("compressor inlet pressure B", Kilopascal, (2, 1), scale::ONE)),
    ]),
    Row::new(0x70, "boost pressure control", &[9, 10], &[
        pressure(0, "commanded boost pressure A", 1, 1.0 / 32.0),
        pressure(1, "boost pressure A", 3, 1.0 / 32.0),
        pressure(3, "commanded boost pressure B", 5, 1.0 / 32.0),
        pressure(4, "boost pressure B", 7, 1.0 / 32.0),
        if_bit(2, in_bits(2, 0, code("boost A control", (9, 1), codes::control_loop))),
        if_bit(5, in_bits(2, 2, code("boost B control", (9, 1), codes::control_loop))),
    ]),
    Row::new(0x71, "variable geometry turbo control", &[5, 6], &[
        percent(0, "commanded variable geometry A", 1),
        percent(1, "variable geometry A position", 2),
        percent(3, "commanded variable geometry B", 3),
        percent(4, "variable geometry B position", 4),
        if_bit(2, in_bits(2, 0, code("variable geometry A control", (5, 1), codes::control_loop))),
        if_bit(5, in_bits(2, 2, code("variable geometry B control", (5, 1), codes::control_loop))),
    ]),
    Row::new(0x72, "wastegate control", &[5], &[
        percent(0, "commanded wastegate A", 1),
        percent(1, "wastegate A position", 2),
        percent(2, "commanded wastegate B", 3),
        percent(3, "wastegate B position", 4),
    ]),
    Row::new(0x73, "exhaust pressure", &[5], &[
        pressure(0, "exhaust pressure bank 1", 1, 0.01),
        pressure(1, "exhaust pressure bank 2", 3, 0.01),
    ]),
    Row::new(0x74, "turbocharger speed", &[5], &[
        word(0, "turbocharger A speed", RevolutionPerMinute, 1, 10.0),
        word(1, "turbocharger B speed", RevolutionPerMinute, 3, 10.0),
    ]),
    Row::new(0x75, "turbocharger A temperatures", &[7], &[
        celsius(0, "turbocharger A compressor inlet temperature", 1),
        celsius(1, "turbocharger A compressor outlet temperature", 2),
        exhaust(2, "turbocharger A turbine inlet temperature", 3),
        exhaust(3, "turbocharger A turbine outlet temperature", 5),
    ]),
    Row::new(0x76, "turbocharger B temperatures", &[7], &[
        celsius(0, "turbocharger B compressor inlet temperature", 1),
        celsius(1, "turbocharger B compressor outlet temperature", 2),
        exhaust(2, "turbocharger B turbine inlet temperature", 3),
        exhaust(3, "turbocharger B turbine outlet temperature", 5),
    ]),
    Row::new(0x77, "charge air cooler temperatures", &[5], &[
        celsius(0, "charge air temperature bank 1 sensor 1", 1),
        celsius(1, "charge air temperature bank 1 sensor 2", 2),
        celsius(2, "charge air temperature bank 2 sensor 1", 3),
        celsius(3, "charge air temperature bank 2 sensor 2", 4),
    ]),
    Row::new(0x78, "exhaust gas temperatures bank 1", &[9], &[
        exhaust(0, "exhaust gas temperature bank 1 sensor 1", 1),
        exhaust(1, "exhaust gas temperature bank 1 sensor 2", 3),
        exhaust(2, "exhaust gas temperature bank 1 sensor 3", 5),
        exhaust(3, "exhaust gas temperature bank 1 sensor 4", 7),
    ]),
    Row::new(0x79, "exhaust gas temperatures bank 2", &[9], &[
        exhaust(0, "exhaust gas temperature bank 2 sensor 1", 1),
        exhaust(1, "exhaust gas temperature bank 2 sensor 2", 3),
        exhaust(2, "exhaust gas temperature bank 2 sensor 3", 5),
        exhaust(3, "exhaust gas temperature bank 2 sensor 4", 7),
    ]),
    Row::new(0x7A, "particulate filter bank 1", &[7], &[
        pressure_signed(0, "particulate filter bank 1 differential pressure", 1, 0.01),
        pressure(1, "particulate filter bank 1 inlet pressure", 3, 0.01),
        pressure(2, "particulate filter bank 1 outlet pressure", 5, 0.01),
    ]),
    Row::new(0x7B, "particulate filter bank 2", &[7], &[
        pressure_signed(0, "particulate filter bank 2 differential pressure", 1, 0.01),
        pressure(1, "particulate filter bank 2 inlet pressure", 3, 0.01),
        pressure(2, "particulate filter bank 2 outlet pressure", 5, 0.01),
    ]),
    Row::new(0x7C, "particulate filter temperatures", &[9], &[
        exhaust(0, "particulate filter bank 1 inlet temperature", 1),
        exhaust(1, "particulate filter bank 1 outlet temperature", 3),
        exhaust(2, "particulate filter bank 2 inlet temperature", 5),
        exhaust(3, "particulate filter bank 2 outlet temperature", 7),
    ]),
    coded!(0x7D, "NOx control area status", 1, codes::control_area),
    coded!(0x7E, "particulate control area status", 1, codes::control_area),
    Row::new(0x7F, "engine run times", &[13], &[
        if_bit(0, linear("total engine run time", Second, (1, 4), scale::ONE)),
        if_bit(1, linear("total engine idle time", Second, (5, 4), scale::ONE)),
        if_bit(2, linear("total run time with power take-off", Second, (9, 4), scale::ONE)),
    ]),
];
