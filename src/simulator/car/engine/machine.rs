//! The engine as a whole: what car and driver ask of it, and one step after the other.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use crate::{
    simulator::car::{fleet::CarSpec, trip::Trip},
    vehicle::AirMetering,
};

use super::{
    air::{Manifold, Openings, Pump},
    bank::{Bank, Inputs},
    canister::Canister,
    condition::Condition,
    controller::{Controller, Loop, Situation},
    throttle::Throttle,
    torque,
    wander::Wander,
};

/// Torque of alternator and other accessories, and of the compressor when it is in, Nm.
const ACCESSORIES_NM: f64 = 4.0;
/// Change of manifold pressure above which misfires are not monitored, kPa/s (assumed).
const WATCHED_KPA_PER_S: f64 = 60.0;
/// Time for which misfires stay unmonitored after such a change, s (assumed).
const WATCH_S: f64 = 0.6;

/// From this coolant temperature on an engine is warm, °C.
pub(super) const WARM_C: f64 = 70.0;

/// What car and driver ask of the engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Command {
    /// Key on, not running.
    Off,
    /// Running by itself at a speed, against a load on the crankshaft.
    Free {
        /// Wanted engine speed, rpm.
        target_rpm: f64,
        /// Load, Nm.
        load_nm: f64,
        /// Foot off: idle-speed control holds the speed.
        idle: bool,
    },
    /// Coupled to the wheels, which give the speed.
    Coupled {
        /// Engine speed, rpm.
        rpm: f64,
        /// Wanted torque at the output, Nm; below 0 the car pushes the engine.
        torque_nm: f64,
    },
}

/// What a step did that counters want to know.
#[derive(Debug, Clone, Default)]
pub struct EngineStep {
    /// Torque at the output, Nm.
    pub torque_nm: f64,
    /// Revolutions turned.
    pub revolutions: f64,
    /// Cylinders seen to misfire, once a misfire.
    pub misfires: Vec<u8>,
}

/// A running engine with its controller.
#[derive(Debug, Clone)]
pub struct Engine {
    pub(super) spec: CarSpec,
    pub(super) condition: Condition,
    pub(super) banks: Vec<Bank>,
    pub(super) wander: Wander,
    pub(super) random: Pcg64Mcg,
    pub(super) manifold: Manifold,
    pub(super) throttle: Throttle,
    pub(super) controller: Controller,
    pub(super) rpm: f64,
    pub(super) coolant_c: f64,
    pub(super) intake_c: f64,
    pub(super) ambient_c: f64,
    pub(super) barometer_kpa: f64,
    pub(super) measured_air: f64,
    pub(super) air: f64,
    pub(super) idle_air: f64,
    pub(super) vapour: f64,
    pub(super) canister: Canister,
    pub(super) steady_s: f64,
}

impl Engine {
    /// An engine at rest at the beginning of a trip.
    pub fn new(spec: &CarSpec, condition: Condition, trip: &Trip, car: u64) -> Self {
        let mut random = Pcg64Mcg::seed_from_u64(trip.seed ^ car.rotate_left(17) ^ 0x656e67);
        let nature = condition.nature;
        let mut wander = Wander::draw(
            nature.wander,
            car,
            trip.period,
            &mut random,
            spec.banks.len(),
        );
        wander.settles_from(trip.seed);
        let vapour = nature.purging.most_vapour * random.random::<f64>();
        let mut engine = Self {
            spec: *spec,
            banks: banks(&condition),
            condition,
            wander,
            random,
            manifold: Manifold::at_rest(trip.barometer_kpa),
            throttle: Throttle::shut(),
            controller: Controller::at_rest(nature.purging),
            rpm: 0.0,
            coolant_c: trip.coolant_c,
            intake_c: trip.ambient_c + 4.0,
            ambient_c: trip.ambient_c,
            barometer_kpa: trip.barometer_kpa,
            measured_air: 0.0,
            air: 0.0,
            idle_air: 1.0,
            vapour,
            canister: Canister::filled(nature.canister, trip.canister_charge),
            steady_s: 0.0,
        };
        engine.idle_air = engine.warm_idle_air();
        if !trip.cleared {
            let before = Wander::draw(
                nature.wander,
                car,
                trip.period,
                &mut engine.random,
                spec.banks.len(),
            );
            engine.recall(&before);
        }
        engine
    }

    pub(super) fn pump(&self) -> Pump {
        Pump {
            displacement_l: self.spec.displacement_l,
            barometer_kpa: self.barometer_kpa,
            charge_k: 273.15 + 0.7 * self.intake_c + 0.3 * self.coolant_c,
            breathing: self.condition.nature.parts.breathing,
        }
    }

