//! Cars to be examined: drawings, and how engines of that drawing behave. Wider than the judgement assumes.

use pintle::{
    simulator::{
        bus::Bus,
        car::{
            fleet::CarSpec,
            nature::{
                CanisterNature, FaultPhysics, Nature, Parts, Purging, RailNature, Regulator,
                Trimming, WanderSizes,
            },
        },
    },
    vehicle::{AirMetering, Injection, Vehicle},
};
use pintle_protocol::service::Services;

use crate::dice::Dice;

/// Cylinder numbers by bank, with how often the layout is met: makers number V engines in several ways.
const LAYOUTS: [(f64, &[&[u8]]); 12] = [
    (0.12, &[&[1, 2, 3]]),
    (0.38, &[&[1, 2, 3, 4]]),
    (0.05, &[&[1, 3], &[2, 4]]),
    (0.04, &[&[1, 2, 3, 4, 5]]),
    (0.04, &[&[1, 2, 3, 4, 5, 6]]),
    (0.04, &[&[1, 2, 3], &[4, 5, 6]]),
    (0.09, &[&[1, 3, 5], &[2, 4, 6]]),
    (0.06, &[&[1, 2, 3], &[4, 5, 6]]),
    (0.03, &[&[1, 2, 3], &[6, 5, 4]]),
    (0.08, &[&[1, 3, 5, 7], &[2, 4, 6, 8]]),
    (0.05, &[&[1, 2, 3, 4], &[5, 6, 7, 8]]),
    (0.02, &[&[1, 4, 6, 7], &[2, 3, 5, 8]]),
];

/// Gearing of a usual car, rpm for each km/h.
const USUAL_GEARS: [f64; 5] = [115.0, 64.0, 42.0, 31.0, 25.0];

/// Parameters beyond the usual ones: the logger decides what is asked.
const MORE_PIDS: &[u8] = &[0x08, 0x09, 0x0A, 0x0B, 0x10, 0x22, 0x23, 0x52, 0x59, 0x6D];

/// One car's drawing; `two_banks` for faults that set banks apart.
pub fn drawing(dice: &mut Dice, two_banks: bool) -> CarSpec {
    let fitting = LAYOUTS.map(|(weight, banks)| {
        if banks.len() < 2 && two_banks {
            (0.0, banks)
        } else {
            (weight, banks)
        }
    });
    let banks = dice.weighed(&fitting);
    let cylinders: usize = banks.iter().map(|bank| bank.len()).sum();
    let displacement_l = cylinders as f64 * dice.between(0.27, 0.62);
    let gearing = dice.between(0.8, 1.2);
    CarSpec {
        id: "drawn",
        label: "drawn",
        displacement_l,
        banks,
        injection: dice.weighed(&[(0.7, Injection::Port), (0.3, Injection::Direct)]),
        air_metering: dice.weighed(&[(0.6, AirMetering::Maf), (0.4, AirMetering::Map)]),
        coil_ohms: [11.5, 12.5],
        rail_kpa: [370.0, 400.0],
        idle_rpm: dice.between(600.0, 900.0),
        mass_kg: 800.0 + 420.0 * displacement_l * dice.between(0.8, 1.3),
        rpm_per_km_h: USUAL_GEARS.map(|ratio| ratio * gearing),
        bus: Bus::Can11At500,
        services: Services::SaeJ1979,
        padding: None,
        more_pids: MORE_PIDS,
        transmission_answers: false,
        counter_block_rev: dice.weighed(&[(0.75, 0.0), (0.15, 200.0), (0.10, 1000.0)]),
        vin: "000HRBRDRWN000000",
        calibration: "HR-DRAWN-0000-A0",
    }
}

/// How engines of the drawing behave and how this one has aged.
pub fn nature(dice: &mut Dice) -> Nature {
    let wander = dice.between(1.0, 1.3);
    Nature {
        parts: Parts {
            breathing: 1.0 + dice.normal(0.07).clamp(-0.18, 0.18),
            injector_spread: dice.between(0.01, 0.04),
            opening_spread_ms: dice.between(0.005, 0.02),
            maf_error: dice.normal(0.015).clamp(-0.04, 0.04),
            maf_slope: dice.normal(0.010),
            sensor_spread: dice.between(0.0, 0.008),
            curve_spread: dice.between(0.7, 1.5),
            curve_fall: dice.between(0.0, 0.05),
            healthy_failing: dice.log_between(1e-6, 3e-4),
        },
        faults: FaultPhysics {
            burnt_at_sensor: dice.between(0.0, 0.9),
            restriction_power: dice.between(-0.1, 0.3),
            lean_limit: dice.between(1.20, 1.50),
            lean_rise: dice.between(0.1, 0.3),
            spark_power: dice.between(0.3, 2.5),
            compression_failing: dice.weighed(&[(0.25, 0.0), (0.75, 1.0)])
                * dice.between(0.05, 1.0),
            compression_rpm: dice.between(300.0, 1200.0),
            random_power: dice.between(-0.5, 1.0),
            unevenness: dice.between(0.0, 0.8),
            least_first: dice.index(8),
            pump_growth: dice.between(0.0, 0.9),
            pump_power: dice.between(0.7, 1.8),
            maf_growth: dice.between(-0.2, 0.45),
            leak_power: dice.between(0.7, 1.8),
            own_leak_share: dice.between(0.6, 1.0),
            drip_power: dice.between(0.0, 0.8),
            exhaust_leak_power: dice.between(0.6, 2.0),
            blocked_power: dice.between(1.3, 2.6),
            blocked_flow: dice.between(10.0, 20.0),
            purge_power: dice.between(0.6, 1.6),
            ..Nature::USUAL.faults
        },
        trimming: Trimming {
            stop: dice.weighed(&[(0.15, 0.125), (0.25, 0.20), (0.45, 0.25), (0.15, 0.35)]),
            jump: dice.between(0.006, 0.025),
            ramp: dice.between(0.004, 0.015),
            learn_s: dice.log_between(15.0, 150.0),
        },
        purging: Purging {
            idle: dice.between(0.0, 0.3),
            driving: dice.between(0.1, 0.7),
            pause_s: dice.between(20.0, 90.0),
            period_s: dice.between(150.0, 500.0),
            most_vapour: dice.between(0.0, 0.15),
        },
        canister: Nature::USUAL.canister,
        rail: Nature::USUAL.rail,
        wander: WanderSizes {
            period: 0.011 * wander,
            trip: 0.017 * wander,
            contrast: 0.011 * wander,
            drift: dice.between(0.006, 0.015),
            bank_drift: dice.between(0.001, 0.004),
            refuel: (0.2, 0.03),
            ..WanderSizes::USUAL
        },
    }
}

