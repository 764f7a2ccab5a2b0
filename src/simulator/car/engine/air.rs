//! Air: through the throttle and leaks into the manifold, from the manifold into the cylinders.
//!
//! Mean-value filling model: dp/dt = (R T / V)(flow in − flow out); the flow out is speed-density,
//! ηv · Vd · n/120 · p / (R T). Pressures in kPa, flows in g/s, volumes in litres, R = 0.287 kPa·L/(g·K).

/// Gas constant of air, kPa·L/(g·K).
const GAS_CONSTANT: f64 = 0.287;
/// Pressure ratio below which a flow through a hole is choked (γ = 1.4: 0.528).
const CHOKED_RATIO: f64 = 0.528;
/// Highest manifold pressure against the barometer with the throttle wide open.
const OPEN_RATIO: f64 = 0.97;

/// Flow through a hole against its choked flow, by the pressure ratio: 1 up to 0.528, then falling to 0 at equal
/// pressures (elliptic approximation of the isentropic nozzle, within 1 %).
pub fn nozzle(ratio: f64) -> f64 {
    let beyond = ((ratio - CHOKED_RATIO) / (1.0 - CHOKED_RATIO)).clamp(0.0, 1.0);
    (1.0 - beyond * beyond).sqrt()
}

/// What the cylinders draw from the manifold.
#[derive(Debug, Clone, Copy)]
pub struct Pump {
    /// Displacement, litres.
    pub displacement_l: f64,
    /// Barometric pressure, kPa.
    pub barometer_kpa: f64,
    /// Temperature of the charge, K.
    pub charge_k: f64,
    /// Volumetric efficiency against the usual one: ports, cams and exhaust gas kept back differ from make to make.
    pub breathing: f64,
}

impl Pump {
    /// Volumetric efficiency against manifold conditions: a broad hump over speed, a little less at low pressure.
    fn efficiency(&self, rpm: f64, pressure_kpa: f64) -> f64 {
        let x = (rpm / 4200.0).clamp(0.0, 1.6);
        let residual = 1.0 - pressure_kpa / self.barometer_kpa;
        self.breathing * (0.78 + 0.12 * x * (2.0 - x)) * (1.0 - 0.12 * residual)
    }

    /// Air into the cylinders, g/s.
    pub fn flow(&self, rpm: f64, pressure_kpa: f64) -> f64 {
        self.efficiency(rpm, pressure_kpa) * self.displacement_l * rpm / 120.0 * pressure_kpa
            / (GAS_CONSTANT * self.charge_k)
    }

    /// The pressure at which the cylinders draw `flow` g/s.
    pub fn pressure_for_flow(&self, rpm: f64, flow: f64) -> f64 {
        let mut pressure = 0.5 * self.barometer_kpa;
        for _ in 0..3 {
            pressure *= (flow / self.flow(rpm, pressure).max(1e-6)).clamp(0.1, 4.0);
            pressure = pressure.clamp(8.0, OPEN_RATIO * self.barometer_kpa);
        }
        pressure
    }

    /// Air with the throttle wide open, g/s.
    pub fn wide_open_flow(&self, rpm: f64) -> f64 {
        self.flow(rpm, self.barometer_kpa)
    }
}

/// The manifold as a vessel.
#[derive(Debug, Clone, Copy)]
pub struct Manifold {
    /// Absolute pressure, kPa.
    pub pressure_kpa: f64,
    /// Air through the throttle, g/s: what an air flow meter ahead of it sees.
    pub throttle_flow: f64,
    /// Air that came in behind the throttle, g/s.
    pub leak_flow: f64,
}

/// The two ways into the manifold, as choked flows at the present barometer, g/s.
#[derive(Debug, Clone, Copy)]
pub struct Openings {
    /// Throttle.
    pub throttle: f64,
    /// Unmetered leak.
    pub leak: f64,
}

impl Manifold {
    /// A manifold at rest.
    pub const fn at_rest(barometer_kpa: f64) -> Self {
        Self {
            pressure_kpa: barometer_kpa,
            throttle_flow: 0.0,
            leak_flow: 0.0,
        }
    }

    /// Fills and empties it for `dt` seconds (implicit in the pressure, so that a wide-open throttle stays stable);
    /// gives the flow into the cylinders in g/s.
    pub fn step(&mut self, pump: &Pump, openings: Openings, rpm: f64, dt: f64) -> f64 {
        let baro = pump.barometer_kpa;
        let total = openings.throttle + openings.leak;
        let out = pump.flow(rpm, self.pressure_kpa);
        let shape = nozzle(self.pressure_kpa / baro);
        let gain = GAS_CONSTANT * pump.charge_k / (1.6 * pump.displacement_l);
        let beyond =
            (self.pressure_kpa / baro - CHOKED_RATIO).max(0.0) / (1.0 - CHOKED_RATIO).powi(2);
        let slope = out / self.pressure_kpa + total * beyond / (shape.max(0.1) * baro);
        let change = gain * (total * shape - out) * dt / (1.0 + gain * slope * dt);
        self.pressure_kpa = (self.pressure_kpa + change).clamp(8.0, 0.999 * baro);
        let after = nozzle(self.pressure_kpa / baro);
        self.throttle_flow = openings.throttle * after;
        self.leak_flow = openings.leak * after;
        pump.flow(rpm, self.pressure_kpa)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An engine for the tests.
    const PUMP: Pump = Pump {
        displacement_l: 2.0,
        barometer_kpa: 100.0,
        charge_k: 310.0,
        breathing: 1.0,
    };

    /// Isentropic nozzle for γ = 1.4, from any text on gas dynamics:
    /// √(r^1.4286 − r^1.7143) against its greatest value 0.2588.
    #[test]
    fn flow_through_a_hole_follows_the_isentropic_nozzle() {
        for ratio in [0.3, 0.528, 0.6, 0.7, 0.8, 0.9, 0.95] {
            let exact: f64 = if ratio < CHOKED_RATIO {
                1.0
            } else {
                (f64::powf(ratio, 1.4286) - f64::powf(ratio, 1.7143)).sqrt() / 0.2588
            };
            assert!((nozzle(ratio) - exact).abs() < 0.015, "{ratio}");
        }
    }

    #[test]
    fn in_the_steady_state_what_comes_in_goes_out_at_any_throttle() {
        for throttle in [3.0, 10.0, 40.0, 300.0] {
            let mut manifold = Manifold::at_rest(100.0);
            let openings = Openings {
                throttle,
                leak: 0.5,
            };
            let mut out = 0.0;
            for _ in 0..2000 {
                out = manifold.step(&PUMP, openings, 2500.0, 0.02);
            }
            let inflow = manifold.throttle_flow + manifold.leak_flow;
            assert!(
                (inflow / out - 1.0).abs() < 0.01,
                "{throttle}: {inflow} {out}"
            );
        }
    }

    #[test]
    fn the_pressure_for_a_flow_gives_that_flow() {
        for flow in [4.0, 10.0, 20.0] {
            let pressure = PUMP.pressure_for_flow(2000.0, flow);
            assert!((PUMP.flow(2000.0, pressure) / flow - 1.0).abs() < 0.005);
        }
    }
}
