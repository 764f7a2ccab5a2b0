//! Scalings that many rows share, as (value of one count, value at raw 0).

/// 0 to 100 % over one byte (also the load of two bytes, which runs on beyond 100 %).
pub(super) const PERCENT: (f64, f64) = (100.0 / 255.0, 0.0);
/// −100 to +99.2 % around 80 hex.
pub(super) const TRIM: (f64, f64) = (100.0 / 128.0, -100.0);
/// The raw number itself.
pub(super) const ONE: (f64, f64) = (1.0, 0.0);
/// −40 to 215 °C.
pub(super) const CELSIUS: (f64, f64) = (1.0, -40.0);
/// −40 to 6513.5 °C over two bytes.
pub(super) const EXHAUST: (f64, f64) = (0.1, -40.0);
/// Equivalence ratio 0 to 2 over two bytes.
pub(super) const LAMBDA: (f64, f64) = (2.0 / 65536.0, 0.0);
