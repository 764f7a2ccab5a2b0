//! Why a moment counts, or the first reason why it does not.

pub(super) mod alike;
pub(super) mod closed_loop;
pub(super) mod labeller;
pub(super) mod plausible;
pub mod region;
pub mod relearn;
pub mod warm;

use serde::{Deserialize, Serialize};

/// The one label of a moment. The order is that in which the reasons are checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Label {
    /// The engine does not turn.
    EngineOff,
    /// A required reading is too old.
    Stale,
    /// A sensor outside physics, stuck, or jumping.
    Implausible,
    /// The engine is not warm yet.
    Cold,
    /// The mixture is not under closed-loop control.
    OpenLoop,
    /// Overrun without fuel.
    FuelCut,
    /// Speed or load changes fast.
    Transient,
    /// Codes were cleared and long term trim is still settling; kept aside.
    Relearn,
    /// The moment counts.
    Used,
}

impl Label {
    /// Every label once, in the order in which they are tried.
    pub const ALL: [Self; 9] = [
        Self::EngineOff,
        Self::Stale,
        Self::Implausible,
        Self::Cold,
        Self::OpenLoop,
        Self::FuelCut,
        Self::Transient,
        Self::Relearn,
        Self::Used,
    ];
}