/// How far the dirt of one bank lies from that of all, as a share: the mean of so many injectors that each have their own, and
/// what else is not the same on both sides, as heat after the engine was stopped (assumed).
#[allow(dead_code)] // one of the benches does without
pub fn dirt_of_a_bank(spec: &CarSpec, nature: &Nature, dice: &mut Dice) -> f64 {
    let cylinders = spec.cylinder_count() as f64 / spec.banks.len() as f64;
    let of_one = SPREAD_OF_UNEVEN * nature.faults.unevenness;
    (of_one / cylinders.sqrt()).hypot(dice.between(0.0, 0.2))
}

/// Standard deviation of dirt that lies evenly between this much less and this much more.
const SPREAD_OF_UNEVEN: f64 = 0.75;

/// The rail of one car: its range as stated, how it is regulated, and how right its sensor is.
#[allow(dead_code)] // one of the benches does without
pub fn with_rail(spec: CarSpec, nature: Nature, dice: &mut Dice) -> (CarSpec, Nature) {
    let least = dice.between(240.0, 420.0);
    let width = dice.between(20.0, 50.0);
    let rail = RailNature {
        regulator: dice.weighed(&[
            (0.55, Regulator::Fixed),
            (0.25, Regulator::FollowsManifold),
            (0.20, Regulator::Moved),
        ]),
        set: dice.between(0.1, 0.9),
        sensor_gain: if dice.chance(0.05) {
            dice.between(0.65, 1.4)
        } else {
            1.0 + dice.normal(0.015)
        },
    };
    let rail_kpa = match spec.injection {
        Injection::Port => [least, least + width],
        Injection::Direct => [4_000.0, 20_000.0],
    };
    (CarSpec { rail_kpa, ..spec }, Nature { rail, ..nature })
}

/// What a purge valve that does not shut draws in a trip of so many seconds, and how a warm engine settles. The canister may
/// hold nothing worth speaking of beside what a warm tank makes, or give nearly all in the first minutes; a fault's size is
/// what it brings on an average of the trip. One in four has been drawn on for days: of the fault's size is then the air.
pub fn with_canister(nature: Nature, stuck: bool, trip_s: f64, dice: &mut Dice) -> Nature {
    // one to three litres of charcoal, 30 to 60 bed volumes, 40 L/min wide open
    let empties_s = dice.log_between(50.0, 300.0);
    let stands_open = dice.log_between(0.1, 1.0);
    let of_all = dice.weighed(&[(0.3, 0.0), (0.7, 1.0)]) * dice.between(0.2, 1.0);
    let air = dice.between(0.0, 1.0);
    let long_empty = dice.chance(0.25);
    let little = dice.between(0.0, 0.5);
    let purged = USUAL_VACUUM * stands_open * trip_s / empties_s;
    let left = -(-purged).exp_m1() / purged;
    let (fed, held, air) = match stuck {
        true if long_empty => (little * (1.0 - of_all), little * of_all, 1.0),
        true => {
            let of_all = f64::min(of_all, (1.0 - 1.0 / MOST_VAPOUR) / (1.0 - left));
            let all = 1.0 / (1.0 - of_all + of_all * left);
            (all * (1.0 - of_all), all * of_all, air)
        }
        false => (1.0 - of_all, of_all, air),
    };
    Nature {
        canister: CanisterNature {
            fed,
            held,
            empties_s,
            on_average: fed + held * left,
        },
        faults: FaultPhysics {
            purge_stands_open: stands_open,
            purge_air: air,
            ..nature.faults
        },
        wander: WanderSizes {
            settling: (dice.between(0.010, 0.025), dice.log_between(120.0, 480.0)),
            ..nature.wander
        },
        ..nature
    }
}

/// Vacuum on the purge valve over a trip, as the share of its choked flow.
const USUAL_VACUUM: f64 = 0.9;
/// Most that a canister gives in the beginning, against what it gives on an average of a trip.
const MOST_VAPOUR: f64 = 3.0;

/// The vehicle file as owners keep it: in full, in part or not at all.
pub fn vehicle_file(spec: &CarSpec, dice: &mut Dice) -> Vehicle {
    let full = spec.vehicle();
    let [in_full, in_part] = [dice.chance(0.45), dice.chance(0.55)];
    if in_full {
        return full;
    }
    if !in_part {
        return Vehicle::default();
    }
    let mut kept = || dice.chance(0.5);
    Vehicle {
        cylinders: full.cylinders.filter(|_| kept()),
        banks: full.banks.filter(|_| kept()),
        displacement_l: full.displacement_l.filter(|_| kept()),
        injection: full.injection.filter(|_| kept()),
        air_metering: full.air_metering.filter(|_| kept()),
        ..Vehicle::default()
    }
}
