//! Fuel trims of one bank: short trim from the oxygen sensor, long trim learned by region of operation.

use super::nature::Trimming;

/// Averaging of the short trim for learning, s.
const AVERAGE_S: f64 = 3.0;
/// How long operation must stay in one region before it learns, s.
const SETTLE_S: f64 = 1.5;

/// Regions in which long trim is learned: idle, little pressure above idle speed, middle, high.
pub const REGIONS: usize = 4;

/// The region of operation for learning. `manifold_ratio` is manifold pressure against the barometer.
pub fn region(rpm: f64, manifold_ratio: f64, idle: bool) -> usize {
    match manifold_ratio {
        _ if idle && rpm < 1200.0 => 0,
        low if low < 0.42 => 1,
        middle if middle < 0.60 => 2,
        _ => 3,
    }
}

/// The trims of one bank, as shares (0.05 is +5 %).
#[derive(Debug, Clone)]
pub struct BankTrims {
    habits: Trimming,
    integral: f64,
    rich: bool,
    average: f64,
    long: [f64; REGIONS],
    region: usize,
    in_region_s: f64,
    closed: bool,
}

impl BankTrims {
    /// Trims as learned on earlier trips.
    pub const fn learned(long: [f64; REGIONS], habits: Trimming) -> Self {
        Self {
            habits,
            integral: 0.0,
            rich: false,
            average: 0.0,
            long,
            region: 0,
            in_region_s: 0.0,
            closed: false,
        }
    }

    /// Short trim now; 0 in open loop.
    pub fn short(&self) -> f64 {
        let jump = self.habits.jump * if self.rich { -1.0 } else { 1.0 };
        if self.closed {
            (self.integral + jump).clamp(-self.habits.stop, self.habits.stop)
        } else {
            0.0
        }
    }

    /// Long trim of the present region.
    pub fn long(&self) -> f64 {
        self.long.get(self.region).copied().unwrap_or_default()
    }

    /// Both together: the factor on the fuel.
    pub fn factor(&self) -> f64 {
        (1.0 + self.short()) * (1.0 + self.long())
    }

    /// Forgets what was learned.
    pub fn clear(&mut self) {
        *self = Self::learned([0.0; REGIONS], self.habits);
    }

    /// Moves to the region of operation.
    pub fn enter(&mut self, region: usize, dt: f64) {
        self.in_region_s += dt;
        if region != self.region {
            (self.region, self.in_region_s) = (region, 0.0);
        }
    }

    /// Open loop: the short trim rests at 0.
    pub fn open(&mut self) {
        (self.closed, self.integral, self.average) = (false, 0.0, 0.0);
        self.in_region_s = 0.0;
    }

    /// Closed loop for `dt` seconds: ramp against the sensor, jump when it crosses, learn slowly when `warm`.
    pub fn close(&mut self, rich: bool, delay_s: f64, warm: bool, dt: f64) {
        let Trimming { stop, learn_s, .. } = self.habits;
        (self.closed, self.rich) = (true, rich);
        let ramp = self.habits.ramp / delay_s * dt;
        self.integral = (self.integral + if rich { -ramp } else { ramp }).clamp(-stop, stop);
        self.average += (self.short() - self.average) * dt / AVERAGE_S;
        if warm && self.in_region_s > SETTLE_S {
            let step = self.average * dt / learn_s;
            if let Some(long) = self.long.get_mut(self.region) {
                *long = (*long + step).clamp(-stop, stop);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::engine::{nature::Nature, oxygen_sensor::OxygenSensor};

    /// Runs sensor and trims on an engine that needs `need` times the expected fuel; returns the fuel trims of the last
    /// minute.
    fn settled(need: f64) -> Vec<f64> {
        let mut trims = BankTrims::learned([0.0; REGIONS], Nature::USUAL.trimming);
        let mut sensor = OxygenSensor::new();
        let mut fuel_trims = Vec::new();
        for _ in 0..15_000 {
            sensor.step(need / trims.factor(), 0.35, 0.02);
            trims.enter(2, 0.02);
            trims.close(sensor.volts() > 0.45, 0.35, true, 0.02);
            fuel_trims.push(trims.factor());
        }
        fuel_trims.split_off(12_000)
    }

    #[test]
    fn the_trim_settles_on_the_need_and_swings_about_it() {
        for need in [0.9, 1.0, 1.081] {
            let fuel_trims = settled(need);
            let mean = fuel_trims.iter().sum::<f64>() / fuel_trims.len() as f64;
            assert!((mean / need - 1.0).abs() < 0.004, "{need}: {mean}");
            let crossings = fuel_trims
                .windows(2)
                .filter(|pair| (pair[0] > need) != (pair[1] > need))
                .count();
            // Two crossings a period, a period of a few delays of 0.35 s.
            assert!((30..200).contains(&crossings), "{crossings}");
        }
    }

    #[test]
    fn long_trim_takes_over_and_stays_with_its_region() {
        let mut trims = BankTrims::learned([0.0; REGIONS], Nature::USUAL.trimming);
        trims.enter(3, 0.02);
        for step in 0..10_000 {
            trims.enter(3, 0.02);
            trims.close(
                (step / 25) % 2 == 0 && trims.long() > 0.06,
                0.35,
                true,
                0.02,
            );
        }
        assert!(trims.long() > 0.04);
        trims.enter(0, 0.02);
        assert_eq!(trims.long(), 0.0);
        trims.open();
        assert_eq!(trims.short(), 0.0);
        trims.enter(3, 0.02);
        trims.clear();
        trims.enter(3, 0.02);
        assert_eq!(trims.long(), 0.0);
    }
}
