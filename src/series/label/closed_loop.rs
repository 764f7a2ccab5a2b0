//! Whether the controller controls the mixture by its oxygen sensors.
//!
//! Determined by the fuel system status (PID 03) and the commanded ratio (PID 44) where the car has them. Where it has
//! not, a short term trim held at exactly 0 is the sign, together with a reason for it: overrun, or high load.

use crate::{
    bank::Bank,
    series::timeline::{moment::Moment, quantity::Quantity},
};

/// Load above which a short term trim held at 0 means enrichment, percent (common practice).
const ENRICHMENT_LOAD_PCT: f64 = 85.0;
/// Load below which a moving engine is driven by its wheels, percent (common practice).
const OVERRUN_LOAD_PCT: f64 = 26.0;
/// Engine speed below which fuel is not cut, rpm (common practice).
const OVERRUN_LEAST_RPM: f64 = 1000.0;
/// Largest distance of the commanded ratio from 1 in closed loop (assumed).
const RATIO_TOLERANCE: f64 = 0.01;
/// Seconds after which a short term trim held at 0 means that there is no closed loop (assumed).
const PARKED_FOR_GOOD_S: u32 = 60;

/// How the mixture is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mixture {
    /// By the oxygen sensors, in closed loop.
    ClosedLoop,
    /// By a map, in open loop.
    OpenLoop,
    /// No fuel is injected.
    FuelCut,
}

/// Follows the state of the mixture control.
#[derive(Debug, Clone, Default)]
pub struct MixtureControl {
    /// Whether a commanded ratio other than 0 was seen, so that the reading is valid.
    ratio_lives: bool,
    parked_s: u32,
}

impl MixtureControl {
    /// Takes a moment in which the engine runs.
    pub fn state(&mut self, moment: &Moment) -> Mixture {
        let parked = is_parked(moment);
        self.parked_s = if parked { self.parked_s + 1 } else { 0 };
        let overrun = is_overrun(moment);
        let open = match loop_is_open(moment) {
            Some(open) => open || self.ratio_is_off(moment),
            None => self.ratio_is_off(moment) || self.opened_by_signs(moment, parked),
        };
        match (open || parked, overrun) {
            (true, true) => Mixture::FuelCut,
            _ if open => Mixture::OpenLoop,
            _ => Mixture::ClosedLoop,
        }
    }

    fn opened_by_signs(&self, moment: &Moment, parked: bool) -> bool {
        let much_load = moment
            .get(Quantity::Load)
            .is_some_and(|load| load >= ENRICHMENT_LOAD_PCT);
        parked && (much_load || self.parked_s > PARKED_FOR_GOOD_S)
    }

    /// A ratio of exactly 0 is a reading that the car does not have.
    fn ratio_is_off(&mut self, moment: &Moment) -> bool {
        let Some(ratio) = moment.get(Quantity::CommandedRatio) else {
            return false;
        };
        self.ratio_lives |= ratio > 0.0;
        self.ratio_lives && (ratio - 1.0).abs() > RATIO_TOLERANCE
    }
}

/// Whether the loop is open by the fuel system status of SAE J1979 PID 03: bit 0 open loop, not warm; bit 1 closed
/// loop; bit 2 open loop by load or overrun; bit 3 open loop by a fault; bit 4 closed loop with a faulty sensor. `None`
/// where the status says nothing.
fn loop_is_open(moment: &Moment) -> Option<bool> {
    let codes = [Quantity::LoopStatus1, Quantity::LoopStatus2]
        .into_iter()
        .filter_map(|quantity| moment.get(quantity))
        .map(|code| code as u8)
        .filter(|code| *code != 0);
    codes
        .map(|code| code & 0b0_1101 != 0)
        .reduce(|one, other| one || other)
}

/// Whether all known short term trims are at exactly 0.
fn is_parked(moment: &Moment) -> bool {
    let mut known = Bank::ALL
        .map(Quantity::short_trim)
        .into_iter()
        .filter_map(|quantity| moment.known(quantity))
        .peekable();
    known.peek().is_some() && known.all(|trim| trim.mean == 0.0 && trim.last == 0.0)
}

/// Whether the wheels drive the engine: the car moves, above idle speed, with hardly any load.
fn is_overrun(moment: &Moment) -> bool {
    let above = |quantity, limit| moment.get(quantity).is_some_and(|value| value > limit);
    let moving = moment
        .get(Quantity::VehicleSpeed)
        .is_none_or(|speed| speed > 5.0);
    moving
        && above(Quantity::EngineSpeed, OVERRUN_LEAST_RPM)
        && moment
            .get(Quantity::Load)
            .is_some_and(|load| load < OVERRUN_LOAD_PCT)
}
