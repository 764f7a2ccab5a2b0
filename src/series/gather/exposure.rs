//! Revolutions by region, and the gaps across which they are not known: the exposure of misfire counts.
//!
//! Over a gap in the engine speed the engine is assumed to turn at the mean of the speeds at both ends, in the region
//! of both ends where they share one. How long a gap may be depends on how often the engine speed is read: a logger
//! that requests it every half minute leaves one each time.

use crate::series::label::{
    Label,
    region::{ByPart, Region},
};

/// Number of usual intervals of the engine speed that a gap may last, as for the age of a reading (see
/// [`crate::series::timeline::item`]).
const HOLE_INTERVALS: u64 = 3;
/// Length of a gap up to which it is always bridged, s: the largest age of a reading.
const LEAST_HOLE_S: u64 = 10;
/// Length of a gap beyond which it is never bridged, s: an engine can be stopped and started unseen, and turn at any
/// speed (assumed).
const LONGEST_HOLE_S: u64 = 60;

/// One end of a gap.
#[derive(Debug, Clone, Copy)]
struct End {
    /// Revolutions per second in which fuel burns.
    burning_per_s: f64,
    place: Option<Region>,
}

/// Follows the engine's revolutions.
#[derive(Debug, Clone, Default)]
pub struct Exposure {
    /// Revolutions since the recording started.
    turned: ByPart<f64>,
    latest: Option<End>,
    hole_s: u64,
    /// The engine is at rest: its counters may restart.
    stands: bool,
    epoch: u32,
}

impl Exposure {
    /// Takes a judged second; `interval_us` is the usual time between readings of the engine speed.
    pub fn moment(
        &mut self,
        engine_rpm: Option<f64>,
        label: Label,
        region: Option<Region>,
        interval_us: Option<u64>,
    ) {
        let Some(engine_rpm) = engine_rpm else {
            self.gap(1, interval_us);
            return;
        };
        let stands = label == Label::EngineOff;
        if std::mem::replace(&mut self.stands, stands) != stands {
            self.epoch += 1;
        }
        let now = End {
            // without fuel nothing burns and nothing is counted
            burning_per_s: match label {
                Label::FuelCut => 0.0,
                _ => engine_rpm / 60.0,
            },
            place: match label {
                Label::Used | Label::Transient | Label::OpenLoop | Label::Relearn => region,
                _ => None,
            },
        };
        self.bridge(now, interval_us);
        self.turn(now.place, now.burning_per_s);
        self.latest = Some(now);
    }

    /// Notes seconds in which the engine speed was not known.
    pub fn gap(&mut self, seconds: u64, interval_us: Option<u64>) {
        self.hole_s += seconds;
        if self.hole_s >= longest_hole_s(interval_us) {
            self.epoch += 1;
        }
    }

    /// Revolutions since the recording started.
    pub fn turned(&self) -> ByPart<f64> {
        self.turned
    }

    /// Number that rises with every gap that is not bridged, in each of its seconds and at its end, and when the engine
    /// stops or starts: between two epochs the revolutions are not known.
    pub fn epoch(&self) -> u32 {
        self.epoch
    }

    fn bridge(&mut self, now: End, interval_us: Option<u64>) {
        let hole_s = std::mem::take(&mut self.hole_s);
        if hole_s >= longest_hole_s(interval_us) {
            self.epoch += 1;
            return;
        }
        let Some(before) = self.latest.filter(|_| hole_s > 0) else {
            return;
        };
        let place = before.place.filter(|place| now.place == Some(*place));
        let per_s = f64::midpoint(before.burning_per_s, now.burning_per_s);
        self.turn(place, per_s * hole_s as f64);
    }

    fn turn(&mut self, place: Option<Region>, revolutions: f64) {
        self.turned[place.into()] += revolutions;
    }
}

fn longest_hole_s(interval_us: Option<u64>) -> u64 {
    let usual_s = interval_us.map_or(0, |interval_us| HOLE_INTERVALS * interval_us / 1_000_000);
    usual_s.clamp(LEAST_HOLE_S, LONGEST_HOLE_S)
}
