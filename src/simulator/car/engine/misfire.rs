//! Which firings fail, and why: lean and rich cylinders, weak spark, poor compression, chance; in bursts.

use rand::RngExt;
use rand_pcg::Pcg64Mcg;

use super::{condition::CylinderCondition, nature::Nature};

/// Cylinders that fail less often than this, as a share of firings, have no bad spells.
const SPELLS_FROM: f64 = 5e-5;
/// Share of the time that a cylinder is in a bad spell, 0 to 1 (assumed): bursts spread counts more than a Poisson law,
/// and the rest of the time is better, so that the mean stays.
const BAD_SHARE: f64 = 0.2;
/// Length of a bad spell, s (assumed).
const BAD_S: f64 = 4.0;
/// Factor on the misfire rate during a bad spell (assumed).
const BAD_FACTOR: f64 = 3.5;

/// Width of the lean limit's curve, as a share of the limit's distance from the stoichiometric ratio (assumed): no
/// sound engine misfires at that ratio.
const LEAN_WIDTH: f64 = 1.0 / 12.0;
/// Manifold ratio at which stated shares of failing firings hold: light cruise (common practice).
const STATED_AT_LOAD: f64 = 0.40;
/// Lowest and highest factor of the load on the share of failing firings (assumed).
const LOAD_FACTORS: [f64; 2] = [0.1, 4.0];

/// What decides about a firing.
#[derive(Debug, Clone, Copy)]
pub struct Charge {
    /// Air over fuel against the chemically right ratio.
    pub lambda: f64,
    /// Cylinder filling against a full one, 0 to 1.
    pub load: f64,
    /// Engine speed, rpm.
    pub rpm: f64,
}

