//! Whether the last seconds count for the step, or why not and what to do about it.

use std::{fmt, mem::discriminant};

use super::step::Bounds;
use crate::series::{
    cell::Cell,
    region::Region,
    warm::{WARM_BY_TIME_S, WARM_C},
};

/// What is to be told of the last seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feedback {
    /// Nothing is known yet.
    Waiting,
    /// They count.
    Counts,
    /// They count for the finding, but the earlier captures were hardly ever here, so that nothing can be compared.
    Elsewhere {
        /// Where time is wanted most.
        wanted: Option<(Region, Cell)>,
    },
    /// They count for another step that is still to be held; its title.
    ForAnother(&'static str),
    /// They do not count.
    Not(Reason),
    /// Nothing has to be held any more.
    Finished,
}

/// Why seconds do not count for a step: what the engine is doing, and what would be wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// The engine does not turn.
    EngineOff,
    /// Needed readings do not come.
    NoReadings,
    /// A reading cannot be.
    Implausible,
    /// The engine is not warm.
    Cold {
        /// Coolant, °C.
        coolant_c: Option<f64>,
    },
    /// The car tells no road speed, without which this step cannot be told from others.
    NoSpeed,
    /// The car tells no load, without which this step cannot be told from others.
    NoLoad,
    /// Rolling where it should stand.
    NotStanding,
    /// Standing or creeping where it should drive.
    NotDriving,
    /// Another engine speed is wanted.
    EngineSpeed {
        /// Now, rpm.
        rpm: f64,
        /// Wanted, rpm.
        hold: Bounds,
    },
    /// Another load is wanted.
    Load {
        /// Now, percent.
        pct: f64,
        /// Wanted, percent.
        hold: Bounds,
    },
    /// The mixture is run by a map.
    OpenLoop {
        /// Because much is asked of the engine.
        pulling: bool,
    },
    /// Fuel is cut in overrun.
    Overrun,
    /// Speed or load are moving.
    Moving {
        /// At a stand.
        standing: bool,
    },
    /// Codes were cleared and long trim is still settling.
    Relearning,
    /// It is held now, but the seconds judged are the ones before.
    Settling,
}

impl Feedback {
    /// Whether the words are the same but for their numbers.
    pub fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Not(one), Self::Not(two)) => discriminant(one) == discriminant(two),
            (one, two) => discriminant(one) == discriminant(two),
        }
    }

    /// What to do, if anything.
    pub fn advice(&self) -> Option<&'static str> {
        match self {
            Self::Not(reason) => Some(reason.advice()),
            Self::Counts => Some("Keep it there."),
            Self::Elsewhere { .. } => Some("Go where the earlier captures were."),
            Self::ForAnother(_) => Some("Carry on, and come back to this step afterwards."),
            Self::Waiting | Self::Finished => None,
        }
    }
}

impl Reason {
    /// What to do about it, one sentence.
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::EngineOff => "Start the engine.",
            Self::NoReadings => "Check the plug and wait; the car may be asked for too much.",
            Self::Implausible => "Have the sensor and its wiring looked at if it stays.",
            Self::Cold { .. } => "Let it idle, or drive gently.",
            Self::NoSpeed | Self::NoLoad => "Skip this step: on this car it cannot count.",
            Self::NotStanding => "Stop where it is safe and stand still.",
            Self::NotDriving => "Drive off when the road is clear.",
            Self::EngineSpeed { rpm, hold } => match (hold.from, hold.to) {
                (None, _) => "Foot off the pedal.",
                (_, None) => "Take a lower gear.",
                (Some(from), _) if *rpm < from => "A little more pedal.",
                _ => "A little less pedal.",
            },
            Self::Load { pct, hold } => match hold.from {
                Some(from) if *pct < from => "Press on in a high gear, best uphill.",
                _ => "Ease the pedal, or take a lower gear.",
            },
            Self::OpenLoop { pulling: true } => "Ease the pedal: floored does not count.",
            Self::OpenLoop { pulling: false } => "Wait, or drive on a little; it comes by itself.",
            Self::Overrun => "Give a little gas.",
            Self::Moving { standing: true } => "Leave pedal, steering and switches alone.",
            Self::Moving { standing: false } => "Hold the pedal still.",
            Self::Relearning => "Carry on: it is kept aside until the trims have settled.",
            Self::Settling => "Keep it there: it counts in a moment.",
        }
    }
}

impl fmt::Display for Feedback {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Waiting => f.write_str("waiting for readings"),
            Self::Counts => f.write_str("counts"),
            Self::Elsewhere { wanted: None } => {
                f.write_str("counts, but the earlier captures were not here")
            }
            Self::Elsewhere {
                wanted: Some((region, cell)),
            } => {
                f.write_str("counts, but not for comparing: hold ")?;
                Place(*region, *cell).fmt(f)
            }
            Self::ForAnother(title) => {
                let title = title.to_lowercase();
                write!(f, "counts for {title}, not for this step")
            }
            Self::Not(reason) => write!(f, "does not count: {reason}"),
            Self::Finished => f.write_str("nothing more has to be held"),
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EngineOff => f.write_str("the engine does not run"),
            Self::NoReadings => f.write_str("needed readings do not come"),
            Self::Implausible => f.write_str("a reading cannot be true"),
            Self::Cold {
                coolant_c: Some(coolant),
            } if *coolant < WARM_C => {
                // rounded down: 69.6 °C are not 70 yet
                let (coolant, warm) = (coolant.floor(), WARM_C);
                write!(f, "engine still cold ({coolant:.0} °C of {warm:.0})")
            }
            Self::Cold {
                coolant_c: Some(coolant),
            } => write!(f, "coolant still climbing ({coolant:.0} °C)"),
            Self::Cold { coolant_c: None } => {
                let minutes = WARM_BY_TIME_S / 60.0;
                write!(f, "no coolant reading, so warm after {minutes:.0} min")
            }
            Self::NoSpeed => f.write_str("no road speed reading"),
            Self::NoLoad => f.write_str("no load reading"),
            Self::NotStanding => f.write_str("the car rolls"),
            Self::NotDriving => f.write_str("the car stands or creeps"),
            Self::EngineSpeed { rpm, hold } => {
                // finer steps could not be read, nor held
                write!(f, "rpm {:.0}, hold {hold}", (rpm / 50.0).round() * 50.0)
            }
            Self::Load { pct, hold } => write!(f, "load {pct:.0} %, hold {hold} %"),
            Self::OpenLoop { pulling: true } => f.write_str("open loop under much load"),
            Self::OpenLoop { pulling: false } => f.write_str("not in closed loop yet"),
            Self::Overrun => f.write_str("overrun, no fuel is injected"),
            Self::Moving { standing: true } => f.write_str("load moves"),
            Self::Moving { standing: false } => f.write_str("speed or load moves"),
            Self::Relearning => f.write_str("trims still settling after codes were cleared"),
            Self::Settling => f.write_str("not steady for long enough yet"),
        }
    }
}

/// A cell in words; at a stand its load is nobody's choice.
struct Place(Region, Cell);

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(region, cell) = self;
        let bounds = |(low, high): (f64, Option<f64>)| Bounds {
            from: Some(low),
            to: high,
        };
        write!(f, "{} rpm", bounds(cell.engine_rpm()))?;
        match region {
            Region::WarmIdle | Region::RaisedIdle => Ok(()),
            Region::LightCruise | Region::Loaded => {
                write!(f, " at {} % load", bounds(cell.load_pct()))
            }
        }
    }
}
