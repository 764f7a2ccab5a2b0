//! How the fuel trim moves during a trip, region by region: means over stretches of like operation, each with its time.
//! All banks together, because what varies with time (fuel vapour above all) reaches all of them.

use crate::series::{
    label::region::{ByRegion, Region},
    summary::{Drift, Stretch},
};

/// Initial length of a stretch, seconds in one region: longer than the period of a fuel trim's swing (assumed).
const STRETCH_S: u32 = 30;
/// Largest number of stretches of a region before they are merged in pairs (assumed).
const MOST_STRETCHES: usize = 8;
/// Number of stretches that the usual noise counts for, as in [`super::estimate`] (assumed).
const USUAL_WEIGHT: f64 = 4.0;
/// Usual variance of a stretch's mean at a standstill times its seconds, in squared logarithm × s, besides the slow
/// variation of the trip: 0.006 on ten trips of one healthy car; twice that here, as other controllers swing more
/// (assumed).
const USUAL_STANDING: f64 = 0.012;
/// Usual variance of a stretch's mean while driving times its seconds, in squared logarithm × s, besides the slow
/// variation of the trip: 0.003 on ten trips of one healthy car; twice that here (assumed).
const USUAL_DRIVING: f64 = 0.006;

/// Sums over one stretch.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    seconds: u32,
    time: f64,
    y: f64,
}

impl Sums {
    fn one(second: u64, y: f64) -> Self {
        Self {
            seconds: 1,
            time: second as f64 + 0.5,
            y,
        }
    }

    fn mean_log(self) -> f64 {
        self.y / f64::from(self.seconds)
    }

    fn and(self, other: Self) -> Self {
        Self {
            seconds: self.seconds + other.seconds,
            time: self.time + other.time,
            y: self.y + other.y,
        }
    }
}

/// The stretches of one region.
#[derive(Debug, Clone)]
struct RegionCourse {
    length_s: u32,
    whole: Vec<Sums>,
    open: Sums,
    noise: Noise,
}

/// Deviations of stretches of the first length from the mean of their neighbours, so that drift does not count as
/// noise.
#[derive(Debug, Clone, Default)]
struct Noise {
    open: Sums,
    last: [Option<f64>; 2],
    squares: f64,
    count: f64,
}

impl Noise {
    fn push(&mut self, y: f64) {
        self.open = self.open.and(Sums::one(0, y));
        if self.open.seconds < STRETCH_S {
            return;
        }
        let mean = std::mem::take(&mut self.open).mean_log();
        if let [Some(first), Some(middle)] = self.last {
            // of three alike means this difference has six times the variance
            self.squares += (first - 2.0 * middle + mean).powi(2) / 6.0;
            self.count += 1.0;
        }
        let [_, latest] = self.last;
        self.last = [latest, Some(mean)];
    }

    /// Variance of a stretch's mean times its seconds, in squared logarithm × s.
    fn variance_s(&self, usual: f64) -> f64 {
        let measured = self.squares * f64::from(STRETCH_S);
        (USUAL_WEIGHT * usual + measured) / (USUAL_WEIGHT + self.count)
    }
}

impl RegionCourse {
    fn new() -> Self {
        Self {
            length_s: STRETCH_S,
            whole: Vec::new(),
            open: Sums::default(),
            noise: Noise::default(),
        }
    }

    fn push(&mut self, second: u64, y: f64) {
        self.noise.push(y);
        self.open = self.open.and(Sums::one(second, y));
        if self.open.seconds < self.length_s {
            return;
        }
        self.whole.push(std::mem::take(&mut self.open));
        if self.whole.len() == MOST_STRETCHES {
            let (pairs, _) = self.whole.as_chunks::<2>();
            self.whole = pairs.iter().map(|[one, next]| one.and(*next)).collect();
            self.length_s *= 2;
        }
    }

    /// Stretches in order; a last one counts from half of its length.
    fn stretches(&self) -> impl Iterator<Item = Sums> {
        let open = (2 * self.open.seconds >= self.length_s).then_some(self.open);
        self.whole.iter().copied().chain(open)
    }

    fn summary(&self, region: Region) -> Option<Drift> {
        let usual = match region {
            Region::WarmIdle | Region::RaisedIdle => USUAL_STANDING,
            Region::LightCruise | Region::Loaded => USUAL_DRIVING,
        };
        let variance_s = self.noise.variance_s(usual);
        let stretch = |sums: Sums| {
            let seconds = f64::from(sums.seconds);
            Stretch {
                second: sums.time / seconds,
                mean_log: sums.mean_log(),
                std_error_log: (variance_s / seconds).sqrt(),
                seconds,
            }
        };
        let stretches: Vec<Stretch> = self.stretches().map(stretch).collect();
        (!stretches.is_empty()).then_some(Drift { region, stretches })
    }
}

/// Fuel trims by region in the order of time. Memory does not grow with the length of the trip.
#[derive(Debug, Clone, Default)]
pub struct DriftWatch(ByRegion<Option<RegionCourse>>);

impl DriftWatch {
    /// Takes a second that counts, with the mean of y over its banks.
    pub fn push(&mut self, second: u64, region: Region, y: f64) {
        self.0[region]
            .get_or_insert_with(RegionCourse::new)
            .push(second, y);
    }

    /// Drift of each region that was recorded.
    pub fn summary(&self) -> Vec<Drift> {
        self.0
            .iter()
            .filter_map(|(region, course)| course.as_ref()?.summary(region))
            .collect()
    }
}
