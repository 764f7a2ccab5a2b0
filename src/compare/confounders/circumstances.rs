//! Driving, temperature, air and fuel vapour that differ between the sides.

use crate::series::{summary::Summary, warning::NotJudged};

use super::{super::comparison::Comparison, Confounder, Found, NAMES, both};

/// Share of the lesser side's time that is matched, below which a warning is given (assumed).
const LITTLE_MATCHED: f64 = 0.2;
/// Share of a side's time with a cold engine from which the side counts as cold (assumed).
const COLD: f64 = 0.4;
/// Share of a side's time with a cold engine up to which the side counts as warm (assumed).
const WARM: f64 = 0.1;
/// Difference of intake air temperature from which a warning is given, °C (assumed).
const OTHER_AIR_C: f64 = 15.0;
/// Difference of barometric pressure from which a warning is given, kPa: more than weather causes, some 300 m of
/// altitude.
const OTHER_BAROMETER_KPA: f64 = 3.5;
/// Mean purge command from which purge counts as on, percent (assumed).
const PURGING_PCT: f64 = 8.0;
/// Mean purge command up to which purge counts as off, percent (assumed).
const NOT_PURGING_PCT: f64 = 1.5;

/// Misleading circumstances of this kind.
pub fn found(comparison: &Comparison, sides: [&[Summary]; 2]) -> Vec<Found> {
    let all = [
        not_judged(sides),
        cells(comparison, sides),
        cold(sides),
        temperature(sides),
        pressure(sides),
        purge(comparison, sides),
    ];
    all.into_iter().flatten().collect()
}

fn not_judged(sides: [&[Summary]; 2]) -> Option<Found> {
    let mut all = sides.iter().flat_map(|side| side.iter());
    let why = match all.find_map(|summary| summary.facts.not_judged)? {
        NotJudged::Diesel => "the car reports that it runs on diesel, which has no fuel trims",
        NotJudged::TrimsAlike => {
            "all fuel trims of a capture are exactly the same: they are placeholders"
        }
    };
    Some((
        Confounder::NotJudged,
        format!("Fuel trims are not compared: {why}."),
    ))
}

fn cells(comparison: &Comparison, sides: [&[Summary]; 2]) -> Option<Found> {
    let used = |side: &[Summary]| side.iter().map(|summary| summary.seconds.used).sum::<f64>();
    let [before, after] = sides.map(used);
    let lesser = before.min(after);
    let matched = comparison
        .trims
        .iter()
        .map(|trim| trim.change.matched_seconds);
    let matched = matched.fold(0.0, f64::max);
    let sentence = match matched {
        0.0 => "The two recordings have no driving conditions in common: no engine speed and load was held long enough \
             in both. Drive the same way again."
            .to_owned(),
        _ if matched < LITTLE_MATCHED * lesser => format!(
            "The two recordings have little driving in common: only {matched:.0} of {lesser:.0} usable seconds were \
             at engine speeds and loads of both."
        ),
        _ => return None,
    };
    Some((Confounder::OtherCells, sentence))
}

fn cold(sides: [&[Summary]; 2]) -> Option<Found> {
    let share = |side: &[Summary]| {
        let total: f64 = side.iter().map(|summary| summary.seconds.total).sum();
        let cold: f64 = side.iter().map(|summary| summary.seconds.cold).sum();
        cold / total.max(1.0)
    };
    let shares = sides.map(share);
    let coldest = shares.into_iter().fold(0.0, f64::max);
    let warmest = shares.into_iter().fold(1.0, f64::min);
    let (name, _) = NAMES
        .into_iter()
        .zip(shares)
        .find(|(_, share)| *share == coldest)?;
    (coldest >= COLD && warmest <= WARM).then(|| {
        let sentence = format!(
            "The engine was cold for {:.0} % of the recording from {name} and warm in the other: a cold engine is \
             not compared, and misfires and idle change as it warms up.",
            100.0 * coldest
        );
        (Confounder::Cold, sentence)
    })
}

fn temperature(sides: [&[Summary]; 2]) -> Option<Found> {
    let (before, after) = both(sides, |summary| summary.facts.intake_air_c)?;
    ((before - after).abs() >= OTHER_AIR_C).then(|| {
        let sentence = format!(
            "Intake air was {before:.0} °C before and {after:.0} °C after: part of the change may come from the \
             weather or a hot engine bay."
        );
        (Confounder::OtherTemperature, sentence)
    })
}

fn pressure(sides: [&[Summary]; 2]) -> Option<Found> {
    let (before, after) = both(sides, |summary| summary.facts.barometer_kpa)?;
    ((before - after).abs() >= OTHER_BAROMETER_KPA).then(|| {
        let sentence = format!(
            "Barometric pressure was {before:.0} kPa before and {after:.0} kPa after: another altitude, so the same \
             load is not the same air."
        );
        (Confounder::OtherPressure, sentence)
    })
}

/// Purge in a region that was compared.
fn purge(comparison: &Comparison, sides: [&[Summary]; 2]) -> Option<Found> {
    let mut regions = comparison.regions.iter().map(|region| region.region);
    regions.find_map(|region| {
        let (before, after) = both(sides, |summary| {
            let mut all = summary.operation.iter();
            all.find(|operation| operation.region == region)?.purge_pct
        })?;
        let one_side = before.max(after) >= PURGING_PCT && before.min(after) <= NOT_PURGING_PCT;
        one_side.then(|| {
            let name = if before > after { "before" } else { "after" };
            let sentence = format!(
                "Purge was open ({}) only in the recording from {name}: fuel vapour alone lowers the fuel trim.",
                region.words()
            );
            (Confounder::Purge, sentence)
        })
    })
}
