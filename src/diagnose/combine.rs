//! Several captures of one car as one picture: seconds, fuel trims, misfires, codes, warnings.

use std::collections::{BTreeMap, BTreeSet};

use pintle_protocol::dtc::TroubleCode;

use crate::{
    series::{
        gather::misfire_frame::misfiring_cylinder,
        label::region::{ByRegion, Region},
        summary::{Seconds, Summary, TrimSummary},
    },
    statistics::{correlation::t_quantile, poisson},
};

use super::diagnosis::{
    Counted, CylinderRate, Diagnosis, MisfireSource, Misfires, StandingOut, Trim, Warning,
};

/// Largest p-value, 0 to 1, at which a cylinder's surplus of misfires is reported (1 %: common practice).
const BY_CHANCE: f64 = 0.01;

/// Level of the reported confidence intervals (95 %: common practice).
const LEVEL: f64 = 0.95;
/// Seconds of usable fuel trim below which a warning says that the odds are little more than the priors (assumed).
const LITTLE_S: f64 = 60.0;
/// The part of a diagnosis that is read from the captures without any judgement.
pub fn readings(summaries: &[Summary]) -> Diagnosis {
    let not_judged = summaries
        .iter()
        .find_map(|summary| summary.facts.not_judged);
    let mut diagnosis = Diagnosis {
        seconds: seconds(summaries),
        not_judged,
        trims: trims(summaries),
        codes: codes(summaries),
        ..Diagnosis::default()
    };
    diagnosis.misfires = misfires(summaries, &diagnosis.codes);
    diagnosis.misfires.freeze_frame = summaries
        .iter()
        .find_map(|summary| summary.misfire_frame.clone());
    diagnosis.warnings = warnings(summaries, &diagnosis);
    diagnosis
}

/// Seconds recorded in each region, on the bank that has most of them.
pub fn seconds_by_region(trims: &[Trim]) -> ByRegion<f64> {
    ByRegion::from_fn(|region| {
        let here = trims.iter().filter(|trim| trim.region == region);
        here.map(|trim| trim.seconds).fold(0.0, f64::max)
    })
}

fn seconds(summaries: &[Summary]) -> Seconds {
    let mut all = Seconds::default();
    for seconds in summaries.iter().map(|summary| summary.seconds) {
        for label in crate::series::label::Label::ALL {
            all.add(label, seconds.of(label));
        }
    }
    all
}

fn trims(summaries: &[Summary]) -> Vec<Trim> {
    let mut groups: BTreeMap<(u8, Region), Vec<TrimSummary>> = BTreeMap::new();
    for trim in summaries.iter().flat_map(Summary::fuel_trims) {
        groups
            .entry((trim.bank, trim.region))
            .or_default()
            .push(trim);
    }
    let groups = groups.into_iter();
    groups
        .map(|((bank, region), group)| {
            let pooled = Pooled::of(&group);
            let [low, high] = pooled.interval_log(LEVEL);
            Trim {
                bank,
                region,
                mean_pct: percent(pooled.mean_log),
                std_error_log: pooled.std_error_log,
                degrees_of_freedom: pooled.degrees_of_freedom,
                low_pct: percent(low),
                high_pct: percent(high),
                seconds: group.iter().map(|trim| trim.seconds).sum(),
            }
        })
        .collect()
}

/// Mean of the fuel trim's logarithm over trips, weighted by seconds, with its standard error within the trips.
#[derive(Debug, Clone, Copy)]
struct Pooled {
    mean_log: f64,
    std_error_log: f64,
    degrees_of_freedom: f64,
}

impl Pooled {
    /// Pools trips. The degrees of freedom are those of a sum of variances: Satterthwaite, *Biometrics Bulletin* 2
    /// (1946) 110–114.
    fn of(group: &[TrimSummary]) -> Self {
        let seconds: f64 = group.iter().map(|trim| trim.seconds).sum();
        let share = |trim: &TrimSummary| trim.seconds / seconds.max(1e-9);
        let variance = |trim: &TrimSummary| (share(trim) * trim.std_error_log).powi(2);
        let sum: f64 = group.iter().map(variance).sum();
        let doubts = group
            .iter()
            .map(|trim| variance(trim).powi(2) / trim.degrees_of_freedom);
        let degrees_of_freedom = sum * sum / doubts.sum::<f64>();
        let least = group
            .iter()
            .map(|trim| trim.degrees_of_freedom)
            .fold(f64::INFINITY, f64::min);
        Self {
            mean_log: group.iter().map(|trim| share(trim) * trim.mean_log).sum(),
            std_error_log: sum.sqrt(),
            // without any error there is none to be known to so many
            degrees_of_freedom: if degrees_of_freedom.is_nan() {
                least
            } else {
                degrees_of_freedom
            },
        }
    }

    fn interval_log(&self, level: f64) -> [f64; 2] {
        let errors = t_quantile(self.degrees_of_freedom, level).unwrap_or(f64::INFINITY);
        let half = errors * self.std_error_log;
        [self.mean_log - half, self.mean_log + half]
    }
}

/// Percent for the logarithm of a fuel trim, clamped to what a controller can do.
fn percent(log: f64) -> f64 {
    100.0 * log.clamp(-2.0, 2.0).exp_m1()
}

fn codes(summaries: &[Summary]) -> Vec<TroubleCode> {
    let codes = summaries.iter().flat_map(|summary| &summary.codes);
    let codes: BTreeSet<TroubleCode> = codes.map(|seen| seen.code).collect();
    codes.into_iter().collect()
}

