//! The number of a parameter, with names for those that the program asks for by name.

use std::fmt;

/// A service 01/02 parameter identifier. Any byte is allowed; unknown ones are kept as they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pid(pub u8);

impl Pid {
    /// Monitor status since codes were cleared.
    pub const MONITOR_STATUS: Self = Self(0x01);
    /// Fuel system status (open or closed loop).
    pub const FUEL_SYSTEM: Self = Self(0x03);
    /// Calculated load, percent.
    pub const LOAD: Self = Self(0x04);
    /// Engine coolant temperature, °C.
    pub const COOLANT: Self = Self(0x05);
    /// Short term fuel trim, bank 1 (second byte: bank 3).
    pub const SHORT_TRIM_BANK_1: Self = Self(0x06);
    /// Long term fuel trim, bank 1 (second byte: bank 3).
    pub const LONG_TRIM_BANK_1: Self = Self(0x07);
    /// Short term fuel trim, bank 2 (second byte: bank 4).
    pub const SHORT_TRIM_BANK_2: Self = Self(0x08);
    /// Long term fuel trim, bank 2 (second byte: bank 4).
    pub const LONG_TRIM_BANK_2: Self = Self(0x09);
    /// Fuel pressure (gauge), kPa.
    pub const FUEL_PRESSURE: Self = Self(0x0A);
    /// Fuel rail pressure relative to manifold vacuum, kPa.
    pub const RAIL_TO_MANIFOLD: Self = Self(0x22);
    /// Fuel rail pressure (gauge), kPa, for high pressures too.
    pub const RAIL_GAUGE: Self = Self(0x23);
    /// Fuel rail pressure (absolute), kPa.
    pub const RAIL_ABSOLUTE: Self = Self(0x59);
    /// Fuel pressure control: commanded rail pressure (second quantity: the actual one), kPa.
    pub const RAIL_CONTROL: Self = Self(0x6D);
    /// Intake manifold absolute pressure, kPa.
    pub const MANIFOLD_PRESSURE: Self = Self(0x0B);
    /// Engine speed, rpm.
    pub const ENGINE_SPEED: Self = Self(0x0C);
    /// Vehicle speed, km/h.
    pub const VEHICLE_SPEED: Self = Self(0x0D);
    /// Spark advance, degrees.
    pub const SPARK_ADVANCE: Self = Self(0x0E);
    /// Intake air temperature, °C.
    pub const INTAKE_AIR: Self = Self(0x0F);
    /// Air flow rate, g/s.
    pub const AIR_FLOW: Self = Self(0x10);
    /// Absolute throttle position, percent.
    pub const THROTTLE: Self = Self(0x11);
    /// Time since engine start, s.
    pub const RUN_TIME: Self = Self(0x1F);
    /// Commanded evaporative purge, percent.
    pub const PURGE: Self = Self(0x2E);
    /// Fuel level, percent.
    pub const FUEL_LEVEL: Self = Self(0x2F);
    /// Warm-ups since codes cleared.
    pub const WARM_UPS_SINCE_CLEAR: Self = Self(0x30);
    /// Distance since codes cleared, km.
    pub const DISTANCE_SINCE_CLEAR: Self = Self(0x31);
    /// Barometric pressure, kPa.
    pub const BAROMETER: Self = Self(0x33);
    /// Absolute load, percent.
    pub const ABSOLUTE_LOAD: Self = Self(0x43);
    /// Commanded air-fuel equivalence ratio (lambda).
    pub const COMMANDED_RATIO: Self = Self(0x44);
    /// Time since codes cleared, min.
    pub const TIME_SINCE_CLEAR: Self = Self(0x4E);
    /// Type of fuel.
    pub const FUEL_TYPE: Self = Self(0x51);
    /// Ethanol in the fuel, percent.
    pub const ETHANOL: Self = Self(0x52);
}

impl fmt::Display for Pid {
    /// Two upper-case hex digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02X}", self.0)
    }
}
