//! The steps in their order: what to hold and why, and the cautions that belong there.

use std::fmt;

use crate::{
    caution::Caution,
    series::region::{DRIVING_KMH, IDLE_MOST_RPM, LOADED_PCT, RAISED_RPM, Region, STANDING_KMH},
};

/// What a step is there for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// Until the engine is warm.
    WarmUp,
    /// Holding a region.
    Hold(Region),
    /// Ending the recording.
    Finish,
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// What it is there for.
    pub task: Task,
    /// A few words.
    pub title: &'static str,
    /// What to do, one sentence.
    pub instruction: &'static str,
    /// Why, one sentence.
    pub why: &'static str,
    /// Its dangers.
    pub cautions: &'static [Caution],
}

/// The steps in their order: standing first, since it needs no driver and no road.
pub const STEPS: [Step; 6] = [
    Step {
        task: Task::WarmUp,
        title: "Warm up",
        instruction: "Let the engine idle, or drive gently, until it is warm.",
        why: "A cold engine is run rich by a map: its corrections say nothing about injectors.",
        cautions: &[Caution::ExhaustGas, Caution::MovingParts, Caution::Wheels],
    },
    Step {
        task: Task::Hold(Region::WarmIdle),
        title: "Warm idle",
        instruction: "Stand still, foot off the pedal; lights, heater and air conditioning off.",
        why: "At idle least fuel and air flow: small leaks, drips and a weak cylinder show most.",
        cautions: &[
            Caution::ExhaustGas,
            Caution::MovingParts,
            Caution::Wheels,
            Caution::Catalyst,
        ],
    },
    Step {
        task: Task::Hold(Region::RaisedIdle),
        title: "Raised idle",
        instruction: "Stand still in neutral or park and hold 2500 rpm steadily.",
        why: "What fades from idle to 2500 rpm is air leaking in; what stays is fuel or meter.",
        cautions: &[
            Caution::ExhaustGas,
            Caution::MovingParts,
            Caution::Wheels,
            Caution::Catalyst,
        ],
    },
    Step {
        task: Task::Hold(Region::LightCruise),
        title: "Light cruise",
        instruction: "Drive at a steady 50 to 90 km/h on the level, 1500 to 3000 rpm, pedal still.",
        why: "The quietest corrections of all: a restricted injector shows here as at idle.",
        cautions: &[Caution::Road, Caution::Catalyst],
    },
    Step {
        task: Task::Hold(Region::Loaded),
        title: "Loaded pulls",
        instruction: "Pull uphill in a high gear at more than half load, 10 s or longer, not floored.",
        why: "Much fuel flows: a weak pump, a clogged filter or a weak spark shows only here.",
        cautions: &[Caution::Road, Caution::Catalyst],
    },
    Step {
        task: Task::Finish,
        title: "Stop and save",
        instruction: "Stop where it is safe and end the recording.",
        why: "The log now holds what can be asked for; read the codes before any are cleared.",
        cautions: &[Caution::Road],
    },
];

/// What has to be held for a region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// Vehicle speed, km/h.
    pub speed_km_h: Bounds,
    /// Engine speed, rpm.
    pub engine_rpm: Bounds,
    /// Load, percent.
    pub load_pct: Bounds,
}

/// From a value, up to but without another; without an end where it is `None`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bounds {
    /// The least.
    pub from: Option<f64>,
    /// What must not be reached.
    pub to: Option<f64>,
}

/// "2500 rpm" as a foot can hold it, rpm: narrower than the region, so that two logs held to it are alike.
const HELD_RPM: (f64, f64) = (2300.0, 2700.0);

impl Hold {
    /// The region as it is counted; at raised idle `closely`, so that logs held to it are alike.
    pub fn of(region: Region, closely: bool) -> Self {
        let (free, standing, driving) = (
            Bounds::default(),
            Bounds::below(STANDING_KMH),
            Bounds::from(DRIVING_KMH),
        );
        let raised = if closely {
            HELD_RPM
        } else {
            (*RAISED_RPM.start(), *RAISED_RPM.end())
        };
        let (speed_km_h, engine_rpm, load_pct) = match region {
            Region::WarmIdle => (standing, Bounds::below(IDLE_MOST_RPM), free),
            Region::RaisedIdle => (standing, Bounds::between(raised), free),
            Region::LightCruise => (
                driving,
                Bounds::from(IDLE_MOST_RPM),
                Bounds::below(LOADED_PCT),
            ),
            Region::Loaded => (driving, free, Bounds::from(LOADED_PCT)),
        };
        Self {
            speed_km_h,
            engine_rpm,
            load_pct,
        }
    }
}

impl Bounds {
    const fn below(to: f64) -> Self {
        Self {
            from: None,
            to: Some(to),
        }
    }

    const fn from(from: f64) -> Self {
        Self {
            from: Some(from),
            to: None,
        }
    }

    /// Both ends.
    pub const fn between((from, to): (f64, f64)) -> Self {
        Self {
            from: Some(from),
            to: Some(to),
        }
    }

    /// Whether a value lies inside.
    pub fn hold(&self, value: f64) -> bool {
        self.from.is_none_or(|from| value >= from) && self.to.is_none_or(|to| value < to)
    }
}

impl fmt::Display for Bounds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.from, self.to) {
            (Some(from), Some(to)) => write!(f, "{from:.0} to {to:.0}"),
            (Some(from), None) => write!(f, "{from:.0} or more"),
            (None, Some(to)) => write!(f, "less than {to:.0}"),
            (None, None) => f.write_str("any"),
        }
    }
}
