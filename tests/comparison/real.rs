//! Twelve real logs of one car that nobody worked on: every pair, and every split of a row of trips into earlier and later.

use std::path::{Path, PathBuf};

use pintle::{
    capture::{Fact, Observations},
    compare::{Confounder, FuelAnswer, Limits, compare},
    import::import,
    series::{Builder, summary::Summary},
};

use crate::{parallel::in_parallel, tally::Tally};

/// The logs in the order of the car's own clock (minutes since codes were cleared), in its two epochs; one log does not
/// tell.
const FIRST_EPOCH: [&str; 9] = [
    "live13", "idle1", "drive2", "long2", "ufpe4", "live28", "drive4", "long7", "idle29",
];
const SECOND_EPOCH: [&str; 2] = ["drive10", "ufpe10"];
const UNDATED: [&str; 1] = ["live6"];
/// The first log after another fuel was filled in.
const REFUELLED: &str = "live13";

pub fn print() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data/carobd");
    if !folder.is_dir() {
        println!("left out: no real logs at {}", folder.display());
        return;
    }
    let names: Vec<&str> = FIRST_EPOCH
        .into_iter()
        .chain(SECOND_EPOCH)
        .chain(UNDATED)
        .collect();
    let logs: Vec<Summary> = in_parallel(names.len(), |index| read(&folder, names[index]));
    println!("\nreal logs of an unchanged car");
    for (fuel, known) in [
        (FuelAnswer::Unknown, "nobody knows about the fuel"),
        (
            FuelAnswer::Same,
            "the fuel is said to be the same, across the refuelling wrongly",
        ),
    ] {
        println!("{known}");
        pairs(&names, &logs, fuel);
    }
    let epoch = |from: usize, to: usize| splits(&names[from..to], &logs[from..to]);
    let all = epoch(1, FIRST_EPOCH.len())
        .into_iter()
        .chain(epoch(FIRST_EPOCH.len(), names.len() - 1));
    Tally::of(&all.collect::<Vec<_>>()).print("splits into earlier and later trips");
    // every trip a draw of the same car, whatever the order
    let mut halves = Vec::new();
    let steady: Vec<&Summary> = logs.iter().skip(1).collect();
    for mask in 1_u32..(1 << steady.len()) - 1 {
        if mask.count_ones() as usize == steady.len() / 2 {
            let side = |on: bool| {
                let own = steady
                    .iter()
                    .enumerate()
                    .filter(move |(at, _)| (mask >> at & 1 == 1) == on);
                own.map(|(_, log)| (*log).clone()).collect::<Vec<_>>()
            };
            halves.push((side(true), side(false)));
        }
    }
    let all = in_parallel(halves.len(), |index| {
        compare(
            &halves[index].0,
            &halves[index].1,
            &Limits::default(),
            FuelAnswer::Unknown,
        )
    });
    Tally::of(&all).print("halves, in any order");
}

fn pairs(names: &[&str], logs: &[Summary], fuel: FuelAnswer) {
    let (mut steady, mut across) = (Tally::default(), Tally::default());
    let [mut named, mut asked, mut idle] = [0; 3];
    for (one, before) in logs.iter().enumerate() {
        for (two, after) in logs.iter().enumerate().filter(|(two, _)| *two != one) {
            let sides = [before, after].map(std::slice::from_ref);
            let found = compare(sides[0], sides[1], &Limits::default(), fuel);
            let refuelled = [names[one], names[two]].contains(&REFUELLED);
            let tally = if refuelled { &mut across } else { &mut steady };
            let wrong = tally.better + tally.worse;
            tally.add(&found);
            named += usize::from(refuelled && found.confounders.contains(&Confounder::Refuelled));
            asked += usize::from(refuelled && found.if_same_fuel.is_some());
            idle += usize::from(refuelled && found.trims.is_empty());
            if tally.better + tally.worse > wrong {
                let level = found.trims.iter().map(|trim| trim.change.difference_pct);
                println!(
                    "  {} then {}: {} ({:+.1?} points) {:?}",
                    names[one],
                    names[two],
                    found.verdict.id(),
                    level.collect::<Vec<_>>(),
                    found.confounders
                );
            }
        }
    }
    steady.print("pairs, either way round");
    across.print("pairs across the refuelling");
    println!(
        "  of these {named} are named as refuelled, {asked} are asked about the fuel, {idle} have nothing in common"
    );
}

/// Every row of neighbouring trips, split at every place.
fn splits(names: &[&str], logs: &[Summary]) -> Vec<pintle::compare::Comparison> {
    let mut all = Vec::new();
    for from in 0..logs.len() {
        for to in from + 2..=logs.len() {
            for cut in from + 1..to {
                let found = compare(
                    &logs[from..cut],
                    &logs[cut..to],
                    &Limits::default(),
                    FuelAnswer::Unknown,
                );
                if matches!(found.verdict.id(), "better" | "worse") {
                    let level = found.trims.iter().map(|trim| trim.change);
                    println!(
                        "  {:?} then {:?}: {} {:.1?}",
                        &names[from..cut],
                        &names[cut..to],
                        found.verdict.id(),
                        level
                            .map(|c| (c.before_pct, c.after_pct, c.low_pct, c.high_pct))
                            .collect::<Vec<_>>()
                    );
                }
                all.push(found);
            }
        }
    }
    all
}

fn read(folder: &Path, name: &str) -> Summary {
    let capture =
        PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("comparison-{name}.capture.csv"));
    let _ = std::fs::remove_file(&capture);
    let log = folder.join(name).with_extension("csv");
    import(&log, None, None, &capture, |_| ()).unwrap();
    let mut builder = Builder::new();
    let take = |fact: Fact<'_>| {
        if let Fact::Reading(reading) = fact {
            builder.push(reading);
        }
    };
    Observations::open(&capture)
        .unwrap()
        .for_each(take)
        .unwrap();
    std::fs::remove_file(&capture).unwrap();
    builder.finish()
}
