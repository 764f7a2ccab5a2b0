//! PIDs 40 to 5F (SAE J1979, Appendix B; ISO 15031-5).

use super::super::scaling::{code, linear, signed};
use super::super::{codes, readiness};
use super::{Row, scale};
use crate::unit::Unit::{
    DegreeCelsius, DegreeCrank, GramPerSecond, Kilopascal, LitrePerHour, Milliampere, Minute, None,
    Pascal, Percent, Volt,
};

// One row a line, as far as it fits.
#[rustfmt::skip]
pub(super) const ROWS: &[Row] = &[
    Row::mask(0x40, "supported parameters 41 to 60"),
    coded!(0x41, "readiness this driving cycle", 4, readiness::monitor_words),
    measured!(0x42, "control module voltage", Volt, 2, (0.001, 0.0)),
    measured!(0x43, "absolute load", Percent, 2, scale::PERCENT),
    measured!(0x44, "commanded equivalence ratio (lambda)", None, 2, scale::LAMBDA),
    measured!(0x45, "relative throttle position", Percent, 1, scale::PERCENT),
    measured!(0x46, "ambient air temperature", DegreeCelsius, 1, scale::CELSIUS),
    measured!(0x47, "absolute throttle position B", Percent, 1, scale::PERCENT),
    measured!(0x48, "absolute throttle position C", Percent, 1, scale::PERCENT),
    measured!(0x49, "accelerator pedal position D", Percent, 1, scale::PERCENT),
    measured!(0x4A, "accelerator pedal position E", Percent, 1, scale::PERCENT),
    measured!(0x4B, "accelerator pedal position F", Percent, 1, scale::PERCENT),
    measured!(0x4C, "commanded throttle actuator", Percent, 1, scale::PERCENT),
    measured!(0x4D, "time with check-engine light on", Minute, 2, scale::ONE),
    measured!(0x4E, "time since codes cleared", Minute, 2, scale::ONE),
    Row::new(
        0x4F,
        "greatest values of ratio, voltage, current, pressure",
        &[4],
        &[
            linear("greatest equivalence ratio", None, (0, 1), scale::ONE),
            linear("greatest oxygen sensor voltage", Volt, (1, 1), scale::ONE),
            linear("greatest oxygen sensor current", Milliampere, (2, 1), scale::ONE),
            linear("greatest intake manifold pressure", Kilopascal, (3, 1), (10.0, 0.0)),
        ],
    ),
    Row::new(
        0x50,
        "greatest air flow rate",
        &[4],
        &[linear("greatest air flow rate", GramPerSecond, (0, 1), (10.0, 0.0))],
    ),
    coded!(0x51, "type of fuel", 1, codes::fuel_type),
    measured!(0x52, "ethanol in the fuel", Percent, 1, scale::PERCENT),
    measured!(0x53, "evaporative vapour pressure (absolute)", Kilopascal, 2, (0.005, 0.0)),
    measured_signed!(0x54, "evaporative vapour pressure (wide)", Pascal, 2, 1.0),
    trim!(0x55, "short term secondary trim bank ", "1", "3"),
    trim!(0x56, "long term secondary trim bank ", "1", "3"),
    trim!(0x57, "short term secondary trim bank ", "2", "4"),
    trim!(0x58, "long term secondary trim bank ", "2", "4"),
    measured!(0x59, "fuel rail pressure (absolute)", Kilopascal, 2, (10.0, 0.0)),
    measured!(0x5A, "relative accelerator pedal position", Percent, 1, scale::PERCENT),
    measured!(0x5B, "hybrid battery charge", Percent, 1, scale::PERCENT),
    measured!(0x5C, "engine oil temperature", DegreeCelsius, 1, scale::CELSIUS),
    measured!(0x5D, "fuel injection timing", DegreeCrank, 2, (1.0 / 128.0, -210.0)),
    measured!(0x5E, "engine fuel rate", LitrePerHour, 2, (0.05, 0.0)),
    coded!(0x5F, "emission requirements", 1, codes::emission_requirements),
];
