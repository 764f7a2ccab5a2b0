//! Total fuel trim of each bank: y = ln C with C = (1 + short/100)(1 + long/100), averaged by region.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::estimate::{Estimate, RunningMean},
        label::{
            plausible::TRIM_PLACEHOLDER_PCT,
            region::{ByRegion, Region},
        },
        summary::{BankDifference, TrimSummary},
        timeline::{moment::Moment, quantity::Quantity},
    },
};

/// Limits at which manufacturers stop their fuel trims, percent (common practice).
const LIMITS_PCT: [f64; 5] = [12.5, 20.0, 25.0, 35.0, 50.0];
/// Distance from a limit up to which a trim counts as saturated, percent: one step of the published scaling (SAE J1979,
/// 100/128).
const LIMIT_TOLERANCE_PCT: f64 = 0.8;

/// The trims of one bank in one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
struct BankTrims {
    /// Short term trim, percent.
    short: f64,
    /// Long term trim, percent; 0 for a car that has none.
    long: f64,
    /// Number of readings of the short term trim.
    readings: u32,
}

impl BankTrims {
    /// Trims of a bank; `None` where the short term trim is not known or a placeholder.
    fn of(moment: &Moment, bank: Bank) -> Option<Self> {
        let short = moment.known(Quantity::short_trim(bank))?;
        let long = moment.get(Quantity::long_trim(bank));
        let placeholder = |trim: f64| trim <= TRIM_PLACEHOLDER_PCT;
        let trims = Self {
            short: short.mean,
            long: long.filter(|long| !placeholder(*long)).unwrap_or(0.0),
            readings: short.fresh,
        };
        (!placeholder(trims.short)).then_some(trims)
    }

    /// y = ln C, the natural logarithm of the total fuel trim.
    fn trim_log(self) -> f64 {
        (self.short / 100.0).ln_1p() + (self.long / 100.0).ln_1p()
    }

    /// Size of the short term trim, percent, which reaches its limit when the controller cannot follow any more. While
    /// it swings freely, a saturated long term trim does not make the total wrong.
    fn size(self) -> f64 {
        self.short.abs()
    }
}

/// y = ln C of each bank; `None` where it is not known.
pub fn trims_log(moment: &Moment) -> ByBank<Option<f64>> {
    ByBank::from_fn(|bank| BankTrims::of(moment, bank).map(BankTrims::trim_log))
}

/// One bank in one region.
#[derive(Debug, Clone)]
struct RegionMean {
    mean: RunningMean,
    readings: u32,
    /// Seconds with the short term trim near each of [`LIMITS_PCT`].
    near_limit: [u32; LIMITS_PCT.len()],
}

/// Running fuel trims of all banks.
#[derive(Debug, Clone, Default)]
pub struct FuelTrims {
    regions: ByBank<ByRegion<Option<RegionMean>>>,
    differences: ByBank<ByRegion<Option<RunningMean>>>,
    /// Largest short term trim of each bank, by size, percent.
    largest: ByBank<f64>,
}

impl FuelTrims {
    /// Takes a moment that counts; `each` receives every bank's y in it, banks counted from 0.
    pub fn push(
        &mut self,
        moment: &Moment,
        region: Option<Region>,
        mut each: impl FnMut(Bank, f64),
    ) {
        let mut first = None;
        for bank in Bank::ALL {
            let Some(trims) = BankTrims::of(moment, bank) else {
                continue;
            };
            let y = trims.trim_log();
            each(bank, y);
            self.push_bank(bank, trims, y, region);
            match (bank, first, region) {
                (Bank::One, ..) => first = Some(y),
                (_, Some(first), Some(region)) => self.push_difference(bank, region, first - y),
                _ => {}
            }
        }
    }

    fn push_bank(&mut self, bank: Bank, trims: BankTrims, y: f64, region: Option<Region>) {
        self.largest[bank] = self.largest[bank].max(trims.size());
        let Some(region) = region else { return };
        let entry = self.regions[bank][region].get_or_insert_with(|| RegionMean {
            mean: RunningMean::of_region(Some(region)),
            readings: 0,
            near_limit: Default::default(),
        });
        entry.mean.push(y);
        entry.readings = entry.readings.saturating_add(trims.readings);
        for (seconds, limit) in entry.near_limit.iter_mut().zip(LIMITS_PCT) {
            *seconds += u32::from((trims.size() - limit).abs() <= LIMIT_TOLERANCE_PCT);
        }
    }

    fn push_difference(&mut self, bank: Bank, region: Region, difference: f64) {
        self.differences[bank][region]
            .get_or_insert_with(RunningMean::of_difference)
            .push(difference);
    }

    /// Summaries of the banks that have trims which count.
    pub fn trims(&self) -> Vec<TrimSummary> {
        let mut all = Vec::new();
        for (bank, regions) in &self.regions {
            for (region, entry) in regions {
                let summary = entry
                    .as_ref()
                    .and_then(|e| e.summary(bank.number(), region, self.largest[bank]));
                all.extend(summary);
            }
        }
        all
    }

    /// Differences between bank 1 and each other bank.
    pub fn differences(&self) -> Vec<BankDifference> {
        let mut all = Vec::new();
        for (other, regions) in &self.differences {
            for (region, mean) in regions {
                let estimate = mean.as_ref().and_then(RunningMean::estimate);
                all.extend(estimate.map(|estimate| BankDifference {
                    other: other.number(),
                    region,
                    mean_log: estimate.mean_log,
                    std_error_log: estimate.std_error_log,
                    seconds: estimate.seconds,
                }));
            }
        }
        all
    }
}

impl RegionMean {
    fn summary(&self, bank: u8, region: Region, largest: f64) -> Option<TrimSummary> {
        let estimate = self.mean.estimate()?;
        Some(TrimSummary {
            bank,
            region,
            mean_log: estimate.mean_log,
            std_error_log: estimate.std_error_log,
            seconds: estimate.seconds,
            readings: self.readings,
            degrees_of_freedom: estimate.degrees_of_freedom,
            effective_readings: self.effective_readings(&estimate),
            saturated: self.share_saturated(largest, estimate.seconds),
            without_misfire: None,
        })
    }

    fn effective_readings(&self, estimate: &Estimate) -> f64 {
        estimate.effective.min(f64::from(self.readings.max(1)))
    }

    /// Share of seconds at a limit, 0 to 1; a limit counts only if the short term trim never went beyond it.
    fn share_saturated(&self, largest: f64, seconds: f64) -> f64 {
        let limits = LIMITS_PCT.into_iter().zip(self.near_limit);
        limits
            .filter(|(limit, _)| (largest - limit).abs() <= LIMIT_TOLERANCE_PCT)
            .map(|(_, near)| f64::from(near) / seconds)
            .fold(0.0, f64::max)
    }
}
