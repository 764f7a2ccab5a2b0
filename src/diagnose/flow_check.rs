//! A check that no single gauge gives: do the flows measured on the bench explain the fuel trim that was recorded?
//!
//! A bank whose injectors deliver the share φ of a clean one's flow needs y = −ln(mean φ). The clean flow comes from a
//! data sheet, from the same injector after cleaning, or else from the middle of the set.

use crate::{
    bench::{self, InjectorReadings, Readings},
    series::{label::region::Region, variation},
    vehicle::Vehicle,
};

use super::{
    diagnosis::{FlowCheck, FlowOutcome, Trim},
    healthy,
};

/// Standard errors on each side of a 95 % interval of the normal distribution.
const NORMAL_95: f64 = 1.96;
/// Standard error of a clean injector's flow where it is the same injector after cleaning, as a share (repeatability of
/// a flow bench; assumed).
const CLEANED: f64 = 0.015;
/// Standard error of a clean injector's flow where it is the middle of the set, as a share (assumed, for a set whose
/// members differ by 3 % when clean).
const MIDDLE: f64 = 0.02;
/// Half-width of an interval, as a logarithm, beyond which agreement says nothing unless zero lies outside: 10 % is the
/// widest total trim that the trade accepts.
const TELLING: f64 = 0.10;
/// Fuel trim, as a logarithm, below which the trim is next to none (assumed; a third of the 10 % that the trade
/// accepts).
const SMALL: f64 = 0.03;
/// Standard errors from which a region stands apart from the others: about 95 %, as any of four regions may do so.
const APART: f64 = 2.5;
/// Seconds of recording below which a region is ignored (assumed).
const LEAST_S: f64 = 20.0;

/// A mean fuel trim as a logarithm, its standard error, and the part of that error which banks do not share.
#[derive(Debug, Clone, Copy)]
struct Level {
    y: f64,
    error: f64,
    own_error: f64,
}

/// One flow check for each bank; none where no flow was measured.
pub fn of(read: &Readings, vehicle: &Vehicle, trims: &[Trim], trips: usize) -> Vec<FlowCheck> {
    let Some(flows) = Flows::of(read) else {
        return Vec::new();
    };
    let banks = banks(read, vehicle, trims);
    let levels: Vec<(Option<Level>, Option<Level>)> = banks
        .iter()
        .map(|(bank, cylinders)| (flows.level(cylinders), logged(trims, *bank, trips)))
        .collect();
    let rows = banks.iter().zip(&levels).enumerate();
    rows.map(|(index, ((bank, _), (predicted, observed)))| {
        let apart = apart(&levels, index);
        let both = predicted.zip(*observed);
        let agree = both.and_then(|(predicted, observed)| agree(predicted, observed, apart));
        let alone = both.and_then(|_| stands_alone(trims, *bank, trips));
        FlowCheck {
            bank: *bank,
            predicted_pct: predicted.map(Level::percent),
            observed_pct: observed.map(Level::percent),
            agree: if alone.is_some() { Some(false) } else { agree },
            outcome: match alone {
                Some((region, points)) => FlowOutcome::RegionApart { region, points },
                None => outcome(*predicted, *observed, agree, flows.reference),
            },
        }
    })
    .collect()
}

/// Every bank that is named, with its cylinders; all cylinders of the form are bank 1 on an engine with one bank.
fn banks(read: &Readings, vehicle: &Vehicle, trims: &[Trim]) -> Vec<(u8, Vec<u8>)> {
    let several = trims.iter().any(|trim| trim.bank > 1);
    match &vehicle.banks {
        Some(banks) => (1..).zip(banks.iter().cloned()).collect(),
        None if several => Vec::new(),
        None => {
            let all = (1..=vehicle.cylinder_count().unwrap_or(0)).collect::<Vec<u8>>();
            let written = read.injectors.iter().map(|one| one.cylinder).collect();
            vec![(1, if all.is_empty() { written } else { all })]
        }
    }
}

/// Source of a clean injector's flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Reference {
    DataSheet,
    Cleaned,
    Middle,
}

impl Reference {
    fn of(read: &Readings) -> Self {
        let all = &read.injectors;
        let measured = all.iter().any(|one| one.volume_ml.is_some());
        let cleaned =
            |one: &InjectorReadings| one.volume_ml.is_none() || one.volume_after_ml.is_some();
        match () {
            () if measured && read.good_volume_ml.is_some() => Self::DataSheet,
            () if measured && all.iter().all(cleaned) => Self::Cleaned,
            () => Self::Middle,
        }
    }
}

