//! The rail's pressure as the port tells it.
//!
//! A rail of low pressure is held against the vehicle's range, or, where none is stated, against what rails are built for,
//! which is wide; and against itself between idle and load. A fixed regulator holds the gauge still, one that follows the
//! manifold holds the pressure across the injectors still, a tired pump or a blocked filter gives way as more fuel is asked
//! for. A rail of high pressure is held against its command; without one only its course counts, as every maker sets it in
//! a way of his own. The sensor itself may be wrong, and then the corrections do not agree.

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
    super::{engine::Points, forward::Prediction},
    Case, Conditions, Evidence, Fact, Piece, Sources,
};

/// From this pressure on a rail feeds direct injection, kPa: port rails stay below 800 and pumps in the tank below 1000,
/// direct injection idles above 2000 (common practice).
pub(super) const HIGH_KPA: f64 = 1500.0;
/// A region counts from so many seconds on.
const LEAST_S: f64 = 5.0;
/// Degrees of freedom of the tails: heavy, as sensors age in ways that no table knows (common practice).
const DEGREES_OF_FREEDOM: f64 = 4.0;
/// Pressure of rails of which nothing is stated, kPa, and how far they differ, as a logarithm: factory pages of 1994 to
/// 2005 have 226 to 350 for sets with a vacuum regulator and 301 to 425 for returnless ones; newer ones and the pump in the
/// tank of direct injection are set to 400 to 600 (common practice).
pub(super) const USUAL_KPA: f64 = 360.0;
pub(super) const USUAL_SPREAD: f64 = 0.25;
/// How far a sound rail lies from the middle of its stated range beside the range's own width: the bench's 2 % and a
/// sensor's 2 % (common practice).
const STATED_SPREAD: f64 = 0.028;
/// How closely a controller meets its command (common practice).
const COMMAND_SPREAD: f64 = 0.02;
/// How far single regions stray on a sound car: a fixed regulator; one that a controller moves with the load; the command.
const STILL: f64 = 0.012;
pub(super) const MOVED: f64 = 0.10;
const COMMANDED_REGION: f64 = 0.015;
/// How often a regulator holds the gauge still, follows the manifold (factory pages: some 80 kPa less at idle), is moved by
/// a controller (common practice; with a sensor in the rail more often than without).
pub(super) const FIXED: f64 = 0.55;
pub(super) const FOLLOWS: f64 = 0.25;
pub(super) const CONTROLLED: f64 = 0.20;
/// How often the sensor is wrong, and by how much then, as a logarithm (assumed).
const SENSOR_WRONG: f64 = 0.05;
const WRONG_BY: f64 = 0.30;
/// Rise of a high pressure over warm idle's by region, and how far makers differ, as logarithms: some 4 MPa at idle, 5 to
/// 20 under load (common practice).
const RISES: ByRegion<f64> = EnumMap::from_array([0.0, 0.15, 0.35, 0.80]);
const RISE_SPREAD: f64 = 0.25;
/// The level is the maker's affair: wide enough to say nothing of it.
const ANY_LEVEL: f64 = 1000.0;
/// Pressure at sea level, kPa, when the barometer is not known.
const USUAL_BAROMETER_KPA: f64 = 100.0;

/// What a value is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// What the controller commanded.
    Command,
    /// The range of the vehicle file, kPa.
    Range,
    /// What such rails are built for.
    Usual,
    /// Its own course from region to region.
    Course,
}

/// One way in which the rail may be built and told: what is left of the readings if nothing is wrong.
#[derive(Debug, Clone, Copy)]
struct Way {
    log_weight: f64,
    /// Logarithm of the pressure against the right one, by region.
    off_log: ByRegion<Option<f64>>,
    /// Standard deviations: of a region by itself, of all of them together.
    own: f64,
    shared: f64,
}

/// The pressure, where it was reported for long enough.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let rail = Rail::new(sources.summaries, sources.vehicle, sources.points)?;
    let fact = Fact::Rail {
        pressures: rail.told().collect(),
        against: rail.against,
        range_kpa: rail.range,
    };
    Some(Piece::new(rail, Some(fact)))
}

impl Evidence for Rail {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.reads_high_rail = self.is_high();
    }
}

/// The rail's pressure, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Rail {
    ways: Vec<Way>,
    /// Where nothing is predicted of the rail.
    unchanged: f64,
    /// As told, kPa by region, and what was commanded then.
    told: Told,
    against: Against,
    /// Lowest and highest right pressure, kPa.
    range: Option<[f64; 2]>,
}

