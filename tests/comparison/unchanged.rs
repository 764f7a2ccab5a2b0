//! Drawn cars that nobody worked on: how often they are called better or worse.

use pintle::{
    cause::Cause,
    compare::{Comparison, FuelAnswer, Limits, compare},
    series::{label::region::Region, summary::Summary},
    simulator::car::{fault::Fault, trip::Trip},
};

use crate::{dice::Dice, drawn::Drawn, drivers, parallel::in_parallel, tally::Tally};

/// How the trips of both sides come about.
#[derive(Clone, Copy)]
struct Plan {
    name: &'static str,
    /// Trips a side.
    trips: usize,
    /// Minutes of a test drive; `None` for any driver.
    minutes: Option<f64>,
    /// Refuelled between the sides, and before every trip.
    refuels: [f64; 2],
    /// Refuelled between the sides to the level that there was before.
    unseen: bool,
    misfires: bool,
}

const PLANS: [Plan; 9] = [
    Plan {
        name: "any two drivers, weather, fuel",
        trips: 1,
        minutes: None,
        refuels: [0.5, 0.0],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "ten minutes a side, same tank",
        trips: 1,
        minutes: Some(10.0),
        refuels: [0.0, 0.0],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "ten minutes a side, refuelled between",
        trips: 1,
        minutes: Some(10.0),
        refuels: [1.0, 0.0],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "ten minutes a side, refuelled to the same level",
        trips: 1,
        minutes: Some(10.0),
        refuels: [0.0, 0.0],
        unseen: true,
        misfires: false,
    },
    Plan {
        name: "four a side, all on one tank",
        trips: 4,
        minutes: Some(10.0),
        refuels: [0.0, 0.0],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "four a side, each side one tank",
        trips: 4,
        minutes: Some(10.0),
        refuels: [1.0, 0.0],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "four a side, on any tanks",
        trips: 4,
        minutes: Some(10.0),
        refuels: [0.5, 0.5],
        unseen: false,
        misfires: false,
    },
    Plan {
        name: "a misfiring cylinder, any drivers",
        trips: 1,
        minutes: None,
        refuels: [0.5, 0.0],
        unseen: false,
        misfires: true,
    },
    Plan {
        name: "a misfiring cylinder, ten minutes",
        trips: 1,
        minutes: Some(10.0),
        refuels: [0.0, 0.0],
        unseen: false,
        misfires: true,
    },
];

pub fn print(pairs: usize, seed: u64) {
    println!("\ndrawn cars that nobody worked on");
    for (number, plan) in (0..).zip(PLANS) {
        let all = in_parallel(pairs, |index| {
            let mut dice = Dice::new(seed ^ (number << 40) ^ ((index as u64) << 8));
            pair(plan, &mut dice)
        });
        Tally::of(all.iter().map(|(found, _)| found)).print(plan.name);
        if plan.trips == 1 && plan.minutes.is_some() {
            let spread = |value: fn(&Summary) -> Option<f64>| {
                let squares: Vec<f64> = all
                    .iter()
                    .filter_map(|(_, [one, two])| Some((value(one)? - value(two)?).powi(2) / 2.0))
                    .collect();
                (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
            };
            println!(
                "  from trip to trip: idle {:.1}, cruise {:.1}, idle minus cruise {:.1} points",
                spread(idle),
                spread(cruise),
                spread(|summary| Some(idle(summary)? - cruise(summary)?))
            );
        }
    }
}

fn idle(summary: &Summary) -> Option<f64> {
    mean(summary, Region::WarmIdle)
}

fn cruise(summary: &Summary) -> Option<f64> {
    mean(summary, Region::LightCruise)
}

/// Mean correction of bank 1, points.
fn mean(summary: &Summary, region: Region) -> Option<f64> {
    let mut trims = summary.trims.iter();
    let trim = trims.find(|trim| (trim.bank, trim.region) == (1, region))?;
    (trim.seconds >= 60.0).then_some(100.0 * trim.mean_log)
}

/// A comparison, and the first trip of each side.
fn pair(plan: Plan, dice: &mut Dice) -> (Comparison, [Summary; 2]) {
    let two_banks = dice.chance(0.3);
    let mut car = Drawn::new(dice, two_banks);
    let mut faults = Vec::new();
    if plan.misfires {
        car = car.with_counters();
        faults.push(Fault {
            cause: Cause::IgnitionWeak,
            place: Some(1 + dice.index(car.spec.cylinder_count()) as u8),
            severity: dice.log_between(0.1, 20.0),
        });
    }
    let mut side = |dice: &mut Dice| -> Vec<Summary> {
        let one = |_| {
            if dice.chance(plan.refuels[1]) {
                car.refuel(dice);
            }
            car.run(dice.log_between(1.0, 60.0));
            car.drive(trip(plan.minutes, dice), &faults)
        };
        let trips: Vec<Summary> = (0..plan.trips).map(one).collect();
        if plan.unseen {
            car.refuel_unseen(dice);
        }
        if dice.chance(plan.refuels[0]) {
            car.refuel(dice);
        }
        trips
    };
    let (before, after) = (side(dice), side(dice));
    let found = compare(&before, &after, &Limits::default(), FuelAnswer::Unknown);
    (found, [before[0].clone(), after[0].clone()])
}

pub fn trip(minutes: Option<f64>, dice: &mut Dice) -> Trip {
    match minutes {
        Some(minutes) => drivers::test_drive(minutes, dice),
        None => drivers::trip(dice),
    }
}
