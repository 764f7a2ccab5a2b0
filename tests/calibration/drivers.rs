//! Drivers and weather: what is recorded of a car, from an idle of four minutes to a long drive.

use pintle::simulator::car::trip::{Driving, Stretch, Trip};

use crate::dice::Dice;

#[derive(Clone, Copy, PartialEq)]
enum Driver {
    IdlesOnly,
    IdlesAndHolds,
    DrivesOnly,
    TestDrive,
    Commutes,
}

const DRIVERS: [(f64, Driver); 5] = [
    (0.12, Driver::IdlesOnly),
    (0.18, Driver::IdlesAndHolds),
    (0.15, Driver::DrivesOnly),
    (0.35, Driver::TestDrive),
    (0.20, Driver::Commutes),
];

/// The recorded trips of one car, one to three.
pub fn trips(dice: &mut Dice) -> Vec<Trip> {
    let count = dice.weighed(&[(0.65, 1), (0.20, 2), (0.15, 3)]);
    let same_tank = dice.chance(0.6);
    let period = dice.seed();
    let cleared = dice.chance(0.08);
    let one = |index| {
        let mut trip = trip(dice);
        if same_tank {
            trip.period = period;
        }
        trip.cleared = cleared && index == 0;
        trip
    };
    (0..count).map(one).collect()
}

/// A test drive on a warm engine: idle, 2500 rpm held, road, in so many minutes.
#[allow(dead_code)] // one of the benches does without
pub fn test_drive(minutes: f64, dice: &mut Dice) -> Trip {
    Trip {
        coolant_c: dice.between(78.0, 92.0),
        stretches: stretches(Driver::TestDrive, 60.0 * minutes, dice),
        ..trip(dice)
    }
}

/// The guided runs of one visit, one or two: warmed up, idle, 2500 rpm held, cruise and loaded pulls. Two are on different
/// days, half of them on the same tank.
#[allow(dead_code)] // one of the benches does without
pub fn guided(dice: &mut Dice) -> Vec<Trip> {
    let count = if dice.chance(0.3) { 2 } else { 1 };
    let same_tank = dice.chance(0.5).then(|| dice.seed());
    let one = |_| {
        let trip = trip(dice);
        let mut stretches = Vec::new();
        let mut add = |driving, minutes: f64| {
            stretches.push(Stretch {
                driving,
                seconds: 60.0 * minutes,
            });
        };
        let coolant_c = if dice.chance(0.2) {
            trip.ambient_c
        } else {
            dice.between(78.0, 92.0)
        };
        if coolant_c <= trip.ambient_c {
            add(Driving::Idle, dice.between(5.0, 8.0));
        }
        add(Driving::Idle, dice.log_between(4.0, 12.0));
        let rpm = dice.between(2300.0, 2700.0);
        add(Driving::Hold { rpm }, dice.between(2.0, 4.0));
        let minutes = dice.between(7.0, 15.0);
        road(&mut stretches, 60.0 * minutes, 0.1, dice);
        for _ in 0..dice.index(4) + 2 {
            let km_h = dice.between(45.0, 85.0);
            let grade_pct = dice.between(2.5, 5.5);
            stretches.push(Stretch {
                driving: road_at(km_h, grade_pct),
                seconds: dice.between(15.0, 40.0),
            });
        }
        Trip {
            coolant_c,
            period: same_tank.unwrap_or(trip.period),
            stretches,
            ..trip
        }
    };
    (0..count).map(one).collect()
}

/// A trip of any driver in any weather, on a tank of its own.
pub fn trip(dice: &mut Dice) -> Trip {
    let driver = dice.weighed(&DRIVERS);
    let ambient_c = dice.between(-10.0, 36.0);
    let cold = driver != Driver::IdlesOnly && dice.chance(0.25);
    let (least, most) = match driver {
        Driver::IdlesOnly | Driver::IdlesAndHolds => (4.0, 16.0),
        Driver::DrivesOnly | Driver::TestDrive => (5.0, 25.0),
        Driver::Commutes => (14.0, 40.0),
    };
    let minutes = dice.log_between(least, most) + if cold { 6.0 } else { 0.0 };
    let seed = dice.seed();
    Trip {
        seed,
        period: seed,
        coolant_c: if cold {
            ambient_c
        } else {
            dice.between(72.0, 92.0)
        },
        ambient_c,
        barometer_kpa: if dice.chance(0.25) {
            dice.between(72.0, 96.0)
        } else {
            dice.between(97.0, 103.0)
        },
        fuel_level_pct: dice.between(10.0, 97.0),
        canister_charge: 1.0,
        compressor: dice.chance(0.5),
        cleared: false,
        stretches: stretches(driver, 60.0 * minutes, dice),
    }
}

fn stretches(driver: Driver, length_s: f64, dice: &mut Dice) -> Vec<Stretch> {
    let mut all = Vec::new();
    let add = |all: &mut Vec<Stretch>, driving, seconds| all.push(Stretch { driving, seconds });
    let hold = |dice: &mut Dice| Driving::Hold {
        rpm: dice.between(2100.0, 2900.0),
    };
    match driver {
        Driver::IdlesOnly => add(&mut all, Driving::Idle, length_s),
        Driver::IdlesAndHolds => {
            let share = dice.between(0.3, 0.7);
            add(&mut all, Driving::Idle, share * length_s);
            add(&mut all, hold(dice), (1.0 - share) * length_s);
        }
        Driver::DrivesOnly => road(&mut all, length_s, 0.05, dice),
        Driver::TestDrive => {
            let idle = dice.between(0.12, 0.4) * length_s;
            add(&mut all, Driving::Idle, idle);
            let held = dice.between(0.08, 0.25) * length_s;
            add(&mut all, hold(dice), held);
            road(&mut all, length_s - idle - held, 0.1, dice);
        }
        Driver::Commutes => road(&mut all, length_s, 0.2, dice),
    }
    all
}

/// Town, cruise, hills and stops, as they come.
fn road(all: &mut Vec<Stretch>, length_s: f64, stops: f64, dice: &mut Dice) {
    let hilly = dice.between(0.2, 1.0);
    let fast = dice.between(60.0, 115.0);
    let mut left = length_s;
    while left > 0.0 {
        let part = dice.weighed(&[(0.25, 0), (0.30, 1), (0.20, 2), (0.10, 3), (stops, 4)]);
        let (driving, seconds) = match part {
            0 => (
                road_at(dice.between(28.0, 55.0), dice.normal(0.5)),
                dice.between(20.0, 90.0),
            ),
            1 => (
                road_at(dice.between(0.7, 1.0) * fast, dice.normal(0.4)),
                dice.between(30.0, 240.0),
            ),
            2 => (
                road_at(dice.between(45.0, 85.0), hilly * dice.between(2.0, 6.0)),
                dice.between(15.0, 70.0),
            ),
            3 => (
                road_at(dice.between(35.0, 70.0), -hilly * dice.between(2.0, 5.0)),
                dice.between(10.0, 50.0),
            ),
            _ => (Driving::Idle, dice.between(8.0, 60.0)),
        };
        let seconds = f64::min(seconds, left.max(10.0));
        left -= seconds;
        all.push(Stretch { driving, seconds });
    }
}

const fn road_at(km_h: f64, grade_pct: f64) -> Driving {
    Driving::Road { km_h, grade_pct }
}