impl Rail {
    /// Takes the captures together; `None` where no pressure was told for long enough.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle, points: &Points) -> Option<Self> {
        let told = |sensor| told(summaries, sensor);
        let barometer = summaries.iter().find_map(|s| s.facts.barometer_kpa);
        let vacuum = points.map(|_, point| {
            barometer.unwrap_or(USUAL_BAROMETER_KPA) * (1.0 - point.filling).max(0.0)
        });
        let candidates = [
            RailSensor::Controlled,
            RailSensor::ToManifold,
            RailSensor::Low,
            RailSensor::Gauge,
            RailSensor::Absolute,
        ];
        let told = candidates.map(|sensor| (sensor, told(sensor)));
        let known = |of: &(RailSensor, Told)| of.1.values().any(Option::is_some);
        let (sensor, told) = told.into_iter().find(known)?;
        let kpa = told.map(|_, told| Some(told?.0));
        let high = kpa.values().flatten().any(|kpa| *kpa >= HIGH_KPA);
        let range = vehicle.rail_kpa.filter(|[_, most]| *most < HIGH_KPA);
        let (against, ways) = match sensor {
            RailSensor::Controlled if told.values().flatten().any(|(_, asked)| asked.is_some()) => {
                (Against::Command, by_command(&told))
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
        (!ways.is_empty()).then(|| {
            let rail = Self {
                unchanged: 0.0,
                ways,
                told,
                against,
                range,
            };
            Self {
                unchanged: rail.likelihood(&ByRegion::default()),
                ..rail
            }
        })
    }

    /// Whether it is a rail of high pressure.
    pub fn is_high(&self) -> bool {
        let mut told = self.told.values().flatten();
        told.any(|(kpa, _)| *kpa >= HIGH_KPA)
    }

    /// Logarithm of the likelihood, up to what is the same for all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        if prediction.rail_log.values().all(|log| *log == 0.0) {
            self.unchanged
        } else {
            self.likelihood(&prediction.rail_log)
        }
    }

    fn likelihood(&self, predicted: &ByRegion<f64>) -> f64 {
        log_sum(self.ways.iter().map(|way| way.log_likelihood(predicted)))
    }

    /// As told, kPa, with what was commanded then, region by region.
    pub fn told(&self) -> impl Iterator<Item = (Region, f64, Option<f64>)> {
        self.told
            .into_iter()
            .filter_map(|(region, told)| told.map(|(kpa, asked)| (region, kpa, asked)))
    }
}

impl Way {
    /// All regions share one departure beside their own.
    fn log_likelihood(&self, predicted: &ByRegion<f64>) -> f64 {
        let left = self.off_log.iter();
        let left = left.filter_map(|(region, off)| Some((*off)? - predicted[region]));
        let found = Exchangeable::of(left, self.own, self.shared);
        let fits = log_student_t(found.distance, found.count, DEGREES_OF_FREEDOM);
        self.log_weight - found.log_size + fits
    }

    /// The same with a sensor that is right, and with one that is wrong.
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

/// Pressures by region with what was commanded, kPa.
type Told = ByRegion<Option<(f64, Option<f64>)>>;

/// What one parameter told, over all captures.
fn told(summaries: &[Summary], sensor: RailSensor) -> Told {
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

fn by_command(told: &Told) -> Vec<Way> {
    let off = |_, told: Option<(f64, Option<f64>)>| {
        let (kpa, asked) = told?;
        Some((kpa / asked?).ln())
    };
    let way = Way {
        log_weight: 0.0,
        off_log: told.map(off),
        own: COMMANDED_REGION,
        shared: COMMAND_SPREAD,
    };
    way.with_doubt().to_vec()
}

/// Region against region; nothing where there is only one.
fn by_course(kpa: &ByRegion<Option<f64>>) -> Vec<Way> {
    let off_log = kpa.map(|region, kpa| kpa.map(|kpa| kpa.ln() - RISES[region]));
    let way = Way {
        log_weight: 0.0,
        off_log,
        own: RISE_SPREAD,
        shared: ANY_LEVEL,
    };
    if off_log.values().flatten().count() > 1 {
        vec![way]
    } else {
        Vec::new()
    }
}

/// Against the range, or what is usual; `across` where the pressure is told against the manifold's.
fn by_value(
    kpa: &ByRegion<Option<f64>>,
    across: bool,
    vacuum: &ByRegion<f64>,
    range: Option<[f64; 2]>,
) -> Vec<Way> {
    let (right_kpa, spread) = match range {
        Some([least, most]) => {
            let middle = (least + most) / 2.0;
            let width = (most - least) / 4.0 / middle;
            (middle, width.hypot(STATED_SPREAD))
        }
        None => (USUAL_KPA, USUAL_SPREAD),
    };
    let idle_vacuum = vacuum[Region::WarmIdle];
    // what the gauge would tell, and how much of the vacuum lies on top where the pressure is told across the injectors
    let way = |weight: f64, own: f64, gauge: &dyn Fn(f64) -> f64| {
        let off = |region, kpa: Option<f64>| {
            let vacuum = vacuum[region];
            let expected = gauge(vacuum) + if across { vacuum } else { 0.0 };
            kpa.map(|kpa| (kpa / expected.max(1.0)).ln())
        };
        Way {
            log_weight: weight.ln(),
            off_log: kpa.map(off),
            own,
            shared: spread,
        }
    };
    let ways = [
        way(FIXED, STILL, &|_| right_kpa),
        way(CONTROLLED, MOVED, &|_| right_kpa),
        // a range is stated for idle by one maker, without vacuum by the other
        way(FOLLOWS / 2.0, STILL, &|vacuum| right_kpa - vacuum),
        way(FOLLOWS / 2.0, STILL, &|vacuum| {
            right_kpa + idle_vacuum - vacuum
        }),
    ];
    let seen = kpa.values().flatten().next().is_some();
    let with_doubt = ways.into_iter().flat_map(Way::with_doubt);
    with_doubt.filter(|_| seen).collect()
}

#[cfg(test)]
mod tests;
