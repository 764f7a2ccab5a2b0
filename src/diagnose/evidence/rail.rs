//! The rail pressure as the port reports it.
//!
//! A rail of low pressure is compared with the vehicle's range or, where none is stated, with what rails are built for,
//! which is wide; and with itself between idle and load. A fixed regulator holds the gauge pressure constant, one that
//! follows the manifold holds the pressure across the injectors constant, a worn pump or a blocked filter loses
//! pressure as more fuel is drawn. A rail of high pressure is compared with its command; without one only its changes
//! count, as every manufacturer sets it differently. The sensor itself may be wrong, and then the fuel trims do not
//! agree.

use enum_map::EnumMap;

use crate::{
    series::{
        label::region::{ByRegion, Region},
        summary::{RailPressure, RailSensor, Summary},
    },
    statistics::{
        density::{Exchangeable, log_student_t},
        log_sum::log_sum,
    },
    vehicle::Vehicle,
};

use super::{
    super::{engine::Points, fact::Against, forward::Prediction},
    Case, Conditions, Evidence, Fact, Piece, Sources,
};

/// Pressure from which a rail feeds direct injection, kPa: port rails stay below 800 and in-tank pumps below 1000,
/// direct injection idles above 2000 (common practice).
pub(super) const HIGH_KPA: f64 = 1500.0;
/// Seconds of recording from which a region counts (assumed).
const LEAST_S: f64 = 5.0;
/// Degrees of freedom of Student's t for the rail pressure: heavy tails, as sensors age in ways that no table knows
/// (common practice).
const DEGREES_OF_FREEDOM: f64 = 4.0;
/// Usual pressure of rails without a stated range, kPa: factory pages of 1994 to 2005 have 226 to 350 for sets with a
/// vacuum regulator and 301 to 425 for returnless ones; newer ones and the in-tank pump of direct injection are set to
/// 400 to 600 (common practice).
pub(super) const USUAL_KPA: f64 = 360.0;
/// Standard deviation between rails without a stated range, as a logarithm (from the figures at [`USUAL_KPA`]).
pub(super) const USUAL_SPREAD: f64 = 0.25;
/// Standard deviation of a sound rail from the middle of its stated range, beyond the range's own width, as a
/// logarithm: the bench's 2 % and a sensor's 2 % (common practice).
const STATED_SPREAD: f64 = 0.028;
/// Standard deviation of the pressure around its command, as a logarithm (common practice).
const COMMAND_SPREAD: f64 = 0.02;
/// Standard deviation of single regions on a sound car with a fixed regulator, as a logarithm (assumed).
const STILL: f64 = 0.012;
/// Standard deviation of single regions on a sound car whose controller moves the pressure with load, as a logarithm
/// (assumed).
pub(super) const MOVED: f64 = 0.10;
/// Standard deviation of single regions around the command on a sound car, as a logarithm (assumed).
const COMMANDED_REGION: f64 = 0.015;
/// Probability of a fixed regulator, which holds the gauge pressure constant (common practice).
pub(super) const FIXED: f64 = 0.55;
/// Probability of a regulator that follows the manifold (common practice; factory pages: some 80 kPa less at idle).
pub(super) const FOLLOWS: f64 = 0.25;
/// Probability of a pressure that a controller moves (common practice; more often with a sensor in the rail than
/// without).
pub(super) const CONTROLLED: f64 = 0.20;
/// Probability that the rail pressure sensor is wrong, 0 to 1 (assumed).
const SENSOR_WRONG: f64 = 0.05;
/// Standard deviation of a wrong sensor's error, as a logarithm (assumed).
const WRONG_BY: f64 = 0.30;
/// Rise of a high rail pressure over that of warm idle, by region, as a logarithm: some 4 MPa at idle, 5 to 20 under
/// load (common practice).
const RISES: ByRegion<f64> = EnumMap::from_array([0.0, 0.15, 0.35, 0.80]);
/// Standard deviation of that rise between manufacturers, as a logarithm (assumed).
const RISE_SPREAD: f64 = 0.25;
/// Standard deviation of a level that the manufacturer chooses freely, as a logarithm: wide enough to be no evidence.
const ANY_LEVEL: f64 = 1000.0;
/// Barometric pressure at sea level, kPa, where none is reported.
const USUAL_BAROMETER_KPA: f64 = 100.0;

/// One way in which the rail may be built and reported, with the residuals if nothing is wrong.
#[derive(Debug, Clone, Copy)]
struct RailVariant {
    log_weight: f64,
    /// Pressure as a ratio to the right one, by region, natural logarithm.
    off_log: ByRegion<Option<f64>>,
    /// Standard deviation of a region by itself; `shared` is that of all regions together.
    own: f64,
    shared: f64,
}

