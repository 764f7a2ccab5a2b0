//! The lists of trouble codes.

/// The lists in which a controller keeps codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CodeList {
    /// Confirmed (service 03; 19 42, status 08).
    Stored,
    /// This or the last driving cycle (service 07; 19 42, status 04).
    Pending,
    /// Permanent (service 0A; 19 55).
    Permanent,
}
