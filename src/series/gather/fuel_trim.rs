//! Total correction of each bank: y = ln C with C = (1 + short/100)(1 + long/100), averaged by region.

use crate::series::{
    gather::estimate::{Estimate, RunningMean},
    label::plausible::TRIM_PLACEHOLDER_PCT,
    label::region::Region,
    summary::{BankDifference, TrimSummary},
    timeline::moment::Moment,
    timeline::quantity::Quantity,
};

/// Banks that the standard knows.
pub const BANKS: usize = 4;

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
    fn of(moment: &Moment, bank: usize) -> Option<Self> {
        let short = moment.known(*Quantity::SHORT_TRIMS.get(bank)?)?;
        let long = moment.get(*Quantity::LONG_TRIMS.get(bank)?);
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
pub fn corrections_log(moment: &Moment) -> [Option<f64>; BANKS] {
    std::array::from_fn(|bank| Trims::of(moment, bank).map(Trims::correction_log))
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
    regions: [[Option<BankRegion>; Region::ALL.len()]; BANKS],
    differences: [[Option<RunningMean>; Region::ALL.len()]; BANKS],
    /// Largest short trim met on each bank, by size, percent.
    largest: [f64; BANKS],
}

impl Corrections {
    /// Takes a moment that counts; `each` gets every bank's y in it, banks counted from 0.
    pub fn push(
        &mut self,
        moment: &Moment,
        region: Option<Region>,
        mut each: impl FnMut(usize, f64),
    ) {
        let mut first = None;
        for bank in 0..BANKS {
            let Some(trims) = Trims::of(moment, bank) else {
                continue;
            };
            let y = trims.correction_log();
            each(bank, y);
            self.push_bank(bank, trims, y, region);
            match (bank, first, region) {
                (0, ..) => first = Some(y),
                (_, Some(first), Some(region)) => self.push_difference(bank, region, first - y),
                _ => {}
            }
        }
    }

    fn push_bank(&mut self, bank: usize, trims: Trims, y: f64, region: Option<Region>) {
        if let Some(largest) = self.largest.get_mut(bank) {
            *largest = largest.max(trims.size());
        }
        let Some(region) = region else { return };
        let Some(slot) = slot(&mut self.regions, bank, region) else {
            return;
        };
        let entry = slot.get_or_insert_with(|| BankRegion {
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

    fn push_difference(&mut self, bank: usize, region: Region, difference: f64) {
        if let Some(slot) = slot(&mut self.differences, bank, region) {
            slot.get_or_insert_with(RunningMean::of_difference)
                .push(difference);
        }
    }

    /// Banks of which a correction counted.
    pub fn trims(&self) -> Vec<TrimSummary> {
        let mut all = Vec::new();
        for (bank, (regions, largest)) in (1..).zip(self.regions.iter().zip(self.largest)) {
            for (entry, region) in regions.iter().zip(Region::ALL) {
                let summary = entry
                    .as_ref()
                    .and_then(|e| e.summary(bank, region, largest));
                all.extend(summary);
            }
        }
        all
    }

    /// Bank 1 against each other bank.
    pub fn differences(&self) -> Vec<BankDifference> {
        let mut all = Vec::new();
        for (other, regions) in (1..).zip(&self.differences) {
            for (mean, region) in regions.iter().zip(Region::ALL) {
                let estimate = mean.as_ref().and_then(RunningMean::estimate);
                all.extend(estimate.map(|estimate| BankDifference {
                    other,
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

fn slot<T>(
    table: &mut [[Option<T>; Region::ALL.len()]; BANKS],
    bank: usize,
    region: Region,
) -> Option<&mut Option<T>> {
    table.get_mut(bank)?.get_mut(region.index())
}