/// Evidence from the rail pressure, where it was reported for long enough.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let rail = RailEvidence::new(sources.summaries, sources.vehicle, sources.points)?;
    let fact = Fact::Rail {
        pressures: rail.reported().collect(),
        against: rail.against,
        range_kpa: rail.range,
    };
    Some(Piece::new(rail, Some(fact)))
}

impl Evidence for RailEvidence {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.reads_high_rail = self.is_high();
    }
}

/// The rail pressure, ready to be scored against predictions.
#[derive(Debug, Clone)]
pub struct RailEvidence {
    variants: Vec<RailVariant>,
    /// Log-likelihood where no change of the rail pressure is predicted.
    unchanged: f64,
    /// Reported pressure and commanded pressure by region, kPa.
    reported: Reported,
    against: Against,
    /// Lowest and highest right pressure, kPa; `None` where no range is stated.
    range: Option<[f64; 2]>,
}

impl RailEvidence {
    /// Combines the captures; `None` where no pressure was reported for long enough.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle, points: &Points) -> Option<Self> {
        let reported = |sensor| reported(summaries, sensor);
        let barometer = summaries.iter().find_map(|s| s.facts.barometer_kpa);
        let vacuum = points.map(|_, point| {
            barometer.unwrap_or(USUAL_BAROMETER_KPA) * (1.0 - point.manifold_ratio).max(0.0)
        });
        let candidates = [
            RailSensor::Controlled,
            RailSensor::ToManifold,
            RailSensor::Low,
            RailSensor::Gauge,
            RailSensor::Absolute,
        ];
        let reported = candidates.map(|sensor| (sensor, reported(sensor)));
        let known = |of: &(RailSensor, Reported)| of.1.values().any(Option::is_some);
        let (sensor, reported) = reported.into_iter().find(known)?;
        let kpa = reported.map(|_, reported| Some(reported?.0));
        let high = kpa.values().flatten().any(|kpa| *kpa >= HIGH_KPA);
        let range = vehicle.rail_kpa.filter(|[_, most]| *most < HIGH_KPA);
        let (against, variants) = match sensor {
            RailSensor::Controlled
                if reported
                    .values()
                    .flatten()
                    .any(|(_, asked)| asked.is_some()) =>
            {
                (Against::Command, by_command(&reported))
            }
            _ if high => (Against::Course, by_course(&kpa)),
            _ => {
                let gauge = |kpa: f64| match sensor {
                    RailSensor::Absolute | RailSensor::Controlled => {
                        kpa - barometer.unwrap_or(USUAL_BAROMETER_KPA)
                    }
                    _ => kpa,
                };
                let kpa = kpa.map(|_, kpa| kpa.map(gauge).filter(|kpa| *kpa > 0.0));
                let across = sensor == RailSensor::ToManifold;
                let against = if range.is_some() {
                    Against::Range
                } else {
                    Against::Usual
                };
                (against, by_value(&kpa, across, &vacuum, range))
            }
        };
        (!variants.is_empty()).then(|| {
            let rail = Self {
                unchanged: 0.0,
                variants,
                reported,
                against,
                range,
            };
            Self {
                unchanged: rail.likelihood(&ByRegion::default()),
                ..rail
            }
        })
    }

    /// Whether this is a rail of high pressure.
    pub fn is_high(&self) -> bool {
        let mut reported = self.reported.values().flatten();
        reported.any(|(kpa, _)| *kpa >= HIGH_KPA)
    }

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        if prediction.rail_log.values().all(|log| *log == 0.0) {
            self.unchanged
        } else {
            self.likelihood(&prediction.rail_log)
        }
    }

    fn likelihood(&self, predicted: &ByRegion<f64>) -> f64 {
        log_sum(
            self.variants
                .iter()
                .map(|variant| variant.log_likelihood(predicted)),
        )
    }

    /// Reported pressure with the commanded one, kPa, region by region.
    pub fn reported(&self) -> impl Iterator<Item = (Region, f64, Option<f64>)> {
        self.reported
            .into_iter()
            .filter_map(|(region, reported)| reported.map(|(kpa, asked)| (region, kpa, asked)))
    }
}

impl RailVariant {
    /// Log-likelihood of this way: all regions share one departure besides their own.
    fn log_likelihood(&self, predicted: &ByRegion<f64>) -> f64 {
        let left = self.off_log.iter();
        let left = left.filter_map(|(region, off)| Some((*off)? - predicted[region]));
        let found = Exchangeable::of(left, self.own, self.shared);
        let fits = log_student_t(found.distance, found.count, DEGREES_OF_FREEDOM);
        self.log_weight - found.log_size + fits
    }

