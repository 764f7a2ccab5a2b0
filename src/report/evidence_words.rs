//! Pieces of evidence in a technician's words.

use std::fmt::Write;

use super::{
    bench_words,
    words::{self, thousands},
};
use crate::{
    diagnose::{Against, Fact, Tank, diagnosis::Finding},
    quantity::signed,
    series::label::region::Region,
};

/// Difference of fuel trims between banks or regions below which they are called alike, points (assumed).
const ALIKE_POINTS: f64 = 3.0;
/// Departure of the measured air flow below which it is called normal, percent: engines differ by as much.
const ALIKE_AIR_PCT: f64 = 8.0;
/// Drop of the fuel trim without misfires below which the trim is called the same, points (assumed).
const SAME_WITHOUT_MISFIRES_POINTS: f64 = 0.5;
/// Movement of the fuel trim below which it is called none, points: trips differ by as much.
const STAYS_POINTS: f64 = 3.0;
/// Distance between movements up to which they are called alike, points (assumed).
const MOVES_ALIKE_POINTS: f64 = 4.0;
/// Difference of fuel trims between purge open and shut below which they are called the same, points (assumed).
const SAME_POINTS: f64 = 1.0;
/// Drift of the fuel trim during a trip below which it is called steady, points: healthy cars settle by as much.
const STEADY_POINTS: f64 = 2.0;
/// Distance of a pressure from its command, or between regions, below which it is called the same, as a share
/// (assumed).
const ALIKE_PRESSURE: f64 = 0.03;

/// A piece of evidence in words.
#[derive(Debug, Clone, PartialEq)]
pub struct EvidenceLine {
    /// What was read.
    pub what: String,
    /// Change of the natural logarithm of the odds.
    pub log_odds: f64,
}

/// Evidence for and against a cause, the weightiest first.
pub fn evidence_lines(finding: &Finding) -> impl Iterator<Item = EvidenceLine> {
    finding.evidence.iter().filter_map(|piece| {
        Some(EvidenceLine {
            what: words(&piece.fact)?,
            log_odds: piece.log_odds,
        })
    })
}

/// What was read, in one line; `None` where it is not worth reporting.
fn words(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::BankDifference { other, pct, region } => bank_difference(*other, *pct, *region),
        Fact::TrimByRegion { bank, means_pct } => trim_by_region(*bank, means_pct),
        Fact::MeanTrim(pct) => format!(
            "total fuel trim averages {} % over the usable time",
            signed(*pct)
        ),
        Fact::Misfires {
            cylinder,
            count,
            others,
            revolutions,
        } => misfires(*cylinder, [*count, *others], *revolutions),
        Fact::TrimWithoutMisfires(points) => without_misfires(*points),
        Fact::Codes(codes) => match codes.as_slice() {
            [] => "no stored or pending codes".to_owned(),
            codes => format!("codes: {}", words::codes(codes)),
        },
        Fact::Ethanol(pct) => format!("the car reports {pct:.0} % ethanol in its fuel"),
        Fact::Air {
            surplus_pct,
            full_load_pct,
        } => air(*surplus_pct, *full_load_pct),
        Fact::Rail {
            pressures,
            against,
            range_kpa,
        } => match against {
            Against::Command => rail_by_command(pressures),
            Against::Range | Against::Usual | Against::Course => {
                let range = range_kpa.filter(|_| *against == Against::Range);
                rail_by_value(pressures, range)
            }
        },
        Fact::Refuelling {
            moved_log,
            apart_log,
            tank,
        } => refuelling(*moved_log, *apart_log, *tank),
        Fact::Purge {
            difference_log,
            std_error_log,
        } => purge(*difference_log, *std_error_log),
        Fact::Drift {
            rise_log,
            std_error_log,
        } => drift(*rise_log, *std_error_log),
        Fact::Bench(kind, found) => return bench_words::words(*kind, found),
        Fact::CheckOutcome(says) => says.clone(),
    })
}

fn bank_difference(other: u8, pct: f64, region: Region) -> String {
    let size = pct.abs();
    if size < ALIKE_POINTS {
        return format!("both banks need the same fuel, within {size:.1} %");
    }
    let word = if pct > 0.0 { "more" } else { "less" };
    let region = region.words();
    format!("bank 1 needs {size:.1} % {word} fuel than bank {other} ({region})")
}

fn trim_by_region(bank: u8, means_pct: &[(Region, f64)]) -> String {
    let mut text = format!("fuel trim of bank {bank}");
    for (index, (region, mean)) in means_pct.iter().enumerate() {
        let comma = if index == 0 { "" } else { "," };
        let (mean, region) = (signed(*mean), region.at());
        // writing to a String cannot fail
        let _ = write!(text, "{comma} {mean} % {region}");
    }
    let (Some((_, low_flow)), Some((_, high_flow))) = (means_pct.first(), means_pct.last()) else {
        return text;
    };
    let fall = low_flow - high_flow;
    let verdict = match () {
        () if fall.abs() < ALIKE_POINTS => "much the same everywhere",
        () if low_flow.abs() > high_flow.abs() => {
            "largest at low air flow, fading as the air flow grows"
        }
        () if fall > 0.0 && *high_flow < 0.0 => "falling as the air flow grows",
        () => "growing with the air flow",
    };
    let _ = write!(text, ": {verdict}");
    text
}

