//! A narrow-band oxygen sensor: gas arrives late, the cell is slow, and its voltage says little more than rich or lean.

/// Steps of gas kept on the way; with 20 ms steps, 1.28 s.
const KEPT: usize = 64;
/// Time constant of the cell, s.
const CELL_S: f64 = 0.06;

/// The sensor ahead of the catalyst of one bank.
#[derive(Debug, Clone)]
pub struct OxygenSensor {
    gas: [f64; KEPT],
    head: usize,
    lambda: f64,
}

impl OxygenSensor {
    /// A sensor in chemically right gas.
    pub const fn new() -> Self {
        Self {
            gas: [1.0; KEPT],
            head: 0,
            lambda: 1.0,
        }
    }

    /// Gas of `lambda` leaves the engine and reaches the cell `delay_s` later.
    pub fn step(&mut self, lambda: f64, delay_s: f64, dt: f64) {
        self.head = (self.head + 1) % KEPT;
        if let Some(slot) = self.gas.get_mut(self.head) {
            *slot = lambda.min(3.0);
        }
        let behind = ((delay_s / dt) as usize).min(KEPT - 1);
        let arriving = self.gas.get((self.head + KEPT - behind) % KEPT);
        self.lambda += (arriving.copied().unwrap_or(1.0) - self.lambda) * dt / CELL_S;
    }

    /// Cell voltage, V: about 0.85 rich, 0.1 lean, steep in between.
    pub fn volts(&self) -> f64 {
        0.1 + 0.75 / (1.0 + ((self.lambda - 1.0) / 0.006).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_arrives_after_its_delay_and_reads_as_rich_or_lean() {
        let mut sensor = OxygenSensor::new();
        for _ in 0..14 {
            sensor.step(0.95, 0.3, 0.02);
        }
        assert!((sensor.volts() - 0.475).abs() < 1e-9);
        (0..30).for_each(|_| sensor.step(0.95, 0.3, 0.02));
        assert!(sensor.volts() > 0.8);
        (0..60).for_each(|_| sensor.step(1.05, 0.3, 0.02));
        assert!(sensor.volts() < 0.15);
    }
}
