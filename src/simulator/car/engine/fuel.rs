//! Fuel: what reaches each cylinder for what the controller asked. Told as the air it would burn at the expected blend
//! (g/s), so that stoichiometry drops out.

use super::{
    condition::{BankCondition, Condition},
    nature::FaultPhysics,
};

/// Air that a millilitre of petrol burns, g: mass ratio 14.7 times density 0.745 g/mL (as commonly tabled).
const PETROL_G_PER_ML: f64 = 10.95;
/// Air that a millilitre of ethanol burns, g: mass ratio 9.0 times density 0.789 g/mL (as commonly tabled).
const ETHANOL_G_PER_ML: f64 = 7.10;
/// Ethanol content for which the controller is calibrated, as a share of volume (E10).
pub const EXPECTED_ETHANOL: f64 = 0.10;
/// Air flow per litre of displacement at light cruise, g/s/L, at which a fuel pressure error has its stated size
/// (common practice).
const CRUISE_FLOW: f64 = 7.0;
/// Air charge of a cycle, against warm idle's, at which a restriction takes its stated share.
const RESTRICTED_AT_CHARGE: f64 = 1.7;
/// Injector opening at warm idle, ms.
const IDLE_OPENING_MS: f64 = 2.2;

/// What a fuel of changed blend burns against the expected one.
pub fn blend_factor(ethanol_change: f64) -> f64 {
    let burns = |ethanol: f64| PETROL_G_PER_ML * (1.0 - ethanol) + ETHANOL_G_PER_ML * ethanol;
    burns((EXPECTED_ETHANOL + ethanol_change).clamp(0.0, 1.0)) / burns(EXPECTED_ETHANOL)
}

/// Flow at the rail pressure against nominal: the square root of the pressure.
pub fn pressure_factor(error: f64, flow_per_litre: f64, physics: &FaultPhysics) -> f64 {
    pressure_ratio(error, flow_per_litre, physics).sqrt()
}

/// Rail pressure against nominal. A weak pump or filter falls further as the engine asks for more; a regulator that holds
/// too much does so always.
pub fn pressure_ratio(error: f64, flow_per_litre: f64, physics: &FaultPhysics) -> f64 {
    let error = match error {
        0.0 => return 1.0,
        low if low < 0.0 => {
            let flow = (flow_per_litre / CRUISE_FLOW).powf(physics.pump_power);
            low * (1.0 - physics.pump_growth + physics.pump_growth * flow.min(2.5))
        }
        high => high,
    };
    (1.0 + error).max(0.04)
}

/// The conditions under which a bank is supplied.
#[derive(Debug, Clone, Copy)]
pub struct Supply {
    /// Asked for the bank, g/s.
    pub asked: f64,
    /// Engine air for each litre of displacement, g/s/L.
    pub flow_per_litre: f64,
    /// Air charge of a cycle against the one at warm idle.
    pub charge: f64,
    /// Fuel trim (natural logarithm) that the healthy car needs at this moment.
    pub wander: f64,
    /// Fuel vapour from the purge, of the engine's fuel at warm idle.
    pub purge: f64,
    /// What a drip gives now against what it gives at full vacuum.
    pub dripping: f64,
}

/// What each cylinder of a bank gets, g/s, in the order of the bank's cylinders.
pub fn to_cylinders<'a>(
    engine: &Condition,
    bank: &'a BankCondition,
    supply: Supply,
    idle_fuel_per_cylinder: f64,
) -> impl Iterator<Item = f64> + use<'a> {
    let opening_ms = IDLE_OPENING_MS * supply.charge.max(0.2);
    let late = (1.0 - engine.late_opening_ms / opening_ms).max(0.0);
    let shared = supply.asked / bank.cylinders.len() as f64
        * pressure_factor(
            engine.pressure_error,
            supply.flow_per_litre,
            &engine.nature.faults,
        )
        * blend_factor(engine.ethanol_change)
        * late
        * (-supply.wander).exp();
    let narrower = match engine.nature.faults.restriction_power {
        0.0 => 1.0,
        power => (RESTRICTED_AT_CHARGE / supply.charge.max(0.2)).powf(power),
    };
    let vapour = supply.purge * idle_fuel_per_cylinder;
    bank.cylinders.iter().map(move |cylinder| {
        let drip = cylinder.drip_of_idle_fuel * supply.dripping * idle_fuel_per_cylinder;
        shared * cylinder.flow(narrower) + drip + vapour
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::engine::nature::Nature;

    /// How faults act on a usual engine.
    const USUAL: &FaultPhysics = &Nature::USUAL.faults;

    /// By volume E0 needs 10.565/10.95 of what E10 needs: +3.6 % the other way (trade figures: E10 +3.6 %, E85 +42.5 %
    /// by volume against petrol).
    #[test]
    fn blends_need_the_published_extra_volume() {
        let from_petrol = |ethanol: f64| blend_factor(-0.10) / blend_factor(ethanol - 0.10) - 1.0;
        assert!((from_petrol(0.10) - 0.036).abs() < 0.001);
        assert!((from_petrol(0.85) - 0.425).abs() < 0.003);
    }

    /// Flow goes with the square root of the pressure: 300 → 270 kPa gives −5.1 % and needs +5.4 %.
    #[test]
    fn pressure_works_by_its_square_root() {
        let flow = pressure_factor(-0.10, CRUISE_FLOW, USUAL);
        assert!((flow - 0.949).abs() < 0.001);
        assert!((1.0 / flow - 1.054).abs() < 0.001);
        assert!(pressure_factor(-0.10, 15.0, USUAL) < flow);
        assert!(pressure_factor(-0.10, 1.6, USUAL) > flow);
    }
}