fn misfires(cylinder: u8, [count, others]: [f64; 2], revolutions: f64) -> String {
    let revolutions = thousands(revolutions);
    if count == 0.0 {
        return format!("no cylinder misfired in {revolutions} revolutions");
    }
    let misfires = if count.round() == 1.0 {
        "misfire"
    } else {
        "misfires"
    };
    format!(
        "cylinder {cylinder}: {count:.0} {misfires} in {revolutions} revolutions, the others {others:.0}"
    )
}

fn without_misfires(points: f64) -> String {
    if points < SAME_WITHOUT_MISFIRES_POINTS {
        return "fuel trim is the same while nothing misfires".to_owned();
    }
    format!("fuel trim is {points:.1} points lower while nothing misfires")
}

fn air(surplus_pct: Option<f64>, full_load_pct: Option<f64>) -> String {
    let measured = surplus_pct.map(|pct| {
        if pct.abs() < ALIKE_AIR_PCT {
            return "the MAF sensor reads about what such an engine breathes".to_owned();
        }
        let word = if pct > 0.0 { "more" } else { "less" };
        let pct = pct.abs();
        format!("the MAF sensor reads {pct:.0} % {word} air than such an engine breathes")
    });
    let full = full_load_pct.map(|pct| format!("at full throttle it reported {pct:.0} % load"));
    let parts: Vec<String> = measured.into_iter().chain(full).collect();
    parts.join("; ")
}

/// The region in which the pressure is furthest from its command.
fn rail_by_command(pressures: &[(Region, f64, Option<f64>)]) -> String {
    let off = pressures.iter().filter_map(|(region, kpa, commanded)| {
        let commanded = (*commanded)?;
        Some((*region, kpa / commanded - 1.0, commanded))
    });
    let furthest = off.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let Some((region, off, commanded)) = furthest else {
        return "rail pressure reported without its commanded value".to_owned();
    };
    let (pct, commanded) = (100.0 * off.abs(), pressure(commanded));
    if off.abs() < ALIKE_PRESSURE {
        format!("rail pressure stays within {pct:.0} % of its commanded value")
    } else {
        let word = if off > 0.0 { "above" } else { "below" };
        let at = region.at();
        format!("rail pressure is {pct:.0} % {word} its commanded value {at} ({commanded})")
    }
}

fn rail_by_value(pressures: &[(Region, f64, Option<f64>)], range: Option<[f64; 2]>) -> String {
    let mut text = "rail pressure ".to_owned();
    for (index, (region, kpa, _)) in pressures.iter().enumerate() {
        let comma = if index == 0 { "" } else { ", " };
        let _ = write!(text, "{comma}{} {}", pressure(*kpa), region.at());
    }
    if let Some([least, most]) = range {
        let _ = write!(text, " (normal: {least:.0} to {most:.0} kPa)");
    }
    let (Some((_, first, _)), Some((_, last, _))) = (pressures.first(), pressures.last()) else {
        return text;
    };
    let verdict = match last / first - 1.0 {
        _ if pressures.len() < 2 => return text,
        change if change.abs() < ALIKE_PRESSURE => "the same everywhere",
        change if change > 0.0 => "rising with the load",
        _ => "dropping under load",
    };
    let _ = write!(text, ": {verdict}");
    text
}

fn refuelling(moved_log: f64, apart_log: f64, tank: Tank) -> String {
    let points = 100.0 * moved_log.exp_m1();
    let moved = if points.abs() < STAYS_POINTS {
        "fuel trim stayed the same".to_owned()
    } else {
        let word = if points > 0.0 { "rose" } else { "fell" };
        let alike = if 100.0 * apart_log < MOVES_ALIKE_POINTS {
            "by the same amount everywhere"
        } else {
            "by different amounts"
        };
        format!("fuel trim {word} by {:.1} points, {alike},", points.abs())
    };
    match tank {
        Tank::Refuelled(from, to) if to > from => {
            format!("{moved} when the car was refuelled (level {from:.0} to {to:.0} %)")
        }
        Tank::Refuelled(..) => format!("{moved} when the car was refuelled"),
        Tank::NotRefuelled => format!("{moved} between the captures, without refuelling"),
        Tank::Unknown => {
            format!("{moved} between captures; nobody knows whether the car was refuelled")
        }
    }
}

fn purge(difference: f64, error: f64) -> String {
    let points = 100.0 * difference.exp_m1();
    if points.abs() < SAME_POINTS.max(200.0 * error) {
        format!(
            "fuel trim is the same with purge commanded open and shut, within {:.1} points",
            SAME_POINTS.max(200.0 * error)
        )
    } else {
        let word = if points > 0.0 { "higher" } else { "lower" };
        let points = points.abs();
        format!(
            "fuel trim is {points:.1} points {word} while purge is commanded open: the purge valve follows its \
             command"
        )
    }
}

fn drift(rise: f64, error: f64) -> String {
    let points = 100.0 * rise.exp_m1();
    match points.abs() < STEADY_POINTS.max(200.0 * error) {
        true => "in the same kind of driving fuel trim stays the same during a trip".to_owned(),
        false if points > 0.0 => format!(
            "in the same kind of driving fuel trim rises by {points:.1} points during a trip, as when the vapour \
             canister empties"
        ),
        false => format!(
            "in the same kind of driving fuel trim falls by {:.1} points during a trip",
            points.abs()
        ),
    }
}

fn pressure(kpa: f64) -> String {
    if kpa < 1500.0 {
        format!("{kpa:.0} kPa")
    } else {
        format!("{:.1} MPa", kpa / 1000.0)
    }
}
