//! Codes and learned trims cleared, learning not finished, counters reset.

use crate::series::summary::{Facts, Summary};

use super::{Confounder, Found, NAMES};

/// Engine minutes since clearing up to which the clearing is recent, where the car reports them (assumed).
const SOON_MIN: f64 = 60.0;
/// Warm-ups since clearing up to which the clearing is recent, where the car reports no minutes (assumed).
const SOON_WARM_UPS: f64 = 2.0;
/// Distance since clearing up to which the clearing is recent, km, where the car reports neither minutes nor warm-ups
/// (assumed).
const SOON_KM: f64 = 40.0;
/// Share of the usable time kept aside for learning from which learning is not finished (assumed).
const LEARNING_SHARE: f64 = 0.5;
/// Seconds kept aside for learning from which learning is not finished (assumed).
const LEARNING_S: f64 = 60.0;

/// Misleading circumstances of this kind on each side.
pub fn found(sides: [&[Summary]; 2]) -> Vec<Found> {
    let each = NAMES.into_iter().zip(sides);
    let each =
        each.flat_map(|(name, side)| [cleared(name, side), learning(name, side), anew(name, side)]);
    each.flatten().collect()
}

fn cleared(name: &str, side: &[Summary]) -> Option<Found> {
    let how = side.iter().find_map(|summary| lately(&summary.facts))?;
    Some((
        Confounder::Cleared,
        format!(
            "Long term fuel trim was cleared {how} the recording from {name}: the car has to relearn, and the time until \
             then is set aside."
        ),
    ))
}

/// How recently codes were cleared, in words that precede "the log"; `None` where not recently.
fn lately(facts: &Facts) -> Option<String> {
    let Facts {
        minutes_since_clear: minutes,
        warm_ups_since_clear: warm_ups,
        km_since_clear: km,
        ..
    } = facts;
    let reported = match (minutes, warm_ups, km) {
        (Some(minutes), ..) => {
            (*minutes <= SOON_MIN).then(|| format!("{minutes:.0} engine minutes before"))
        }
        (None, Some(warm_ups), _) => {
            (*warm_ups <= SOON_WARM_UPS).then(|| format!("{warm_ups:.0} warm-ups before"))
        }
        (None, None, Some(km)) => (*km <= SOON_KM).then(|| format!("{km:.0} km before")),
        (None, None, None) => None,
    };
    let seen = || "(it started at zero and moved away) shortly before".to_owned();
    reported.or_else(|| facts.long_trim_from_zero.then(seen))
}

fn learning(name: &str, side: &[Summary]) -> Option<Found> {
    let sum = |seconds: fn(&Summary) -> f64| side.iter().map(seconds).sum::<f64>();
    let aside = sum(|summary| summary.seconds.relearn);
    let used = sum(|summary| summary.seconds.used);
    let much = aside >= LEARNING_S && aside >= LEARNING_SHARE * (aside + used);
    much.then(|| {
        let minutes = aside / 60.0;
        let sentence = format!(
            "Long term fuel trim was still relearning in most of the recording from {name} ({minutes:.0} min): drive \
             until it has settled and record again."
        );
        (Confounder::Relearning, sentence)
    })
}

fn anew(name: &str, side: &[Summary]) -> Option<Found> {
    let counters = side.iter().filter_map(|summary| summary.misfires.as_ref());
    let resets = counters.map(|misfires| misfires.resets).max()?;
    (resets > 0).then(|| {
        let sentence = format!(
            "Misfire counters were reset during the recording from {name} (engine switched off, or codes cleared): \
             misfires between the last reading and the reset are not counted."
        );
        (Confounder::CountersReset, sentence)
    })
}
