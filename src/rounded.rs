//! Numbers rounded for machine-readable output: beyond these digits they say nothing.

use serde::Serializer;

/// A number to so many decimals.
pub fn to_decimals(number: f64, decimals: i32) -> f64 {
    let per_unit = 10_f64.powi(decimals);
    (number * per_unit).round() / per_unit
}

/// Serialises a number without decimals.
pub fn whole<S: Serializer>(number: &f64, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(to_decimals(*number, 0))
}

/// Serialises a number to two decimals.
pub fn hundredths<S: Serializer>(number: &f64, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(to_decimals(*number, 2))
}

/// Serialises a number to three decimals.
pub fn thousandths<S: Serializer>(number: &f64, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(to_decimals(*number, 3))
}
