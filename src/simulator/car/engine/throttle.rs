//! The throttle: opened by the driver's wish for torque, or by idle-speed control.

use super::{
    air::{Pump, nozzle},
    torque,
};

/// Lag of the throttle blade, s.
const BLADE_S: f64 = 0.08;
/// Opening with the car pushing the engine, g/s for each litre.
const COASTING: f64 = 2.2;

/// The opening, expressed as its choked flow in g/s, and the memory of idle-speed control.
#[derive(Debug, Clone)]
pub struct Throttle {
    /// Choked flow, g/s.
    pub opening: f64,
    integral: f64,
}

impl Throttle {
    /// Shut.
    pub const fn shut() -> Self {
        Self {
            opening: 0.0,
            integral: 0.0,
        }
    }

    /// Opens for a torque at the output.
    pub fn for_torque(&mut self, pump: &Pump, rpm: f64, wanted: f64, cold: f64, dt: f64) {
        let feed = opening_for(pump, rpm, torque::pressure_for(pump, rpm, wanted, cold));
        // With the foot off the throttle stays open enough that the manifold is not pumped empty.
        self.follow(feed.max(COASTING * pump.displacement_l), dt);
    }

    /// Holds an engine speed against a load on the crankshaft (proportional and integral on top of the expected
    /// opening).
    pub fn for_speed(
        &mut self,
        pump: &Pump,
        rpm: f64,
        target: f64,
        load_nm: f64,
        cold: f64,
        dt: f64,
    ) {
        let feed = opening_for(
            pump,
            target,
            torque::pressure_for(pump, target, load_nm, cold),
        );
        let error = (target - rpm).clamp(-400.0, 400.0) * pump.displacement_l / 2.0;
        let reach = 4.0 * pump.displacement_l;
        self.integral = (self.integral + 0.0015 * error * dt).clamp(-reach, reach);
        let wanted = feed + self.integral + 0.0035 * error;
        self.follow(wanted.max(0.05 * pump.displacement_l), dt);
    }

    fn follow(&mut self, wanted: f64, dt: f64) {
        self.opening += (wanted - self.opening) * dt / BLADE_S;
    }

    /// Absolute throttle position, percent.
    pub fn position_pct(&self, pump: &Pump) -> f64 {
        let share = self.opening / (75.0 * pump.displacement_l);
        (12.0 + 72.0 * share.powf(0.6)).min(84.0)
    }
}

fn opening_for(pump: &Pump, rpm: f64, pressure_kpa: f64) -> f64 {
    pump.flow(rpm, pressure_kpa) / nozzle(pressure_kpa / pump.barometer_kpa)
}
