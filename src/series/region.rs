//! The four stretches of operation in which corrections are averaged.

use serde::{Deserialize, Serialize};

/// A stretch of operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Region {
    /// Idling, warm, standing.
    WarmIdle,
    /// About 2500 rpm without load, standing.
    RaisedIdle,
    /// Driving with little load.
    LightCruise,
    /// Pulling.
    Loaded,
}

impl Region {
    /// Every region once.
    pub const ALL: [Self; 4] = [
        Self::WarmIdle,
        Self::RaisedIdle,
        Self::LightCruise,
        Self::Loaded,
    ];

    /// The identifier used in machine-readable output.
    pub const fn id(self) -> &'static str {
        match self {
            Self::WarmIdle => "warm_idle",
            Self::RaisedIdle => "raised_idle",
            Self::LightCruise => "light_cruise",
            Self::Loaded => "loaded",
        }
    }
}
