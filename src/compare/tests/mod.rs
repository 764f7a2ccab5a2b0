//! Comparing summaries made by hand: differences, intervals and verdicts that can be worked out on paper.

mod confounders;
mod fuel_trims;
mod misfires;
mod tank;

use super::*;
use crate::series::{
    gather::cell::Cell,
    label::region::{ByRegion, Region},
    summary::{BankDifference, CellSummary, CylinderMisfires, MisfireSummary, TrimSummary},
};

/// Standard error of every mean inside its trip.
const INSIDE: f64 = 0.01;

/// One box: bank, region, load class, correction in percent, seconds.
type Visit = (u8, Region, u8, f64, f64);

/// A trip that visited these boxes.
fn trip(visits: &[Visit]) -> Summary {
    let mut summary = Summary::default();
    for &(bank, region, load, pct, seconds) in visits {
        summary.cells.push(CellSummary {
            bank,
            region: Some(region),
            cell: Cell { speed: 2, load },
            mean_log: (pct / 100.0).ln_1p(),
            std_error_log: INSIDE,
            seconds,
        });
    }
    let banks: BTreeSet<u8> = visits.iter().map(|visit| visit.0).collect();
    for bank in &banks {
        for region in Region::ALL {
            let here = visits.iter().filter(|v| (v.0, v.1) == (*bank, region));
            let seconds: f64 = here.clone().map(|v| v.4).sum();
            if seconds > 0.0 {
                let sum: f64 = here.map(|v| (v.3 / 100.0).ln_1p() * v.4).sum();
                summary
                    .trims
                    .push(trim(*bank, region, sum / seconds, seconds));
                if *bank > 1 {
                    summary.bank_differences.push(BankDifference {
                        other: *bank,
                        region,
                        mean_log: 0.0,
                        std_error_log: 0.003,
                        seconds,
                    });
                }
            }
        }
    }
    summary
}

fn trim(bank: u8, region: Region, mean_log: f64, seconds: f64) -> TrimSummary {
    TrimSummary {
        bank,
        region,
        mean_log,
        std_error_log: INSIDE,
        seconds,
        readings: seconds as u32,
        degrees_of_freedom: 20.0,
        effective_readings: 20.0,
        saturated: 0.0,
        without_misfire: None,
    }
}

/// Ten minutes of idle on one bank.
fn idle(pct: f64) -> Summary {
    trip(&[(1, Region::WarmIdle, 2, pct, 600.0)])
}

/// Counts by cylinder, all at warm idle in so many revolutions.
fn counted(counts: &[f64], revolutions: f64) -> Summary {
    let cylinders = (1..).zip(counts).map(|(cylinder, count)| CylinderMisfires {
        cylinder,
        count: *count,
        count_by_region: ByRegion::from_array([*count, 0.0, 0.0, 0.0]),
        average_of_ten: None,
        counter_high: *count,
        dispersion: 1.0,
    });
    Summary {
        misfires: Some(MisfireSummary {
            revolutions,
            revolutions_by_region: ByRegion::from_array([revolutions, 0.0, 0.0, 0.0]),
            cylinders: cylinders.collect(),
            resets: 0,
        }),
        ..Summary::default()
    }
}

/// A comparison where the user has not stated the fuel.
fn compared_on_any_fuel(before: &[Summary], after: &[Summary]) -> Comparison {
    compare(before, after, &Limits::default(), FuelAnswer::Unknown)
}

/// A comparison on the same fuel.
fn compared(before: &[Summary], after: &[Summary]) -> Comparison {
    compare(before, after, &Limits::default(), FuelAnswer::Same)
}

fn only_change(comparison: &Comparison) -> Change {
    let [trim] = &comparison.trims[..] else {
        panic!("expected one bank: {:?}", comparison.trims);
    };
    trim.change
}
