//! Faults from hardly visible to gross, and pairs of them.

use pintle::{
    cause::{Cause, Scope},
    simulator::car::{fault::Fault, fleet::CarSpec},
};

use crate::dice::Dice;

/// Smallest and largest size drawn, every ratio alike often; `None` where there is no more or less.
pub const fn sizes(cause: Cause) -> Option<[f64; 2]> {
    Some(match cause {
        Cause::NoneFound | Cause::InjectorDead => return None,
        Cause::InjectorRestricted => [5.0, 80.0],
        Cause::InjectorsRestrictedSeveral => [4.0, 45.0],
        Cause::InjectorLeaking => [10.0, 250.0],
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => [3.0, 45.0],
        Cause::AirMeterLow | Cause::AirMeterHigh => [4.0, 35.0],
        Cause::FuelPressureLow => [6.0, 60.0],
        Cause::FuelPressureHigh => [6.0, 50.0],
        Cause::IgnitionWeak => [0.1, 60.0],
        Cause::CompressionLow => [12.0, 90.0],
        Cause::ExhaustLeak => [2.0, 30.0],
        Cause::ExhaustBlockedOneBank => [5.0, 45.0],
        Cause::PurgeStuck => [3.0, 35.0],
        Cause::FuelBlend => [6.0, 75.0],
        Cause::MisfireRandom => [0.1, 20.0],
    })
}

/// Whether the cause needs two banks.
pub const fn parts_banks(cause: Cause) -> bool {
    matches!(
        cause,
        Cause::IntakeLeakOneBank | Cause::ExhaustBlockedOneBank
    )
}

/// A fault as put into the simulated car: dirt on all banks counts once a bank.
pub fn draw(cause: Cause, spec: &CarSpec, dice: &mut Dice) -> Vec<Fault> {
    let size = sizes(cause).map_or(0.0, |[low, high]| dice.log_between(low, high));
    let severity = match cause {
        // less ethanol than before cannot be less than none
        Cause::FuelBlend if dice.chance(0.15) => -dice.between(5.0, 10.0),
        _ => size,
    };
    let one = |place| Fault {
        cause,
        place,
        severity,
    };
    let banks = spec.banks.len();
    match cause.scope() {
        _ if cause == Cause::NoneFound => Vec::new(),
        Scope::Engine => vec![one(None)],
        Scope::Cylinder => vec![one(Some(1 + dice.index(spec.cylinder_count()) as u8))],
        Scope::Bank if cause == Cause::InjectorsRestrictedSeveral && dice.chance(0.5) => {
            (1..=banks as u8).map(|bank| one(Some(bank))).collect()
        }
        Scope::Bank => vec![one(Some(1 + dice.index(banks) as u8))],
    }
}

/// Dirt is not the same on all banks: each gets its own, and the mean stays. `spread` is that of one bank's dirt, as a share.
pub fn part_dirt(faults: &mut [Fault], spread: f64, dice: &mut Dice) {
    let dirty = faults
        .iter()
        .filter(|fault| fault.cause == Cause::InjectorsRestrictedSeveral);
    let shares: Vec<f64> = dirty
        .map(|_| (1.0 + dice.normal(spread)).max(0.1))
        .collect();
    let mean = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    for (fault, share) in faults.iter_mut().zip(shares) {
        fault.severity *= share / mean;
    }
}

/// Pairs that are met together.
pub const PAIRS: [[Cause; 2]; 6] = [
    [Cause::InjectorRestricted, Cause::IntakeLeak],
    [Cause::IgnitionWeak, Cause::InjectorsRestrictedSeveral],
    [Cause::InjectorRestricted, Cause::AirMeterLow],
    [Cause::InjectorDead, Cause::IntakeLeak],
    [Cause::CompressionLow, Cause::ExhaustLeak],
    [Cause::FuelPressureLow, Cause::InjectorRestricted],
];
