//! Shapes of quantities that are there only when a bit of the first data byte says so.

use super::scale;
use crate::pid::scaling::{Quantity, if_bit, linear, signed};
use crate::unit::Unit::{self, DegreeCelsius, Kilopascal, Percent};

/// One byte of temperature.
pub(super) const fn celsius(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, DegreeCelsius, (at, 1), scale::CELSIUS))
}

/// Two bytes of exhaust gas temperature.
pub(super) const fn exhaust(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, DegreeCelsius, (at, 2), scale::EXHAUST))
}

/// One byte of percent.
pub(super) const fn percent(bit: u8, name: &'static str, at: u8) -> Quantity {
    if_bit(bit, linear(name, Percent, (at, 1), scale::PERCENT))
}

/// Two bytes without offset.
pub(super) const fn word(bit: u8, name: &'static str, unit: Unit, at: u8, factor: f64) -> Quantity {
    if_bit(bit, linear(name, unit, (at, 2), (factor, 0.0)))
}

/// Two bytes of pressure.
pub(super) const fn pressure(bit: u8, name: &'static str, at: u8, factor: f64) -> Quantity {
    word(bit, name, Kilopascal, at, factor)
}

/// Two bytes of pressure in two's complement.
pub(super) const fn pressure_signed(bit: u8, name: &'static str, at: u8, factor: f64) -> Quantity {
    if_bit(bit, signed(name, Kilopascal, (at, 2), factor))
}