/// Flow of each injector as a share of a clean one's, with the error of the reading.
struct Flows {
    each: Vec<(u8, f64, f64)>,
    reference: Reference,
}

impl Flows {
    fn of(read: &Readings) -> Option<Self> {
        let volumes = |one: &InjectorReadings| one.volume_ml;
        let (reading, step): (fn(&InjectorReadings) -> Option<f64>, f64) =
            match read.injectors.iter().filter_map(volumes).count() {
                0 => (|one| one.drop_kpa, 2_f64.sqrt() * read.steps.gauge_kpa),
                _ => (|one| one.volume_ml, read.steps.glass_ml),
            };
        // a reading is spread evenly over its step
        let error = step / 12_f64.sqrt();
        let mut values: Vec<f64> = read.injectors.iter().filter_map(reading).collect();
        values.sort_by(f64::total_cmp);
        let reference = Reference::of(read);
        let middle = || {
            let at = |index: usize| values.get(index).copied();
            let pair = at((values.len().max(1) - 1) / 2).zip(at(values.len() / 2));
            let known = pair.filter(|_| values.len() > 2);
            known.map(|(low, high)| 0.5 * (low + high))
        };
        let clean = |one: &InjectorReadings| match reference {
            Reference::DataSheet => read.good_volume_ml,
            Reference::Cleaned => one.volume_after_ml,
            Reference::Middle => middle(),
        };
        let each = read.injectors.iter().filter_map(|one| {
            let clean = clean(one).filter(|clean| *clean > 0.0)?;
            Some((one.cylinder, reading(one)? / clean, error / clean))
        });
        let each: Vec<_> = each.collect();
        (!each.is_empty()).then_some(Self { each, reference })
    }

    /// Fuel trim that a bank with these cylinders needs; `None` unless each injector was measured.
    fn level(&self, cylinders: &[u8]) -> Option<Level> {
        let measured = cylinders.iter().map(|cylinder| {
            let found = self.each.iter().find(|(number, ..)| number == cylinder);
            found.map(|(_, flow, error)| (*flow, *error))
        });
        let measured: Vec<(f64, f64)> = measured.collect::<Option<_>>()?;
        let count = measured.len().max(1) as f64;
        let mean = measured.iter().map(|one| one.0).sum::<f64>() / count;
        if mean <= 0.0 {
            return None;
        }
        let gauge = measured.iter().map(|one| one.1 * one.1).sum::<f64>().sqrt() / count;
        let reference = match self.reference {
            Reference::DataSheet => bench::DATA_SHEET_ERROR,
            Reference::Cleaned => CLEANED,
            Reference::Middle => MIDDLE,
        };
        Some(Level {
            y: -mean.ln(),
            error: (gauge / mean).hypot(reference),
            own_error: gauge / mean,
        })
    }
}

/// Fuel trim of a bank in each region, as a logarithm, with the variance between sound cars and trips there.
fn by_region(trims: &[Trim], bank: u8, trips: usize) -> impl Iterator<Item = (Region, f64, f64)> {
    let trips = trips.max(1) as f64;
    let counts = move |trim: &&Trim| trim.bank == bank && trim.seconds >= LEAST_S;
    trims.iter().filter(counts).map(move |trim| {
        let log = |pct: f64| (pct / 100.0).ln_1p();
        let inside = trim.std_error_log;
        let region = healthy::CAR_REGION[trim.region];
        let variance = inside.powi(2) + region.powi(2) + variation::REGION.powi(2) / trips;
        (trim.region, log(trim.mean_pct), variance)
    })
}

/// The region whose fuel trim differs from what the other regions would show on a sound car, and by how many points.
/// Injectors call for the same trim everywhere, so such a region points elsewhere.
fn stands_alone(trims: &[Trim], bank: u8, trips: usize) -> Option<(Region, f64)> {
    let sound = |region: Region| healthy::MEAN[region];
    let regions = by_region(trims, bank, trips);
    let regions: Vec<_> = regions.map(|(r, y, var)| (r, y - sound(r), var)).collect();
    let apart = |(region, y, variance): &(Region, f64, f64)| {
        let others = regions.iter().filter(|other| other.0 != *region);
        let weights = others.clone().map(|other| other.2.recip()).sum::<f64>();
        let mean = others.map(|other| other.1 / other.2).sum::<f64>() / weights;
        let errors = (y - mean) / (variance + weights.recip()).sqrt();
        (*region, 100.0 * (y - mean), errors.abs())
    };
    let most = regions
        .iter()
        .map(apart)
        .filter(|(.., errors)| *errors > APART);
    let most = most.max_by(|a, b| a.2.total_cmp(&b.2));
    most.map(|(region, points, _)| (region, points))
}

