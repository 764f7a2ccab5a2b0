//! Why a healthy car's fuel trim is never zero and never the same: its own curve over load, fuel and weather of the
//! trip, and slow drift inside a trip. All in natural logarithms of the fuel needed against the fuel expected.
//!
//! Sizes after the wander of one real car over many trips (about 2 points between trips in one region, about 1 point
//! for idle against cruise inside a trip).

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::nature::{Parts, WanderSizes};

/// Correlation time of the drift inside a trip, s.
const DRIFT_S: f64 = 60.0;

/// Air flow for each litre of displacement (g/s/L) at which a car's own curve is fixed: warm idle, 2500 rpm without
/// load, light cruise, hard pull.
const ANCHORS: [f64; 4] = [1.6, 3.8, 7.0, 22.0];

/// A healthy car's own fuel trim at the anchors, drawn once per car.
#[derive(Debug, Clone, Copy)]
pub struct Curve([f64; 4]);

impl Curve {
    /// A curve without any fuel trim.
    #[cfg(test)]
    pub const FLAT: Self = Self([0.0; 4]);

    /// Draws a car's curve: a little negative at idle, a little positive at cruise, falling towards full load.
    pub fn draw(parts: &Parts, random: &mut Pcg64Mcg) -> Self {
        let mut normal = |mean: f64, spread: f64| {
            mean + parts.curve_spread * spread * random.sample::<f64, _>(StandardNormal)
        };
        let level = normal(0.0, 0.008);
        Self([
            level + normal(-0.010, 0.007),
            level + normal(0.0, 0.005),
            level + normal(0.008, 0.005),
            level + normal(-parts.curve_fall, 0.012),
        ])
    }

    /// Fuel trim at an air flow per litre of displacement.
    pub fn at(&self, flow_per_litre: f64) -> f64 {
        let [a, b, c, d] = self.0;
        let [fa, fb, fc, fd] = ANCHORS;
        let flow = flow_per_litre.clamp(fa, fd);
        let between =
            |f0: f64, f1: f64, y0: f64, y1: f64| y0 + (y1 - y0) * (flow / f0).ln() / (f1 / f0).ln();
        if flow < fb {
            between(fa, fb, a, b)
        } else if flow < fc {
            between(fb, fc, b, c)
        } else {
            between(fc, fd, c, d)
        }
    }
}

/// What fuel, weather and time do on one trip.
#[derive(Debug, Clone)]
pub struct Wander {
    sizes: WanderSizes,
    common: f64,
    contrast: f64,
    drift: f64,
    settling: f64,
    banks: Vec<f64>,
}

impl Wander {
    /// Draws a trip's wander. `period` is what trips of one tankful share.
    pub fn draw(
        sizes: WanderSizes,
        car: u64,
        period: u64,
        random: &mut Pcg64Mcg,
        banks: usize,
    ) -> Self {
        let mut shared = Pcg64Mcg::seed_from_u64(car.rotate_left(32) ^ period ^ 0x7461_6e6b);
        let mut tankful = sizes.period * shared.sample::<f64, _>(StandardNormal);
        if shared.random_bool(sizes.refuel.0) {
            tankful += sizes.refuel.1 * shared.sample::<f64, _>(StandardNormal);
        }
        let mut normal = |spread: f64| spread * random.sample::<f64, _>(StandardNormal);
        Self {
            sizes,
            common: tankful + normal(sizes.trip),
            contrast: normal(sizes.contrast),
            drift: normal(sizes.drift),
            settling: 0.0,
            banks: (0..banks).map(|_| normal(sizes.bank_drift)).collect(),
        }
    }

    /// No wander at all.
    pub fn none(banks: usize) -> Self {
        Self {
            sizes: WanderSizes::USUAL,
            common: 0.0,
            contrast: 0.0,
            drift: f64::NAN,
            settling: 0.0,
            banks: vec![0.0; banks],
        }
    }

    /// What has yet to settle once the engine is warm: heat soaked in while it stood, fuel boiling out of its oil, parts that
    /// warm later than the coolant.
    pub fn settles_from(&mut self, trip: u64) {
        let mut own = Pcg64Mcg::seed_from_u64(trip ^ 0x7365_7474_6c65);
        self.settling = self.sizes.settling.0 * own.sample::<f64, _>(StandardNormal);
    }

    /// Drifts on by `dt` seconds (Ornstein-Uhlenbeck steps), and settles once the engine is `warm`.
    pub fn step(&mut self, random: &mut Pcg64Mcg, warm: bool, dt: f64) {
        if self.drift.is_nan() {
            return;
        }
        if warm {
            self.settling -= self.settling * dt / self.sizes.settling.1;
        }
        let keep = 1.0 - dt / DRIFT_S;
        let kick = (2.0 * dt / DRIFT_S).sqrt();
        let mut normal = || random.sample::<f64, _>(StandardNormal);
        self.drift = self.drift * keep + self.sizes.drift * kick * normal();
        for bank in &mut self.banks {
            *bank = *bank * keep + self.sizes.bank_drift * kick * normal();
        }
    }

    /// The trip's fuel trim of a bank (from 0) at an air flow per litre of displacement.
    pub fn at(&self, bank: usize, flow_per_litre: f64) -> f64 {
        let [idle, _, cruise, _] = ANCHORS;
        let along = ((flow_per_litre / idle).ln() / (cruise / idle).ln()).clamp(0.0, 1.0);
        let drift = if self.drift.is_nan() { 0.0 } else { self.drift };
        let own = self.banks.get(bank).copied().unwrap_or_default();
        self.common + self.contrast * (0.5 - along) + drift + self.settling + own
    }
}