    /// This way twice: with a correct sensor, and with a wrong one.
    fn with_doubt(self) -> [Self; 2] {
        [
            Self {
                log_weight: self.log_weight + (1.0 - SENSOR_WRONG).ln(),
                ..self
            },
            Self {
                log_weight: self.log_weight + SENSOR_WRONG.ln(),
                shared: self.shared.hypot(WRONG_BY),
                ..self
            },
        ]
    }
}

/// Reported pressure by region with the commanded one, kPa.
type Reported = ByRegion<Option<(f64, Option<f64>)>>;

/// Mean pressure that one sensor reported by region, over all captures, kPa.
fn reported(summaries: &[Summary], sensor: RailSensor) -> Reported {
    ByRegion::from_fn(|region| {
        let rows = summaries.iter().flat_map(|summary| &summary.rail);
        let here = rows.filter(|row| row.sensor == sensor && row.region == region);
        let (mut seconds, mut kpa, mut asked) = (0.0, 0.0, Some(0.0));
        for row in here {
            let RailPressure { seconds: more, .. } = *row;
            seconds += more;
            kpa += more * row.kpa;
            asked = asked
                .zip(row.commanded_kpa)
                .map(|(sum, kpa)| sum + more * kpa);
        }
        let mean = |sum: f64| sum / seconds;
        (seconds >= LEAST_S).then(|| (mean(kpa), asked.map(mean)))
    })
}

fn by_command(reported: &Reported) -> Vec<RailVariant> {
    let off = |_, reported: Option<(f64, Option<f64>)>| {
        let (kpa, asked) = reported?;
        Some((kpa / asked?).ln())
    };
    let variant = RailVariant {
        log_weight: 0.0,
        off_log: reported.map(off),
        own: COMMANDED_REGION,
        shared: COMMAND_SPREAD,
    };
    variant.with_doubt().to_vec()
}

/// Ways that compare region with region; none where there is only one region.
fn by_course(kpa: &ByRegion<Option<f64>>) -> Vec<RailVariant> {
    let off_log = kpa.map(|region, kpa| kpa.map(|kpa| kpa.ln() - RISES[region]));
    let variant = RailVariant {
        log_weight: 0.0,
        off_log,
        own: RISE_SPREAD,
        shared: ANY_LEVEL,
    };
    if off_log.values().flatten().count() > 1 {
        vec![variant]
    } else {
        Vec::new()
    }
}

/// Ways that compare the pressure with the range or the usual one; `across` where the pressure is reported relative to
/// the manifold's.
fn by_value(
    kpa: &ByRegion<Option<f64>>,
    across: bool,
    vacuum: &ByRegion<f64>,
    range: Option<[f64; 2]>,
) -> Vec<RailVariant> {
    let (right_kpa, spread) = match range {
        Some([least, most]) => {
            let middle = (least + most) / 2.0;
            let width = (most - least) / 4.0 / middle;
            (middle, width.hypot(STATED_SPREAD))
        }
        None => (USUAL_KPA, USUAL_SPREAD),
    };
    let idle_vacuum = vacuum[Region::WarmIdle];
    // what the gauge would show, and how much vacuum adds where the pressure is reported across the injectors
    let variant = |weight: f64, own: f64, gauge: &dyn Fn(f64) -> f64| {
        let off = |region, kpa: Option<f64>| {
            let vacuum = vacuum[region];
            let expected = gauge(vacuum) + if across { vacuum } else { 0.0 };
            kpa.map(|kpa| (kpa / expected.max(1.0)).ln())
        };
        RailVariant {
            log_weight: weight.ln(),
            off_log: kpa.map(off),
            own,
            shared: spread,
        }
    };
    let variants = [
        variant(FIXED, STILL, &|_| right_kpa),
        variant(CONTROLLED, MOVED, &|_| right_kpa),
        // one manufacturer states a range for idle, the other without vacuum
        variant(FOLLOWS / 2.0, STILL, &|vacuum| right_kpa - vacuum),
        variant(FOLLOWS / 2.0, STILL, &|vacuum| {
            right_kpa + idle_vacuum - vacuum
        }),
    ];
    let seen = kpa.values().flatten().next().is_some();
    let with_doubt = variants.into_iter().flat_map(RailVariant::with_doubt);
    with_doubt.filter(|_| seen).collect()
}

#[cfg(test)]
mod tests;
