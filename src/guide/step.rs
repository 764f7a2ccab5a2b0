//! The steps in their order: what to do, why, and the cautions that belong there.

use crate::{
    caution::Caution,
    series::label::region::{
        DRIVING_KMH, IDLE_MOST_RPM, LOADED_PCT, RAISED_RPM, Region, STANDING_KMH,
    },
};

/// Purpose of a step.
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
    /// Purpose of the step.
    pub task: Task,
    /// Title, a few words.
    pub title: &'static str,
    /// What to do, in one sentence.
    pub instruction: &'static str,
    /// Why to do it, in one sentence.
    pub why: &'static str,
    /// Dangers of the step.
    pub cautions: &'static [Caution],
}

/// The steps in order: standing first, since it needs no driver and no road.
pub const STEPS: [Step; 6] = [
    Step {
        task: Task::WarmUp,
        title: "Warm up",
        instruction: "Let the engine idle, or drive gently, until it is warm.",
        why: "A cold engine runs rich on purpose: its fuel trims say nothing about injectors.",
        cautions: &[Caution::ExhaustGas, Caution::MovingParts, Caution::Wheels],
    },
    Step {
        task: Task::Hold(Region::WarmIdle),
        title: "Warm idle",
        instruction: "Stand still, foot off the pedal; lights, heater and air conditioning off.",
        why: "Flow is lowest at idle: air leaks, leaking injectors and weak cylinders show most.",
        cautions: &[
            Caution::ExhaustGas,
            Caution::MovingParts,
            Caution::Wheels,
            Caution::Catalyst,
        ],
    },
    Step {
        task: Task::Hold(Region::RaisedIdle),
        title: "2500 rpm",
        instruction: "Stand still in neutral or park and hold 2500 rpm steadily.",
        why: "Fuel trim that fades at 2500 rpm means an air leak; if it stays, fuel or MAF sensor.",
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
        why: "Fuel trims are steadiest here; a restricted injector shows as much as at idle.",
        cautions: &[Caution::Road, Caution::Catalyst],
    },
    Step {
        task: Task::Hold(Region::Loaded),
        title: "Under load",
        instruction: "Pull uphill in a high gear at over half load, 10 s or longer, not at full throttle.",
        why: "Fuel flow is high: a weak pump, a clogged filter or a weak spark shows only here.",
        cautions: &[Caution::Road, Caution::Catalyst],
    },
    Step {
        task: Task::Finish,
        title: "Finish",
        instruction: "Stop where it is safe and press q.",
        why: "Read the codes before anybody clears them.",
        cautions: &[Caution::Road],
    },
];

/// Operation to be held for a region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// Vehicle speed, km/h.
    pub speed_km_h: Bounds,
    /// Engine speed, rpm.
    pub engine_rpm: Bounds,
    /// Load, percent.
    pub load_pct: Bounds,
}

/// A range from a value up to, but not including, another; `None` is unbounded.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bounds {
    /// Smallest value of the range.
    pub from: Option<f64>,
    /// First value above the range.
    pub to: Option<f64>,
}

/// 2500 rpm as a foot can hold it, rpm: narrower than the region, so that two recordings are alike (assumed).
const HELD_RPM: (f64, f64) = (2300.0, 2700.0);

impl Hold {
    /// The bounds of a region; at 2500 rpm narrower with `closely`, so that recordings are alike.
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

    /// The range between both ends.
    pub const fn between((from, to): (f64, f64)) -> Self {
        Self {
            from: Some(from),
            to: Some(to),
        }
    }

    /// The bounds in words, as in `2300 to 2700 rpm` or `55 % or more`.
    pub fn words(&self, unit: &str) -> String {
        match (self.from, self.to) {
            (Some(from), Some(to)) => format!("{from:.0} to {to:.0} {unit}"),
            (Some(from), None) => format!("{from:.0} {unit} or more"),
            (None, Some(to)) => format!("less than {to:.0} {unit}"),
            (None, None) => "any".to_owned(),
        }
    }

    /// Whether a value is within the range.
    pub fn hold(&self, value: f64) -> bool {
        self.from.is_none_or(|from| value >= from) && self.to.is_none_or(|to| value < to)
    }
}