/// Mean probability that a firing of this cylinder fails.
///
/// Lean limit: usually about λ 1.42 at idle, higher with load (a denser charge burns leaner); a spark fails more with load
/// (the same gap needs a higher voltage), its stated share holding at light cruise; poor compression shows at low
/// speed and load. The shapes are common practice, the numbers chosen for the simulation.
pub fn mean_probability(cylinder: &CylinderCondition, charge: Charge, nature: &Nature) -> f64 {
    let physics = &nature.faults;
    let limit =
        physics.lean_limit + physics.lean_rise * ((charge.load - 0.25) / 0.5).clamp(0.0, 1.0);
    let lean = logistic((charge.lambda - limit) / (LEAN_WIDTH * (physics.lean_limit - 1.0)));
    let rich = logistic((0.55 - charge.lambda) / 0.025);
    let by_load = |power: f64| {
        (charge.load / STATED_AT_LOAD)
            .powf(power)
            .clamp(LOAD_FACTORS[0], LOAD_FACTORS[1])
    };
    let spark = match cylinder.ignition_failing {
        sound if sound <= 0.0 => 0.0,
        failing => failing * by_load(physics.spark_power),
    };
    let random = match cylinder.random_failing {
        sound if sound <= 0.0 => 0.0,
        failing => failing * by_load(physics.random_power),
    };
    let compression = match cylinder.compression_loss {
        sound if sound <= 0.0 => 0.0,
        loss => {
            let slow = (-(charge.rpm - 700.0).max(0.0) / physics.compression_rpm).exp();
            let light = (-(charge.load - 0.25).max(0.0) / 0.3).exp();
            physics.compression_failing * loss.powi(2) * slow * light
        }
    };
    let works = [
        lean,
        rich,
        spark,
        compression,
        random,
        nature.parts.healthy_failing,
    ]
    .iter()
    .fold(1.0, |works, cause| works * (1.0 - cause.min(1.0)));
    1.0 - works
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// The spells of one cylinder, and its place in the firing cycle.
#[derive(Debug, Clone)]
pub struct Firing {
    bad: bool,
    cycle: f64,
}

impl Firing {
    /// A cylinder that fires `offset` of a cycle (0 to 1) after the first.
    pub const fn new(offset: f64) -> Self {
        Self {
            bad: false,
            cycle: offset,
        }
    }

    /// Turns on by `cycles` (two revolutions each): gives the firings that fell due and how many of them failed.
    pub fn step(&mut self, mean: f64, cycles: f64, dt: f64, random: &mut Pcg64Mcg) -> (u32, u32) {
        self.cycle += cycles;
        let fired = self.cycle.floor();
        self.cycle -= fired;
        let fired = fired as u32;
        if mean < SPELLS_FROM {
            let failed = (fired > 0 && random.random::<f64>() < mean * f64::from(fired)) as u32;
            return (fired, failed);
        }
        self.change_spell(dt, random);
        let factor = if self.bad {
            BAD_FACTOR
        } else {
            (1.0 - BAD_SHARE * BAD_FACTOR) / (1.0 - BAD_SHARE)
        };
        // In odds rather than in probabilities, so that a nearly certain misfire stays one.
        let odds = mean / (1.0 - mean).max(1e-9) * factor;
        let probability = odds / (1.0 + odds);
        let failed = (0..fired)
            .filter(|_| random.random::<f64>() < probability)
            .count();
        (fired, failed as u32)
    }

    fn change_spell(&mut self, dt: f64, random: &mut Pcg64Mcg) {
        let lasts = if self.bad {
            BAD_S
        } else {
            BAD_S * (1.0 - BAD_SHARE) / BAD_SHARE
        };
        if random.random::<f64>() < dt / lasts {
            self.bad = !self.bad;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// A cylinder without any fault.
    const SOUND: CylinderCondition = CylinderCondition::new(1);
    /// The charge of a warm idle.
    const IDLE: Charge = Charge {
        lambda: 1.0,
        load: 0.25,
        rpm: 750.0,
    };

    fn mean_probability(cylinder: &CylinderCondition, charge: Charge) -> f64 {
        super::mean_probability(cylinder, charge, &Nature::USUAL)
    }

    fn at(load: f64, rpm: f64, lambda: f64) -> Charge {
        Charge { lambda, load, rpm }
    }

    #[test]
    fn each_cause_fails_where_the_trade_says() {
        let weak = CylinderCondition {
            ignition_failing: 0.05,
            ..SOUND
        };
        let spark = |load| mean_probability(&weak, at(load, 2000.0, 1.0));
        assert!((spark(0.40) - 0.05).abs() < 1e-3);
        assert!(spark(0.8) > 1.8 * spark(0.4) && spark(0.2) < 0.6 * spark(0.4));
        let poor = CylinderCondition {
            compression_loss: 0.4,
            ..SOUND
        };
        let idle = mean_probability(&poor, IDLE);
        assert!(idle > 0.02 && mean_probability(&poor, at(0.5, 2500.0, 1.0)) < 0.1 * idle);
        let lean = |load| mean_probability(&SOUND, at(load, 1500.0, 1.35));
        assert!(lean(0.25) > 5.0 * lean(0.6));
        assert!(mean_probability(&SOUND, at(0.25, 750.0, f64::INFINITY)) > 0.999);
    }

    #[test]
    fn counts_keep_the_mean_and_come_in_bursts() {
        let mut random = Pcg64Mcg::seed_from_u64(5);
        let mut firing = Firing::new(0.0);
        // Windows of 10 s at 1500 rpm: 125 firings each.
        let counts: Vec<f64> = (0..2000)
            .map(|_| {
                let window = (0..500).map(|_| firing.step(0.02, 0.25, 0.02, &mut random).1);
                f64::from(window.sum::<u32>())
            })
            .collect();
        let mean = counts.iter().sum::<f64>() / 2000.0;
        let variance = counts.iter().map(|n| (n - mean).powi(2)).sum::<f64>() / 1999.0;
        assert!((mean - 2.5).abs() < 0.25, "{mean}");
        assert!(variance / mean > 1.5, "{}", variance / mean);
    }
}
