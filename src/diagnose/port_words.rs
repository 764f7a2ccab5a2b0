//! What the port tells of rail, tank and purge, in a technician's words.

use std::fmt::Write;

use crate::series::region::Region;

use super::likelihood::{
    drift::Drift,
    filling::{Filling, Tank},
    purge::Purge,
    rail::{Against, Rail},
};

/// A movement of the corrections by less is called none, points: trips differ by as much.
const STAYS_POINTS: f64 = 3.0;
/// Movements that lie no further apart are called alike, points.
const ALIKE_POINTS: f64 = 4.0;
/// With purge open and shut corrections that differ by less are called the same, points.
const SAME_POINTS: f64 = 1.0;
/// In the course of a trip a correction that drifts by less is called steady, points: healthy ones settle by as much.
const STEADY_POINTS: f64 = 2.0;

/// A pressure this near to its command, or from region to region, is called the same, as a share.
const ALIKE: f64 = 0.03;

/// The rail's pressure beside what is right.
pub fn rail(rail: &Rail) -> String {
    let told: Vec<(Region, f64, Option<f64>)> = rail.told().collect();
    match rail.against() {
        Against::Command => by_command(&told),
        Against::Range | Against::Usual | Against::Course => by_value(&told, rail),
    }
}

/// Where it is furthest from what is commanded.
fn by_command(told: &[(Region, f64, Option<f64>)]) -> String {
    let off = told.iter().filter_map(|(region, kpa, commanded)| {
        let commanded = (*commanded)?;
        Some((*region, kpa / commanded - 1.0, commanded))
    });
    let furthest = off.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let Some((region, off, commanded)) = furthest else {
        return "rail pressure reported without its commanded value".to_owned();
    };
    let (pct, commanded) = (100.0 * off.abs(), pressure(commanded));
    match off.abs() < ALIKE {
        true => format!("rail pressure stays within {pct:.0} % of its commanded value"),
        false => {
            let word = if off > 0.0 { "above" } else { "below" };
            let at = region.at();
            format!("rail pressure is {pct:.0} % {word} its commanded value {at} ({commanded})")
        }
    }
}

fn by_value(told: &[(Region, f64, Option<f64>)], rail: &Rail) -> String {
    let mut text = "rail pressure ".to_owned();
    for (index, (region, kpa, _)) in told.iter().enumerate() {
        let comma = if index == 0 { "" } else { ", " };
        let _ = write!(text, "{comma}{} {}", pressure(*kpa), region.at());
    }
    let range = rail.range().filter(|_| rail.against() == Against::Range);
    if let Some([least, most]) = range {
        let _ = write!(text, " (normal: {least:.0} to {most:.0} kPa)");
    }
    let (Some((_, first, _)), Some((_, last, _))) = (told.first(), told.last()) else {
        return text;
    };
    let verdict = match last / first - 1.0 {
        _ if told.len() < 2 => return text,
        change if change.abs() < ALIKE => "the same everywhere",
        change if change > 0.0 => "rising with the load",
        _ => "dropping under load",
    };
    let _ = write!(text, ": {verdict}");
    text
}

/// What the tank did and the corrections with it.
pub fn filling(filling: &Filling) -> String {
    let (by, apart) = filling.movement();
    let points = 100.0 * by.exp_m1();
    let moved = match points.abs() < STAYS_POINTS {
        true => "fuel trim stayed the same".to_owned(),
        false => {
            let word = if points > 0.0 { "rose" } else { "fell" };
            let alike = match 100.0 * apart < ALIKE_POINTS {
                true => "by the same amount everywhere",
                false => "by different amounts",
            };
            format!("fuel trim {word} by {:.1} points, {alike},", points.abs())
        }
    };
    match filling.tank() {
        Tank::Filled(from, to) if to > from => {
            format!("{moved} when the car was refuelled (level {from:.0} to {to:.0} %)")
        }
        Tank::Filled(..) => format!("{moved} when the car was refuelled"),
        Tank::NotFilled => format!("{moved} between the captures, without refuelling"),
        Tank::Unknown => {
            format!("{moved} between captures; nobody knows whether the car was refuelled")
        }
    }
}

/// Whether the corrections follow the commanded purge.
pub fn purge(purge: &Purge) -> String {
    let (difference, error) = purge.difference();
    let points = 100.0 * difference.exp_m1();
    match points.abs() < SAME_POINTS.max(200.0 * error) {
        true => format!(
            "fuel trim is the same with purge commanded open and shut, within {:.1} points",
            SAME_POINTS.max(200.0 * error)
        ),
        false => {
            let word = if points > 0.0 { "higher" } else { "lower" };
            let points = points.abs();
            format!(
                "fuel trim is {points:.1} points {word} while purge is commanded open: the purge valve follows its \
                 command"
            )
        }
    }
}

/// How the correction went in the course of the trips.
pub fn drift(drift: &Drift) -> String {
    let (rise, error) = drift.rise();
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
    match kpa < 1500.0 {
        true => format!("{kpa:.0} kPa"),
        false => format!("{:.1} MPa", kpa / 1000.0),
    }
}
