//! One explanation that is weighed: a cause at a place with a size, perhaps with a second cause beside it, scored piece
//! by piece.

use crate::cause::Cause;

use super::{evidence::codes::Suspect, forward::Place, readings::LogLikelihoods};

/// One explanation, scored.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// The cause; of two, the one that explains more of what was read.
    pub cause: Cause,
    /// Where it sits.
    pub place: Place,
    /// Whether the place's bank is told apart from others by knowledge, not only assumed.
    pub bank_known: bool,
    /// How bad, in the unit of the cause's severity quantity.
    pub size: Option<f64>,
    /// Another cause at the same time, and its place.
    pub beside: Option<Suspect>,
    /// Logarithm of its weight before any evidence.
    pub log_weight: f64,
    /// How well it fits, piece by piece of the evidence that was read.
    pub log_likelihood: LogLikelihoods,
}