    /// 0 at working temperature, 1 at about 0 °C.
    pub(super) fn cold(&self) -> f64 {
        ((75.0 - self.coolant_c) / 75.0).clamp(0.0, 1.2)
    }

    fn warm_idle_air(&self) -> f64 {
        let pump = self.pump();
        let rpm = self.spec.idle_rpm;
        pump.flow(rpm, torque::pressure_for(&pump, rpm, ACCESSORIES_NM, 0.0))
    }

    pub(super) fn per_litre(&self, flow: f64) -> f64 {
        flow / self.spec.displacement_l
    }

    /// Whether it runs.
    pub fn runs(&self) -> bool {
        self.rpm > 0.0
    }

    /// Warm idle speed wanted now: faster when cold.
    pub fn idle_target(&self) -> f64 {
        self.spec.idle_rpm + 450.0 * self.cold().min(1.0)
    }

    /// The torque at the output with the throttle shut, Nm: what engine braking gives.
    pub fn braking_nm(&self, rpm: f64) -> f64 {
        -torque::losses(&self.pump(), rpm, 20.0, self.cold())
    }

    /// The greatest torque at the output, Nm.
    pub fn greatest_nm(&self, rpm: f64) -> f64 {
        let pump = self.pump();
        let pressure = 0.97 * self.barometer_kpa;
        torque::indicated(pump.flow(rpm, pressure), rpm, 1.0)
            - torque::losses(&pump, rpm, pressure, self.cold())
    }

    /// Steps on by `dt` seconds.
    pub fn step(&mut self, command: Command, dt: f64) -> EngineStep {
        if command == Command::Off {
            self.stop(dt);
            return EngineStep::default();
        }
        self.start();
        let warm = self.coolant_c > WARM_C;
        self.wander.step(&mut self.random, warm, dt);
        let pump = self.pump();
        self.open_throttle(&pump, command, dt);
        let openings = Openings {
            throttle: self.throttle.opening,
            leak: self.leak_opening(self.manifold.pressure_kpa / self.barometer_kpa),
        };
        let before_kpa = self.manifold.pressure_kpa;
        self.air = self.manifold.step(&pump, openings, self.rpm, dt);
        self.meter_air(dt);
        self.controller.step(self.situation(command), dt);
        self.purge_canister(dt);
        let mut step = self.burn(command, dt);
        self.watch((self.manifold.pressure_kpa - before_kpa).abs() / dt, dt);
        if self.steady_s < WATCH_S {
            step.misfires.clear();
        }
        self.turn(&pump, command, &mut step, dt);
        self.warm_up(dt);
        step
    }

    /// Misfires are watched only when nothing else shakes the crankshaft: not in fuel cut, fast load changes and
    /// shortly after them.
    fn watch(&mut self, kpa_per_s: f64, dt: f64) {
        let shaken = self.controller.fuel_cut
            || kpa_per_s > WATCHED_KPA_PER_S
            || self.controller.run_time_s < 2.0;
        self.steady_s = if shaken { 0.0 } else { self.steady_s + dt };
    }

    fn start(&mut self) {
        if self.rpm <= 0.0 {
            self.rpm = self.idle_target() * 0.8;
            self.controller = Controller::at_rest(self.condition.nature.purging);
            self.manifold.pressure_kpa = 0.6 * self.barometer_kpa;
            self.measured_air = self.pump().flow(self.rpm, self.manifold.pressure_kpa);
        }
    }

    fn stop(&mut self, dt: f64) {
        (self.rpm, self.air, self.measured_air) = (0.0, 0.0, 0.0);
        self.throttle = Throttle::shut();
        self.manifold = Manifold::at_rest(self.barometer_kpa);
        self.controller.mode = Loop::Off;
        self.controller.purge = 0.0;
        self.coolant_c += (self.ambient_c - self.coolant_c) * dt / 5000.0;
    }

    fn open_throttle(&mut self, pump: &Pump, command: Command, dt: f64) {
        let cold = self.cold();
        match command {
            Command::Off => {}
            Command::Free {
                target_rpm,
                load_nm,
                ..
            } => {
                let load = load_nm + ACCESSORIES_NM;
                self.throttle
                    .for_speed(pump, self.rpm, target_rpm, load, cold, dt);
            }
            Command::Coupled { torque_nm, .. } => {
                let wanted = torque_nm + ACCESSORIES_NM;
                self.throttle.for_torque(pump, self.rpm, wanted, cold, dt);
            }
        }
    }

