//! Bench readings as evidence in a technician's words.

use crate::{
    bench::{Findings, Flow, Hold, Injector, Leakage, Power},
    diagnose::BenchFact,
};

/// What readings of a kind show; `None` where nothing was measured.
pub fn words(kind: BenchFact, found: &Findings) -> Option<String> {
    match kind {
        BenchFact::Windings => electrical(found),
        BenchFact::Flow => flow(found),
        BenchFact::Leakage => leakage(found),
        BenchFact::Pressure => rail(found),
        BenchFact::Power => power(found),
    }
}

/// What is wrong with the measured injectors, or that all are well.
fn reported(
    found: &Findings,
    measured: impl Fn(&Injector) -> bool,
    wrong: impl Fn(&Injector) -> Option<String>,
    well: &str,
) -> Option<String> {
    let count = found.injectors.iter().filter(|one| measured(one)).count();
    if count == 0 {
        return None;
    }
    let faults: Vec<String> = found.injectors.iter().filter_map(wrong).collect();
    Some(if faults.is_empty() {
        format!("bench: {well} ({count} measured)")
    } else {
        format!("bench: {}", faults.join(", "))
    })
}

fn electrical(found: &Findings) -> Option<String> {
    use crate::bench::Electrical::{Ok, Open, OutOfRange, Short, Unknown};
    let read = |one: &Injector| {
        one.ohms_at_20c.is_some() || one.electrical != Unknown || one.click.or(one.pulse).is_some()
    };
    let wrong = |one: &Injector| {
        let what = match (one.electrical, one.click, one.pulse) {
            (Open, ..) => "injector winding open",
            (Short, ..) => "injector winding shorted",
            (_, _, Some(false)) => "no drive pulse",
            (_, Some(false), _) => "does not click",
            (OutOfRange, ..) => "injector winding out of range",
            (Ok | Unknown, ..) => return None,
        };
        Some(format!("cylinder {} {what}", one.cylinder))
    };
    reported(found, read, wrong, "no injector electrically dead")
}

fn flow(found: &Findings) -> Option<String> {
    let wrong = |one: &Injector| {
        let flow = one.relative_flow?;
        let what = match one.flow {
            Flow::Restricted => "restricted",
            Flow::Excess => "more than the others",
            _ => return None,
        };
        let number = one.cylinder;
        Some(format!(
            "cylinder {number} delivers {flow:.2} of the mean: {what}"
        ))
    };
    let flows = || found.injectors.iter().filter_map(|one| one.relative_flow);
    let least = flows().fold(f64::INFINITY, f64::min);
    let most = flows().fold(0.0, f64::max);
    let apart = 100.0 * (most - least);
    let well = format!("the injectors deliver the same, within {apart:.0} %");
    reported(found, |one| one.relative_flow.is_some(), wrong, &well)
}

fn leakage(found: &Findings) -> Option<String> {
    let wrong = |one: &Injector| {
        (one.leakage == Leakage::Leaks).then(|| format!("cylinder {} leaks", one.cylinder))
    };
    let seats = reported(
        found,
        |one| one.leakage != Leakage::Unknown,
        wrong,
        "no injector leaks",
    );
    let hold = found.rail.map_or(Hold::Unknown, |rail| rail.hold);
    let rail = match hold {
        Hold::Holds => Some("leak-down: the rail holds its pressure"),
        Hold::Sinks => Some("leak-down: the rail loses some pressure in ten minutes"),
        Hold::Leaks => Some("leak-down: the rail pressure drops"),
        Hold::Unknown => None,
    };
    match (seats, rail) {
        (Some(seats), Some(rail)) => Some(format!("{seats}; {rail}")),
        (Some(seats), None) => Some(seats),
        (None, rail) => rail.map(|rail| format!("bench: {rail}")),
    }
}

fn rail(found: &Findings) -> Option<String> {
    let rail = found.rail?;
    let kpa = rail.pressure_kpa?;
    let range = match rail.in_range {
        Some(true) => ", within its range",
        Some(false) => ", outside its range",
        None => "",
    };
    let load = match rail.falls_under_load {
        Some(true) => ", drops under load",
        Some(false) => ", steady under load",
        None => "",
    };
    let reported = rail.in_range.is_some() || rail.falls_under_load.is_some();
    reported.then(|| format!("bench: rail pressure {kpa:.0} kPa{range}{load}"))
}

fn power(found: &Findings) -> Option<String> {
    let wrong = |one: &Injector| {
        (one.power == Power::Weak).then(|| {
            format!(
                "cylinder {} contributes hardly any power at idle",
                one.cylinder
            )
        })
    };
    let known = |one: &Injector| one.power != Power::Unknown;
    reported(
        found,
        known,
        wrong,
        "every cylinder contributes its share at idle",
    )
}
