//! Gives each moment its label: the followers of single reasons are asked in turn.

use crate::{
    bank::Bank,
    series::{
        label::{
            Label,
            closed_loop::{Mixture, MixtureControl},
            plausible::{Plausibility, TRIM_PLACEHOLDER_PCT},
            region::{Region, is_standing},
            relearn::Relearn,
            warm::WarmUp,
        },
        timeline::{
            moment::{Moment, Window},
            quantity::Quantity,
        },
    },
};

/// Engine speed below which the engine does not run by itself, rpm (common practice).
const RUNNING_RPM: f64 = 300.0;
/// Change of vehicle speed within two seconds on either side above which a moment is a transient, km/h (assumed).
const FAST_SPEED_KMH: f64 = 10.0;
/// Change of load within two seconds on either side above which a moment is a transient while driving, points
/// (assumed).
const FAST_LOAD_PCT: f64 = 15.0;
/// Change of load within two seconds on either side above which a moment is a transient at a standstill, points
/// (assumed): a compressor that cuts in is one.
const FAST_LOAD_STANDING_PCT: f64 = 8.0;

/// Gives every moment its label; it must be given all moments in order.
#[derive(Debug, Clone, Default)]
pub struct Labeller {
    plausibility: Plausibility,
    warm_up: WarmUp,
    mixture: MixtureControl,
    relearn: Relearn,
    load_seen: bool,
    speed_seen: bool,
    long_trim_seen: bool,
}

impl Labeller {
    /// The label of the next moment, which lies in `region` or in none.
    pub fn label(&mut self, window: &Window<'_>, region: Option<Region>) -> Label {
        let moment = window.now;
        self.load_seen |= moment.get(Quantity::Load).is_some();
        self.speed_seen |= moment.get(Quantity::VehicleSpeed).is_some();
        self.long_trim_seen |= moment.get(Quantity::LongTrim1).is_some();
        let Some(engine_speed) = moment.get(Quantity::EngineSpeed) else {
            return Label::Stale;
        };
        if engine_speed < RUNNING_RPM {
            self.warm_up.engine_off();
            return Label::EngineOff;
        }
        self.running(window, region)
    }

    /// Whether running time replaced a coolant temperature that was missing or not credible.
    pub fn lacked_coolant(&self) -> bool {
        self.warm_up.lacked_coolant()
    }

    /// Label of a moment with the engine running. All but the last of the followers see every such moment, whichever
    /// reason wins.
    fn running(&mut self, window: &Window<'_>, region: Option<Region>) -> Label {
        let moment = window.now;
        let implausible = self.plausibility.is_implausible(window);
        let cold = self.warm_up.is_cold(moment);
        let mixture = self.mixture.state(moment);
        if self.is_stale(moment) {
            Label::Stale
        } else if implausible || has_placeholders_only(moment) {
            Label::Implausible
        } else if cold {
            Label::Cold
        } else if mixture == Mixture::OpenLoop {
            Label::OpenLoop
        } else if mixture == Mixture::FuelCut {
            Label::FuelCut
        } else if is_transient(window) {
            Label::Transient
        } else if self.relearn.is_settling(moment, region) {
            Label::Relearn
        } else {
            Label::Used
        }
    }

    /// Whether a required reading is missing: a fuel trim, and load, speed and long term trim where the car has
    /// reported them before.
    fn is_stale(&self, moment: &Moment) -> bool {
        let lacks = |quantity| moment.get(quantity).is_none();
        let no_trim = Bank::ALL.map(Quantity::short_trim).into_iter().all(lacks);
        let no_long_trim = Bank::ALL.map(Quantity::long_trim).into_iter().all(lacks);
        no_trim
            || (self.long_trim_seen && no_long_trim)
            || (self.load_seen && lacks(Quantity::Load))
            || (self.speed_seen && lacks(Quantity::VehicleSpeed))
    }
}

fn has_placeholders_only(moment: &Moment) -> bool {
    Bank::ALL
        .map(Quantity::short_trim)
        .into_iter()
        .filter_map(|quantity| moment.get(quantity))
        .all(|trim| trim <= TRIM_PLACEHOLDER_PCT)
}

fn is_transient(window: &Window<'_>) -> bool {
    let moves = |quantity, much| window.spread(quantity).is_some_and(|spread| spread > much);
    let much_load = if is_standing(window.now) {
        FAST_LOAD_STANDING_PCT
    } else {
        FAST_LOAD_PCT
    };
    moves(Quantity::VehicleSpeed, FAST_SPEED_KMH) || moves(Quantity::Load, much_load)
}
