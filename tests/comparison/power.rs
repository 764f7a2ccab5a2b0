//! How often a change of known size is found, against minutes and trips.

use pintle::{
    cause::Cause,
    compare::{Comparison, FuelAnswer, Limits, Verdict, compare},
    simulator::car::fault::Fault,
};

use crate::{dice::Dice, drawn::Drawn, drivers, parallel::in_parallel};

/// What is put right between the sides.
#[derive(Clone, Copy)]
enum Change {
    /// Bank 1 of a one-bank engine comes down by so many points.
    Level(f64),
    /// Bank 1 of a two-bank engine comes down by so many points.
    OneBank(f64),
    /// One cylinder's misfires fall to a quarter.
    Quarter,
}

const MINUTES: [f64; 5] = [3.0, 5.0, 10.0, 20.0, 40.0];
const TRIPS: [usize; 4] = [1, 2, 4, 8];

pub fn print(cars: usize, seed: u64) {
    println!(
        "\nfound (better), of {cars} drawn cars each whose own fuel trim is near zero: fuel known to be the same / not known"
    );
    for (name, change) in [
        ("one cylinder's misfires to a quarter", Change::Quarter),
        ("8 points of level, one bank", Change::Level(8.0)),
        ("5 points of level, one bank", Change::Level(5.0)),
        (
            "4 points of one bank against the other",
            Change::OneBank(4.0),
        ),
    ] {
        let minutes: Vec<String> = MINUTES
            .into_iter()
            .map(|minutes| format!("{minutes:.0} min {}", both(change, minutes, 1, cars, seed)))
            .collect();
        println!("{name}\n  one trip a side:      {}", minutes.join("   "));
        let trips: Vec<String> = TRIPS
            .into_iter()
            .map(|trips| format!("{trips} {}", both(change, 10.0, trips, cars, seed)))
            .collect();
        println!("  ten-minute trips a side: {}", trips.join("   "));
    }
}

/// Where the fuel is known to be the same, and where nobody knows.
fn both(change: Change, minutes: f64, trips: usize, cars: usize, seed: u64) -> String {
    let known = [FuelAnswer::Same, FuelAnswer::Unknown];
    let shares = known.map(|fuel| found(change, minutes, trips, cars, seed, fuel));
    shares.join(" / ")
}

fn found(
    change: Change,
    minutes: f64,
    trips: usize,
    cars: usize,
    seed: u64,
    fuel: FuelAnswer,
) -> String {
    let all = in_parallel(cars, |index| {
        let mut dice = Dice::new(seed ^ 0x706f_7765 ^ ((index as u64) << 8));
        one(change, minutes, trips, fuel, &mut dice)
    });
    let share = |verdict| {
        let count = all.iter().filter(|found| found.verdict == verdict).count();
        100.0 * count as f64 / all.len() as f64
    };
    let wrong = share(Verdict::Worse);
    if wrong > 0.0 {
        format!("{:.0} % ({wrong:.1} % worse)", share(Verdict::Better))
    } else {
        format!("{:.0} %", share(Verdict::Better))
    }
}

fn one(
    change: Change,
    minutes: f64,
    trips: usize,
    fuel: FuelAnswer,
    dice: &mut Dice,
) -> Comparison {
    let two_banks = matches!(change, Change::OneBank(_));
    let sample = drivers::test_drive(minutes, dice);
    let mut car = loop {
        let car = Drawn::new(dice, two_banks);
        let fits = (car.spec.banks.len() > 1) == two_banks && car.is_near_zero(&sample);
        if matches!(change, Change::Quarter) || fits {
            break car.with_counters();
        }
    };
    let place = Some(1 + dice.index(car.spec.cylinder_count()) as u8);
    let coil = |severity| Fault {
        cause: Cause::IgnitionWeak,
        place,
        severity,
    };
    let (before, after) = match change {
        Change::Level(points) | Change::OneBank(points) => (car.dirt(points, &sample), Vec::new()),
        Change::Quarter => {
            let severity = dice.log_between(1.0, 10.0);
            (vec![coil(severity)], vec![coil(severity / 4.0)])
        }
    };
    let mut side = |faults: &[Fault], dice: &mut Dice| {
        let trips = (0..trips).map(|number| {
            // several trips of a side are on several tanks
            if number > 0 && dice.chance(0.5) {
                car.refuel(dice);
            }
            car.run(dice.log_between(1.0, 60.0));
            car.drive(drivers::test_drive(minutes, dice), faults)
        });
        trips.collect::<Vec<_>>()
    };
    let before = side(&before, dice);
    let after = side(&after, dice);
    compare(&before, &after, &Limits::default(), fuel)
}
