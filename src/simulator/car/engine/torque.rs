//! Torque: what the charge gives, what friction and pumping take. Newton metres.

use super::air::Pump;

/// Torque of 1 g of air a cycle burned at the right mixture and best spark: about 1 kJ of work (36 % of the heat of
/// the petrol that goes with it), over 4π.
const NM_PER_G: f64 = 79.6;
/// Efficiency with the spark held back at idle.
const IDLE_SPARK: f64 = 0.80;

/// What the engine's own works take: friction (kPa of mean pressure, more when cold) and pumping.
pub fn losses(pump: &Pump, rpm: f64, pressure_kpa: f64, cold: f64) -> f64 {
    let thousands = rpm / 1000.0;
    let friction_kpa = 95.0 + 10.0 * thousands + 4.0 * thousands * thousands + 90.0 * cold;
    let pumping_kpa = pump.barometer_kpa - pressure_kpa;
    pump.displacement_l * (friction_kpa + pumping_kpa) / (4.0 * std::f64::consts::PI)
}

/// Torque of the charge, Nm, when the share `works` of it burns well.
pub fn indicated(flow: f64, rpm: f64, works: f64) -> f64 {
    let g_per_cycle = flow * 120.0 / rpm.max(100.0);
    NM_PER_G * g_per_cycle * spark_efficiency(rpm) * works
}

fn spark_efficiency(rpm: f64) -> f64 {
    IDLE_SPARK + (1.0 - IDLE_SPARK) * ((rpm - 900.0) / 900.0).clamp(0.0, 1.0)
}

/// The manifold pressure at which a sound engine gives `wanted` at its output.
pub fn pressure_for(pump: &Pump, rpm: f64, wanted: f64, cold: f64) -> f64 {
    let mut pressure = 0.35 * pump.barometer_kpa;
    for _ in 0..3 {
        let needed = wanted + losses(pump, rpm, pressure, cold);
        let flow = needed.max(0.0) * rpm / 120.0 / (NM_PER_G * spark_efficiency(rpm));
        pressure = pump.pressure_for_flow(rpm, flow);
    }
    pressure
}

/// How much of its torque a cylinder gives with a mixture `lambda`: a little more when rich, in step with the fuel
/// when lean.
pub fn mixture_efficiency(lambda: f64) -> f64 {
    match lambda {
        rich if rich < 0.9 => (1.03 - 1.2 * (0.9 - rich)).max(0.3),
        right if right <= 1.0 => 1.0 + 0.3 * (1.0 - right),
        lean => 1.0 / lean,
    }
}
