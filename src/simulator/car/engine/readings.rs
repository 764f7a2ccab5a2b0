//! What the engine controller can report of its engine: physical values in their own units, not yet bytes.

use crate::vehicle::AirMetering;

use super::{Engine, controller::Loop, fuel::EXPECTED_ETHANOL, rail::RailSensors};

/// All readings of the engine at one moment.
#[derive(Debug, Clone)]
pub struct SensorReadings {
    /// Per bank, bank 1 first.
    pub banks: Vec<BankReadings>,
    /// Mode of mixture control.
    pub mode: Loop,
    /// Calculated load from the metered air, percent.
    pub load_pct: f64,
    /// Metered air charge of a cycle against the displacement full of air at 25 °C and 101.3 kPa, percent.
    pub absolute_load_pct: f64,
    /// Coolant, °C.
    pub coolant_c: f64,
    /// Intake air, °C.
    pub intake_c: f64,
    /// Air outside, °C.
    pub ambient_c: f64,
    /// Manifold pressure as its sensor reads, kPa.
    pub manifold_kpa: f64,
    /// Barometer, kPa.
    pub barometer_kpa: f64,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Spark before top dead centre, degrees.
    pub spark_deg: f64,
    /// Air flow as the meter reads, g/s.
    pub air_g_per_s: f64,
    /// Throttle, percent.
    pub throttle_pct: f64,
    /// Since the start, s.
    pub run_time_s: f64,
    /// Commanded purge, percent.
    pub purge_pct: f64,
    /// Commanded air over fuel against the right ratio.
    pub lambda: f64,
    /// Ethanol in the fuel, percent.
    pub ethanol_pct: f64,
    /// Pressure in the fuel rail.
    pub rail: RailSensors,
}

/// What is reported for one bank.
#[derive(Debug, Clone, Copy)]
pub struct BankReadings {
    /// Short trim, percent.
    pub short_pct: f64,
    /// Long trim, percent.
    pub long_pct: f64,
    /// Oxygen sensor ahead of the catalyst, V.
    pub volts: f64,
}

impl Engine {
    /// What is reported now.
    pub fn readings(&self) -> SensorReadings {
        let pump = self.pump();
        let banks = self.banks.iter().map(|bank| BankReadings {
            short_pct: 100.0 * bank.trims.short(),
            long_pct: 100.0 * bank.trims.long(),
            volts: bank.volts(),
        });
        // the controller knows of no other air than what it meters
        let metered = if self.runs() {
            self.metered(self.manifold.throttle_flow, self.air)
        } else {
            0.0
        };
        let load = metered / pump.wide_open_flow(self.rpm.max(100.0));
        let per_cycle = metered * 120.0 / self.rpm.max(100.0);
        let sensor_gain = match self.spec.air_metering {
            AirMetering::Maf => 1.0,
            AirMetering::Map => self.maf_factor(self.air),
        };
        SensorReadings {
            banks: banks.collect(),
            mode: self.controller.mode,
            load_pct: 100.0 * load,
            absolute_load_pct: 100.0 * per_cycle / (1.184 * self.spec.displacement_l),
            coolant_c: self.coolant_c,
            intake_c: self.intake_c,
            ambient_c: self.ambient_c,
            manifold_kpa: self.manifold.pressure_kpa * sensor_gain,
            barometer_kpa: self.barometer_kpa,
            rpm: self.rpm,
            spark_deg: self.spark_deg(load),
            // a car without an air flow meter tells what it reckons from the pressure
            air_g_per_s: metered,
            throttle_pct: self.throttle.position_pct(&pump),
            run_time_s: self.controller.run_time_s,
            purge_pct: 100.0 * self.controller.purge,
            lambda: self.controller.lambda,
            ethanol_pct: 100.0 * (EXPECTED_ETHANOL + self.condition.ethanol_change),
            rail: self.rail(),
        }
    }

    /// Held back at idle, more with speed, less with load.
    fn spark_deg(&self, load: f64) -> f64 {
        if self.runs() {
            10.0 + 22.0 * ((self.rpm - 900.0) / 2000.0).clamp(0.0, 1.0)
                - 18.0 * (load - 0.35).clamp(0.0, 0.6)
        } else {
            0.0
        }
    }
}