fn misfires(summaries: &[Summary], codes: &[TroubleCode]) -> Misfires {
    let counters = summaries
        .iter()
        .filter_map(|summary| summary.misfires.as_ref());
    let revolutions: f64 = counters.clone().map(|misfires| misfires.revolutions).sum();
    let mut sums: BTreeMap<u8, (f64, f64)> = BTreeMap::new();
    for cylinder in counters.flat_map(|misfires| &misfires.cylinders) {
        let (count, dispersion) = sums.entry(cylinder.cylinder).or_insert((0.0, 1.0));
        *count += cylinder.count;
        *dispersion = dispersion.max(cylinder.dispersion);
    }
    if sums.is_empty() {
        return misfires_by_codes(codes);
    }
    let rate = |(cylinder, (count, dispersion))| CylinderRate {
        cylinder,
        counted: counted(count, dispersion, revolutions),
    };
    Misfires {
        standing_out: standing_out(&sums, revolutions),
        freeze_frame: None,
        source: MisfireSource::Counters,
        revolutions: Some(revolutions),
        cylinders: sums.into_iter().map(rate).collect(),
    }
}

/// The cylinder that stands out, tested against all others over the same revolutions; `None` where chance explains it.
fn standing_out(sums: &BTreeMap<u8, (f64, f64)>, revolutions: f64) -> Option<StandingOut> {
    let counts: Vec<f64> = sums.values().map(|(count, _)| *count).collect();
    let dispersion = sums
        .values()
        .map(|(_, dispersion)| *dispersion)
        .fold(1.0, f64::max);
    let found = poisson::stands_out(&counts, &vec![revolutions; counts.len()], dispersion)?;
    (found.p_value < BY_CHANCE).then_some(StandingOut {
        cylinder: *sums.keys().nth(found.index)?,
        share: found.share,
        p_value: found.p_value,
        pattern: poisson::misfire_pattern(&counts),
    })
}

fn counted(count: f64, dispersion: f64, revolutions: f64) -> Option<Counted> {
    let (low, high) = poisson::mean_interval(count, dispersion, LEVEL)?;
    let per_1000 = |number: f64| 1000.0 * number / revolutions;
    (revolutions > 0.0).then(|| Counted {
        count,
        per_1000_rev: per_1000(count),
        low: per_1000(low),
        high: per_1000(high),
    })
}

/// Cylinders that codes P0301 to P0312 name (SAE J2012).
fn misfires_by_codes(codes: &[TroubleCode]) -> Misfires {
    let named = codes.iter().filter_map(|code| {
        Some(CylinderRate {
            cylinder: misfiring_cylinder(*code)?,
            counted: None,
        })
    });
    let cylinders: Vec<CylinderRate> = named.collect();
    let any = !cylinders.is_empty();
    Misfires {
        source: if any {
            MisfireSource::Codes
        } else {
            MisfireSource::Nothing
        },
        revolutions: None,
        cylinders,
        ..Misfires::default()
    }
}

fn warnings(summaries: &[Summary], diagnosis: &Diagnosis) -> Vec<Warning> {
    let mut all = Vec::new();
    if diagnosis.not_judged.is_none() && diagnosis.seconds.used < LITTLE_S {
        all.push(Warning::MostlyPriors);
    }
    for warning in summaries.iter().flat_map(|summary| &summary.warnings) {
        let warning = Warning::Data(warning.clone());
        if !all.contains(&warning) {
            all.push(warning);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trim(
        mean_log: f64,
        std_error_log: f64,
        degrees_of_freedom: f64,
        seconds: f64,
    ) -> TrimSummary {
        TrimSummary {
            bank: 1,
            region: Region::LightCruise,
            mean_log,
            std_error_log,
            seconds,
            readings: 100,
            degrees_of_freedom,
            effective_readings: 50.0,
            saturated: 0.0,
            without_misfire: None,
        }
    }

    /// By hand, with t = 2.776 for 4 degrees of freedom (any published table).
    #[test]
    fn one_trip_keeps_its_standard_error_beside_its_interval() {
        let pooled = Pooled::of(&[trim(0.05, 0.01, 4.0, 300.0)]);
        assert!((pooled.std_error_log - 0.01).abs() < 1e-12);
        assert!((pooled.degrees_of_freedom - 4.0).abs() < 1e-9);
        let [low, high] = pooled.interval_log(0.95);
        assert!((low - 0.02224).abs() < 1e-5 && (high - 0.07776).abs() < 1e-5);
    }

    /// By hand: shares 0.75 and 0.25, variances 5.625e-5 and 2.5e-5, together 8.125e-5 = 0.00901²; degrees of freedom
    /// 8.125² / (5.625² / 4 + 2.5² / 9) = 66.02 / 8.605 = 7.67; t = 2.32.
    #[test]
    fn several_trips_are_known_as_well_as_their_errors_are() {
        let pooled = Pooled::of(&[trim(0.04, 0.01, 4.0, 300.0), trim(0.08, 0.02, 9.0, 100.0)]);
        assert!((pooled.mean_log - 0.05).abs() < 1e-12);
        assert!((pooled.std_error_log - 0.009_014).abs() < 1e-6);
        assert!((pooled.degrees_of_freedom - 7.67).abs() < 0.01);
        let [low, high] = pooled.interval_log(0.95);
        assert!(((high - low) / 2.0 / pooled.std_error_log - 2.32).abs() < 0.02);
    }
}
