//! What each cause would make the readings look like: the physics of the judgement, one file a
//! family.
//!
//! y is the natural logarithm of the total correction. For a bank with n cylinders y = ln(true air
//! / measured air) − ln(mean injector flow) − ½ ln(pressure ratio) + purge + blend + misfire terms;
//! every file here gives the term of its family, on top of a healthy engine. Sizes come as shares
//! (0.25 for 25 %).

mod air_meter;
mod compression;
mod exhaust;
mod fuel_pressure;
mod ignition;
mod injector;
mod intake_leak;
mod misfire;
mod purge_and_blend;

use crate::cause::Cause;

use super::engine::{BANKS, ByBank, ByRegion, Point, Points, REGIONS, Setting};

pub use intake_leak::choked_share;
pub use misfire::logistic;

/// The engine as hypothesised, and how it was run.
#[derive(Debug, Clone, Copy)]
pub struct Engine<'a> {
    /// How it is built.
    pub setting: &'a Setting,
    /// How it was run.
    pub points: &'a Points,
    /// Banks it has.
    pub banks: usize,
}

/// Where a cause sits. Banks count from 0, cylinders from 1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Place {
    /// Bank, where one is meant.
    pub bank: Option<usize>,
    /// Cylinder, where one is meant and named.
    pub cylinder: Option<u8>,
}

/// What a cause would make the readings look like.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Prediction {
    /// y by bank and region from mixture alone.
    pub mixture: ByBank,
    /// y by bank and region from the oxygen that misfires leave, which comes and goes with them.
    pub misfire_oxygen: ByBank,
    /// Share of firings that fail on the cylinder meant.
    pub failing: ByRegion,
    /// Share of firings that fail on each other cylinder of the same bank.
    pub failing_beside: ByRegion,
    /// Share of firings that fail on each cylinder of other banks.
    pub failing_elsewhere: ByRegion,
}

impl Prediction {
    /// Both terms of y.
    pub fn total(&self) -> ByBank {
        let mut total = self.mixture;
        for (bank, oxygen) in total.iter_mut().zip(&self.misfire_oxygen) {
            for (y, more) in bank.iter_mut().zip(oxygen) {
                *y += more;
            }
        }
        total
    }
}

/// One assumption about what stays unknown in a cause, with its weight; what the number means is
/// the family's affair.
pub type Variant = (f64, f64);

/// What stays unknown in a cause beside its size: weights sum to 1.
pub const fn variants(cause: Cause) -> &'static [Variant] {
    match cause {
        Cause::InjectorRestricted | Cause::InjectorLeaking => injector::LEAN_LIMITS,
        Cause::InjectorsRestrictedSeveral => injector::UNEVENNESS,
        Cause::AirMeterLow | Cause::AirMeterHigh => air_meter::GROWTHS,
        Cause::FuelPressureLow => fuel_pressure::GROWTHS,
        Cause::IgnitionWeak | Cause::CompressionLow | Cause::MisfireRandom => misfire::OXYGEN_SEEN,
        _ => &[(1.0, 0.0)],
    }
}

/// What a cause of this size at this place would look like.
pub fn predict(
    cause: Cause,
    place: Place,
    size: f64,
    variant: f64,
    engine: Engine<'_>,
) -> Prediction {
    match cause {
        Cause::NoneFound => Prediction::default(),
        Cause::InjectorRestricted => injector::restricted(place, size, variant, engine),
        Cause::InjectorsRestrictedSeveral => injector::several(place, size, variant, engine),
        Cause::InjectorDead => injector::dead(place, engine),
        Cause::InjectorLeaking => injector::leaking(place, size, variant, engine),
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => intake_leak::leak(place, size, engine),
        Cause::AirMeterLow => air_meter::wrong(-size, variant, engine),
        Cause::AirMeterHigh => air_meter::wrong(size, variant, engine),
        Cause::FuelPressureLow => fuel_pressure::low(size, variant, engine),
        Cause::FuelPressureHigh => fuel_pressure::high(size, engine),
        Cause::IgnitionWeak => ignition::weak(place, size, variant, engine),
        Cause::CompressionLow => compression::low(place, size, variant, engine),
        Cause::MisfireRandom => misfire::random(size, variant, engine),
        Cause::ExhaustLeak => exhaust::leak(place, size, engine),
        Cause::ExhaustBlockedOneBank => exhaust::blocked(place, size, engine),
        Cause::PurgeStuck => purge_and_blend::purge(size, engine),
        Cause::FuelBlend => purge_and_blend::blend(size, engine),
    }
}

impl Engine<'_> {
    /// y by bank and region from a formula for one bank (from 0) at one point of operation.
    fn each(&self, formula: impl Fn(usize, &Point) -> f64) -> ByBank {
        let mut all = [[0.0; REGIONS]; BANKS];
        for (bank, regions) in all.iter_mut().take(self.banks).enumerate() {
            for (y, point) in regions.iter_mut().zip(self.points) {
                *y = formula(bank, point);
            }
        }
        all
    }

    /// The same where only the bank meant, or every bank when none is meant, is concerned.
    fn at(&self, place: Place, formula: impl Fn(usize, &Point) -> f64) -> ByBank {
        self.each(|bank, point| match place.bank {
            Some(meant) if meant != bank => 0.0,
            _ => formula(bank, point),
        })
    }

    /// A value by region.
    fn by_region(&self, formula: impl Fn(&Point) -> f64) -> ByRegion {
        self.points.each_ref().map(formula)
    }

    /// Cylinders of the bank meant.
    fn cylinders_at(&self, place: Place) -> f64 {
        let bank = place.bank.unwrap_or(0);
        self.setting.of_bank(bank)
    }

    /// Warm idle.
    const fn idle(&self) -> &Point {
        let [idle, ..] = self.points;
        idle
    }

    /// Light cruise.
    const fn cruise(&self) -> &Point {
        let [_, _, cruise, _] = self.points;
        cruise
    }
}

#[cfg(test)]
mod tests;
