//! One explanation: a cause at a place with a size, perhaps with a second cause, scored piece by piece.

use crate::cause::Cause;

use super::{car_evidence::LogLikelihoods, evidence::codes::Suspect, forward::Location};

/// One explanation with its scores.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// The cause; where two act, the one that explains more of the readings.
    pub cause: Cause,
    /// Where the cause sits.
    pub location: Location,
    /// Whether data or the vehicle file identify the place's bank, rather than an assumption.
    pub bank_known: bool,
    /// Size of the fault, in the unit of the cause's severity quantity; `None` where the cause has no size.
    pub size: Option<f64>,
    /// A second cause that acts at the same time, and its place.
    pub second_cause: Option<Suspect>,
    /// Natural logarithm of the explanation's prior weight.
    pub log_weight: f64,
    /// Log-likelihood of each piece of evidence under this explanation.
    pub log_likelihood: LogLikelihoods,
}