/// Mean fuel trim of a bank over its regions, with all the variance between sound cars and trips.
fn logged(trims: &[Trim], bank: u8, trips: usize) -> Option<Level> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (_, y, variance) in by_region(trims, bank, trips) {
        sum += y / variance;
        weights += 1.0 / variance;
    }
    let trips = trips.max(1) as f64;
    let level = healthy::CAR_LEVEL.powi(2)
        + variation::PERIOD.powi(2)
        + variation::TRIP.powi(2) / trips
        + healthy::BANK.powi(2);
    (weights > 0.0).then(|| Level {
        y: sum / weights,
        error: (level + 1.0 / weights).sqrt(),
        own_error: healthy::BANK.hypot(healthy::BANK_REGION),
    })
}

/// Difference between a bank's recorded and predicted fuel trim, less the other banks' mean difference. Fuel, weather
/// and MAF sensor cancel, so the result is far less noisy.
fn apart(levels: &[(Option<Level>, Option<Level>)], index: usize) -> Option<Level> {
    let left = |(predicted, observed): &(Option<Level>, Option<Level>)| {
        let (predicted, observed) = (*predicted)?.pair(*observed)?;
        Some((
            observed.y - predicted.y,
            predicted.own_error.hypot(observed.own_error),
        ))
    };
    let (own, own_error) = left(levels.get(index)?)?;
    let others: Vec<(f64, f64)> = levels
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index)
        .map(|(_, level)| left(level))
        .collect::<Option<_>>()?;
    let count = others.len() as f64;
    let mean = others.iter().map(|other| other.0).sum::<f64>() / count;
    // the bank that is further from what its flows predict is the one that does not fit
    let worst = others.iter().all(|other| own.abs() >= other.0.abs());
    let error = std::f64::consts::SQRT_2 * own_error;
    let apart = Level {
        y: own - mean,
        error,
        own_error: error,
    };
    (count > 0.0 && worst).then_some(apart)
}

fn agree(predicted: Level, observed: Level, apart: Option<Level>) -> Option<bool> {
    let half = NORMAL_95 * predicted.error.hypot(observed.error);
    let banks_differ = apart.is_some_and(|apart| apart.y.abs() > NORMAL_95 * apart.error);
    if (observed.y - predicted.y).abs() > half || banks_differ {
        return Some(false);
    }
    // agreement counts only where a wrong flow, or no flow at all, would have shown
    let telling = half <= TELLING || observed.y.abs() > half;
    telling.then_some(true)
}

impl Level {
    fn pair(self, other: Option<Self>) -> Option<(Self, Self)> {
        other.map(|other| (self, other))
    }

    /// Mean, lower end and upper end of the 95 % interval, percent.
    fn percent(self) -> [f64; 3] {
        let half = NORMAL_95 * self.error;
        [self.y, self.y - half, self.y + half].map(|y| 100.0 * y.exp_m1())
    }
}

fn outcome(
    predicted: Option<Level>,
    observed: Option<Level>,
    agree: Option<bool>,
    reference: Reference,
) -> FlowOutcome {
    let Some(predicted) = predicted else {
        return FlowOutcome::NotAllMeasured;
    };
    let Some(observed) = observed else {
        return FlowOutcome::NoTrim;
    };
    let need_a_trim = predicted.y.abs() >= SMALL;
    match agree {
        None => FlowOutcome::TooWide,
        Some(true) if need_a_trim => FlowOutcome::Explains,
        Some(true) => FlowOutcome::BothNormal,
        Some(false) if predicted.y >= SMALL && observed.y > predicted.y => {
            FlowOutcome::ExplainsPart
        }
        Some(false) if need_a_trim => FlowOutcome::NotWhatFlowsNeed,
        Some(false) => FlowOutcome::NotTheInjectors {
            unless_all_alike: reference == Reference::Middle,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, on four degrees of freedom, whose interval is 2.776 and not 1.96 errors wide: 1.0 point measured, 1.2 between
    /// sound cars at cruise and 0.78 of the trip make 1.0² + 1.2² + 0.78² = 3.05.
    #[test]
    fn the_error_of_a_mean_is_its_own_and_not_read_off_its_interval() {
        let trim = Trim {
            bank: 1,
            region: Region::LightCruise,
            mean_pct: 0.0,
            std_error_log: 0.01,
            degrees_of_freedom: 4.0,
            low_pct: -2.74,
            high_pct: 2.82,
            seconds: 300.0,
        };
        let (.., variance) = by_region(&[trim], 1, 1).next().unwrap();
        assert!((variance - 3.05e-4).abs() < 0.005e-4, "{variance}");
    }
}
