//! Whether the last seconds count for the step, and if not, what to do and why.

use std::{fmt, mem::discriminant};

use super::step::Bounds;
use crate::series::{
    gather::cell::Cell,
    label::{
        region::Region,
        warm::{WARM_BY_TIME_S, WARM_C},
    },
};

/// What the last seconds count for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feedback {
    /// Nothing is known yet.
    Waiting,
    /// They count.
    Counts,
    /// They count for the diagnosis, but not for the comparison: the earlier captures have hardly any such driving.
    Elsewhere {
        /// The cell in which most time is still wanted.
        wanted: Option<(Region, Cell)>,
    },
    /// They count for another step that is not done yet; its title.
    ForAnother(&'static str),
    /// They do not count.
    Not(Reason),
    /// No step is left.
    Finished,
}

/// Why seconds do not count for a step: what the engine does, and what is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// The engine does not turn.
    EngineOff,
    /// Required readings are missing.
    NoReadings,
    /// A reading cannot be true.
    Implausible,
    /// The engine is not warm.
    Cold {
        /// Coolant, °C.
        coolant_c: Option<f64>,
    },
    /// The car reports no road speed, without which this step cannot be recognised.
    NoSpeed,
    /// The car reports no load, without which this step cannot be recognised.
    NoLoad,
    /// Moving where it should stand.
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
    /// Fuel is metered in open loop.
    OpenLoop {
        /// Because the load is high.
        pulling: bool,
    },
    /// Fuel is cut in overrun.
    Overrun,
    /// Speed or load is changing.
    Moving {
        /// While standing.
        standing: bool,
    },
    /// Codes were cleared and the long term trim is still settling.
    Relearning,
    /// The operation is right now, but the seconds being judged are the earlier ones.
    Settling,
}

impl Feedback {
    /// Whether the words are equal except for their numbers.
    pub fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Not(one), Self::Not(two)) => discriminant(one) == discriminant(two),
            (one, two) => discriminant(one) == discriminant(two),
        }
    }

    /// What to do, in words; `None` where nothing is to be done.
    pub fn advice(&self) -> Option<String> {
        let words = match self {
            Self::Not(reason) => reason.advice(),
            Self::Counts => "Keep it there.",
            Self::Elsewhere { wanted: None } => "Drive as in the earlier captures.",
            Self::Elsewhere {
                wanted: Some((region, cell)),
            } => {
                let place = Place(*region, *cell);
                return Some(format!("Hold {place}, as in the earlier captures."));
            }
            Self::ForAnother(_) => "Carry on; come back to this step later.",
            Self::Waiting | Self::Finished => return None,
        };
        Some(words.to_owned())
    }
}

impl Reason {
    /// What to do about this reason, in one sentence.
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::EngineOff => "Start the engine.",
            Self::NoReadings => "Check the plug, then wait a little.",
            Self::Implausible => "If it stays, check the sensor and its wiring.",
            Self::Cold { .. } => "Let it idle, or drive gently.",
            Self::NoSpeed | Self::NoLoad => "Skip this step: it cannot count on this car.",
            Self::NotStanding => "Stop where it is safe.",
            Self::NotDriving => "Drive off when the road is clear.",
            Self::EngineSpeed { rpm, hold } => match (hold.from, hold.to) {
                (None, _) => "Take your foot off the pedal.",
                (_, None) => "Shift to a lower gear.",
                (Some(from), _) if *rpm < from => "Press the pedal a little more.",
                _ => "Ease the pedal a little.",
            },
            Self::Load { pct, hold } => match hold.from {
                Some(from) if *pct < from => "Accelerate in a high gear, best uphill.",
                _ => "Ease the pedal, or shift to a lower gear.",
            },
            Self::OpenLoop { pulling: true } => "Ease the pedal: full throttle does not count.",
            Self::OpenLoop { pulling: false } => "Wait, or drive on: closed loop starts by itself.",
            Self::Overrun => "Press the pedal lightly.",
            Self::Moving { standing: true } => "Leave pedal, steering and switches alone.",
            Self::Moving { standing: false } => "Hold the pedal still.",
            Self::Relearning => "Drive on until the fuel trims have settled.",
            Self::Settling => "Keep it there: it counts in a moment.",
        }
    }
}

impl fmt::Display for Feedback {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Waiting => f.write_str("waiting for readings"),
            Self::Counts => f.write_str("counts"),
            Self::Elsewhere { .. } => f.write_str("counts, but not for the comparison"),
            Self::ForAnother(title) => {
                let title = title.to_lowercase();
                write!(f, "counts for {title}, not for this step")
            }
            Self::Not(reason) => write!(f, "does not count: {reason}"),
            Self::Finished => f.write_str("no step is left"),
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EngineOff => f.write_str("the engine is off"),
            Self::NoReadings => f.write_str("readings are missing"),
            Self::Implausible => f.write_str("a reading cannot be true"),
            Self::Cold {
                coolant_c: Some(coolant),
            } if *coolant < WARM_C => {
                // rounded down: 69.6 °C are not 70 yet
                let (coolant, warm) = (coolant.floor(), WARM_C);
                write!(f, "cold engine ({coolant:.0} °C of {warm:.0} °C)")
            }
            Self::Cold {
                coolant_c: Some(coolant),
            } => write!(f, "coolant still warming up ({coolant:.0} °C)"),
            Self::Cold { coolant_c: None } => {
                let minutes = WARM_BY_TIME_S / 60.0;
                write!(f, "no coolant reading: warm after {minutes:.0} min")
            }
            Self::NoSpeed => f.write_str("no road speed reading"),
            Self::NoLoad => f.write_str("no load reading"),
            Self::NotStanding => f.write_str("the car is moving"),
            Self::NotDriving => f.write_str("the car stands or creeps"),
            Self::EngineSpeed { rpm, hold } => {
                // finer steps could not be read, nor held
                let rpm = (rpm / 50.0).round() * 50.0;
                write!(f, "{rpm:.0} rpm, hold {}", hold.words("rpm"))
            }
            Self::Load { pct, hold } => write!(f, "load {pct:.0} %, hold {}", hold.words("%")),
            Self::OpenLoop { pulling: true } => f.write_str("open loop at high load"),
            Self::OpenLoop { pulling: false } => f.write_str("not in closed loop yet"),
            Self::Overrun => f.write_str("overrun, no fuel injected"),
            Self::Moving { standing: true } => f.write_str("load is changing"),
            Self::Moving { standing: false } => f.write_str("speed or load is changing"),
            Self::Relearning => f.write_str("fuel trims relearn after clearing"),
            Self::Settling => f.write_str("not steady long enough yet"),
        }
    }
}

/// A cell in words; for a cell at a standstill without its load, which cannot be chosen there.
struct Place(Region, Cell);

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(region, cell) = self;
        let bounds = |(low, high): (f64, Option<f64>)| Bounds {
            from: Some(low),
            to: high,
        };
        f.write_str(&bounds(cell.engine_rpm()).words("rpm"))?;
        match region {
            Region::WarmIdle | Region::RaisedIdle => Ok(()),
            Region::LightCruise | Region::Loaded => {
                write!(f, " at {} load", bounds(cell.load_pct()).words("%"))
            }
        }
    }
}