    /// Reads the air: the meter is slower than the air and a little noisy.
    fn meter_air(&mut self, dt: f64) {
        let noise = 1.0 + 0.004 * self.random.sample::<f64, _>(StandardNormal);
        let through = self.manifold.throttle_flow;
        // Ahead of a filling manifold the controller trusts its model of the filling: the metered flow reaches the
        // cylinders with the manifold's own lag.
        let lag_s = match self.spec.air_metering {
            AirMetering::Maf => 1.6 * 120.0 / (0.85 * self.rpm.max(300.0)),
            AirMetering::Map => 0.03,
        };
        let target = self.metered(through, self.air) * noise;
        self.measured_air += (target - self.measured_air) * (dt / lag_s).min(1.0);
    }

    fn situation(&self, command: Command) -> Situation {
        let foot_off = match command {
            Command::Off | Command::Free { idle: false, .. } => false,
            Command::Free { .. } => true,
            Command::Coupled { rpm, torque_nm } => torque_nm < 0.6 * self.braking_nm(rpm),
        };
        Situation {
            rpm: self.rpm,
            manifold_ratio: self.manifold.pressure_kpa / self.barometer_kpa,
            cold: self.cold(),
            overrun: foot_off && matches!(command, Command::Coupled { .. }),
            idle: foot_off,
        }
    }

    /// Fuel, fire and exhaust of every bank.
    fn burn(&mut self, command: Command, dt: f64) -> EngineStep {
        let situation = self.situation(command);
        let inputs: Vec<Inputs> = (0..self.banks.len())
            .zip(&self.condition.banks)
            .map(|(index, bank)| self.inputs(index, bank, situation))
            .collect();
        let mut step = EngineStep {
            revolutions: self.rpm / 60.0 * dt,
            ..EngineStep::default()
        };
        let mut works = 0.0;
        let parts = self.banks.iter_mut().zip(&self.condition.banks).zip(inputs);
        for ((bank, condition), inputs) in parts {
            let (misfires, random) = (&mut step.misfires, &mut self.random);
            let share = bank.step(&self.condition, condition, inputs, misfires, random, dt);
            works += share * condition.cylinders.len() as f64;
        }
        works /= self.spec.cylinder_count() as f64;
        step.torque_nm = torque::indicated(self.air, self.rpm, works);
        step
    }

    /// Turns the crankshaft: by its own torque when free, by the wheels when coupled.
    fn turn(&mut self, pump: &Pump, command: Command, step: &mut EngineStep, dt: f64) {
        let losses = torque::losses(pump, self.rpm, self.manifold.pressure_kpa, self.cold());
        step.torque_nm -= losses + ACCESSORIES_NM;
        match command {
            Command::Off => {}
            Command::Free {
                target_rpm,
                load_nm,
                idle,
            } => {
                // Spark moves the torque at once, within what is kept in reserve at idle.
                let reach = 3.0 * self.spec.displacement_l;
                let spark = (0.03 * self.spec.displacement_l * (target_rpm - self.rpm))
                    .clamp(-reach, if idle { reach } else { 0.0 });
                let inertia = 0.10 * self.spec.displacement_l;
                let turning = step.torque_nm + spark - load_nm;
                self.rpm += turning / inertia * dt * 60.0 / std::f64::consts::TAU;
                self.rpm = self.rpm.clamp(250.0, 6500.0);
            }
            Command::Coupled { rpm, .. } => {
                self.rpm += (rpm - self.rpm) * (dt / 0.25).min(1.0);
                self.rpm = self.rpm.clamp(500.0, 6500.0);
            }
        }
    }

    /// Heat into the coolant in step with the fuel, out through the body and, from 88 °C, the thermostat.
    fn warm_up(&mut self, dt: f64) {
        let mass = 9.0 * self.spec.displacement_l;
        let heat = 0.75 * self.air * if self.controller.fuel_cut { 0.0 } else { 1.0 };
        let body = 0.012 * (self.coolant_c - self.ambient_c) * self.spec.displacement_l;
        let thermostat = 1.2 * (self.coolant_c - 88.0).max(0.0) * self.spec.displacement_l;
        self.coolant_c += (heat - body - thermostat) * dt / mass;
        let soak = self.ambient_c + 4.0 + 22.0 / (1.0 + self.per_litre(self.air));
        self.intake_c += (soak - self.intake_c) * dt / 90.0;
    }
}

fn banks(condition: &Condition) -> Vec<Bank> {
    let count = condition.banks.len() as f64;
    let cylinders: usize = condition
        .banks
        .iter()
        .map(|bank| bank.cylinders.len())
        .sum();
    let offset = |index: usize| index as f64 / (cylinders as f64) / count.max(1.0);
    let trimming = condition.nature.trimming;
    let banks = condition.banks.iter().enumerate();
    banks
        .map(|(index, bank)| Bank::new(bank.cylinders.len(), offset(index), trimming))
        .collect()
}
