//! Total correction of each bank: y = ln C with C = (1 + short/100)(1 + long/100), averaged by region.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::estimate::{Estimate, RunningMean},
        label::plausible::TRIM_PLACEHOLDER_PCT,
        label::region::{ByRegion, Region},
        summary::{BankDifference, TrimSummary},
        timeline::moment::Moment,
        timeline::quantity::Quantity,
    },
};

/// Where makers stop their trims, percent (common practice; by maker).
const STOPS_PCT: [f64; 5] = [12.5, 20.0, 25.0, 35.0, 50.0];
/// How near a trim must be to count as standing at its stop: one step of the published scaling, percent.
const STOP_TOLERANCE_PCT: f64 = 0.8;

/// The trims of one bank in one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Trims {
    /// Percent.
    short: f64,
    /// Percent; 0 for a car that keeps none.
    long: f64,
    /// Readings of the short trim.
    readings: u32,
}

impl Trims {
    /// What is known of a bank; a placeholder is not known.
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

    /// y = ln C.
    fn correction_log(self) -> f64 {
        (self.short / 100.0).ln_1p() + (self.long / 100.0).ln_1p()
    }

    /// Size of the short trim, which stands at its stop when the controller cannot follow any more. As long as it
    /// swings freely, a long trim at its own stop does not make the correction wrong.
    fn size(self) -> f64 {
        self.short.abs()
    }
}

/// y = ln C of each bank, where it is known.
pub fn corrections_log(moment: &Moment) -> ByBank<Option<f64>> {
    ByBank::from_fn(|bank| Trims::of(moment, bank).map(Trims::correction_log))
}

/// One bank in one region.
#[derive(Debug, Clone)]
struct BankRegion {
    mean: RunningMean,
    readings: u32,
    /// Seconds with the short trim near each of the stops.
    near_stop: [u32; STOPS_PCT.len()],
}

/// Running corrections of all banks.
#[derive(Debug, Clone, Default)]
pub struct Corrections {
    regions: ByBank<ByRegion<Option<BankRegion>>>,
    differences: ByBank<ByRegion<Option<RunningMean>>>,
    /// Largest short trim met on each bank, by size, percent.
    largest: ByBank<f64>,
}

impl Corrections {
    /// Takes a moment that counts; `each` gets every bank's y in it.
    pub fn push(
        &mut self,
        moment: &Moment,
        region: Option<Region>,
        mut each: impl FnMut(Bank, f64),
    ) {
        let mut first = None;
        for bank in Bank::ALL {
            let Some(trims) = Trims::of(moment, bank) else {
                continue;
            };
            let y = trims.correction_log();
            each(bank, y);
            self.push_bank(bank, trims, y, region);
            match (bank, first, region) {
                (Bank::One, ..) => first = Some(y),
                (_, Some(first), Some(region)) => self.push_difference(bank, region, first - y),
                _ => {}
            }
        }
    }

    fn push_bank(&mut self, bank: Bank, trims: Trims, y: f64, region: Option<Region>) {
        self.largest[bank] = self.largest[bank].max(trims.size());
        let Some(region) = region else { return };
        let entry = self.regions[bank][region].get_or_insert_with(|| BankRegion {
            mean: RunningMean::of_region(Some(region)),
            readings: 0,
            near_stop: Default::default(),
        });
        entry.mean.push(y);
        entry.readings = entry.readings.saturating_add(trims.readings);
        for (seconds, stop) in entry.near_stop.iter_mut().zip(STOPS_PCT) {
            *seconds += u32::from((trims.size() - stop).abs() <= STOP_TOLERANCE_PCT);
        }
    }

    fn push_difference(&mut self, bank: Bank, region: Region, difference: f64) {
        self.differences[bank][region]
            .get_or_insert_with(RunningMean::of_difference)
            .push(difference);
    }

    /// Banks of which a correction counted.
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

    /// Bank 1 against each other bank.
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

impl BankRegion {
    fn summary(&self, bank: u8, region: Region, largest: f64) -> Option<TrimSummary> {
        let estimate = self.mean.estimate()?;
        Some(TrimSummary {
            bank,
            region,
            mean_log: estimate.mean_log,
            std_error_log: estimate.std_error_log,
            seconds: estimate.seconds,
            readings: self.readings,
            freedom: estimate.freedom,
            effective_readings: self.effective_readings(&estimate),
            at_stop: self.share_at_stop(largest, estimate.seconds),
            without_misfire: None,
        })
    }

    fn effective_readings(&self, estimate: &Estimate) -> f64 {
        estimate.effective.min(f64::from(self.readings.max(1)))
    }

    /// A stop is one only if the short trim was never met beyond it.
    fn share_at_stop(&self, largest: f64, seconds: f64) -> f64 {
        let stops = STOPS_PCT.into_iter().zip(self.near_stop);
        stops
            .filter(|(stop, _)| (largest - stop).abs() <= STOP_TOLERANCE_PCT)
            .map(|(_, near)| f64::from(near) / seconds)
            .fold(0.0, f64::max)
    }
}
