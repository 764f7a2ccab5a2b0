//! One bank at run time: fuel into its cylinders, fire, exhaust gas, oxygen sensor, trims.

use rand::RngExt;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use super::{
    condition::{BankCondition, Condition},
    controller::Loop,
    fuel::{self, Supply},
    misfire::{self, Charge, Firing},
    nature::Trimming,
    oxygen_sensor::OxygenSensor,
    torque,
    trims::BankTrims,
};

/// Mixing of single misfires in the exhaust, s.
const MIXING_S: f64 = 0.25;
/// Cycle-to-cycle spread of the mixture.
const MIXTURE_NOISE: f64 = 0.004;

/// What the engine does to one bank in a step.
#[derive(Debug, Clone, Copy)]
pub struct Inputs {
    /// Air it breathes, g/s.
    pub air: f64,
    /// What it is to get, before trims.
    pub supply: Supply,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Filling of the cylinders, 0 to 1.
    pub load: f64,
    /// Factor of false air at the sensor.
    pub false_air: f64,
    /// Fuel of one cylinder at warm idle, g/s.
    pub idle_fuel: f64,
    /// Mode of mixture control.
    pub mode: Loop,
    /// Injectors off.
    pub fuel_cut: bool,
    /// Region of operation for learning.
    pub region: usize,
    /// Whether trims are learned.
    pub learns: bool,
    /// Time from the valves to the sensor, s.
    pub delay_s: f64,
    /// Share of fuel that goes through the wall film, and how long it stays, s.
    pub film: (f64, f64),
}

/// The state of one bank.
#[derive(Debug, Clone)]
pub struct Bank {
    firings: Vec<Firing>,
    film: f64,
    missed: f64,
    sensor: OxygenSensor,
    /// Fuel trims of the bank.
    pub trims: BankTrims,
}

impl Bank {
    /// A bank whose first cylinder fires `offset` of a cycle after the engine's first.
    pub fn new(cylinders: usize, offset: f64, trimming: Trimming) -> Self {
        let place = |index: usize| (offset + index as f64 / cylinders as f64) % 1.0;
        Self {
            firings: (0..cylinders)
                .map(|index| Firing::new(place(index)))
                .collect(),
            film: 0.0,
            missed: 0.0,
            sensor: OxygenSensor::new(),
            trims: BankTrims::learned([0.0; super::trims::REGIONS], trimming),
        }
    }

    /// Voltage of the sensor ahead of the catalyst.
    pub fn volts(&self) -> f64 {
        self.sensor.volts()
    }

    /// Steps on by `dt` seconds; adds misfired cylinders to `misfires` and gives the share of the bank's torque that
    /// is made.
    pub fn step(
        &mut self,
        engine: &Condition,
        bank: &BankCondition,
        inputs: Inputs,
        misfires: &mut Vec<u8>,
        random: &mut Pcg64Mcg,
        dt: f64,
    ) -> f64 {
        self.trims.enter(inputs.region, dt);
        if inputs.fuel_cut {
            self.film -= self.film / inputs.film.1 * dt;
            self.sensor.step(3.0, inputs.delay_s, dt);
            self.trims.open();
            return 0.0;
        }
        let supply = Supply {
            asked: self.through_film(inputs, dt),
            ..inputs.supply
        };
        let air = inputs.air / bank.cylinders.len() as f64;
        let cycles = inputs.rpm / 120.0 * dt;
        let (mut works, mut fuel_sum, mut due, mut unburnt) = (0.0, 0.0, 0.0, 0.0);
        let fuels = fuel::to_cylinders(engine, bank, supply, inputs.idle_fuel);
        for ((cylinder, firing), fuel) in bank.cylinders.iter().zip(&mut self.firings).zip(fuels) {
            let charge = Charge {
                lambda: air / fuel.max(1e-9),
                load: inputs.load,
                rpm: inputs.rpm,
            };
            let mean = misfire::mean_probability(cylinder, charge, &engine.nature);
            let (fired, failed) = firing.step(mean, cycles, dt, random);
            misfires.extend(std::iter::repeat_n(cylinder.number, failed as usize));
            let share = f64::from(failed) / f64::from(fired.max(1));
            let leaking = 1.0 - 0.6 * cylinder.compression_loss * (1000.0 / inputs.rpm).min(1.0);
            works += (1.0 - share) * torque::mixture_efficiency(charge.lambda) * leaking;
            fuel_sum += fuel;
            due += f64::from(fired) * fuel;
            unburnt += f64::from(failed) * fuel;
        }
        let oxygen_left = 1.0 - engine.nature.faults.burnt_at_sensor;
        self.exhaust(inputs, fuel_sum, (due, unburnt), oxygen_left, random, dt);
        self.control(inputs, dt);
        works / bank.cylinders.len() as f64
    }

    /// Sends what is asked, trims included, over the wall film; gives what arrives.
    fn through_film(&mut self, inputs: Inputs, dt: f64) -> f64 {
        let (share, stays_s) = inputs.film;
        let injected = inputs.supply.asked * self.trims.factor();
        let back = self.film / stays_s;
        self.film += (share * injected - back) * dt;
        (1.0 - share) * injected + back
    }

    /// Mixes the exhaust of all cylinders and hands it to the sensor. A misfired charge leaves its oxygen behind: the
    /// sensor reads lean whatever the reason.
    fn exhaust(
        &mut self,
        inputs: Inputs,
        fuel: f64,
        (due, unburnt): (f64, f64),
        oxygen_left: f64,
        random: &mut Pcg64Mcg,
        dt: f64,
    ) {
        if due > 0.0 {
            // Weighted by the share of the cycle that this step fired, so that the mean over time is right.
            let expected = fuel * inputs.rpm / 120.0 * dt;
            let weight = (due / expected.max(1e-12)).min(20.0);
            self.missed += (unburnt / due - self.missed) * (weight * dt / MIXING_S).min(1.0);
        }
        let seen = fuel * (1.0 - oxygen_left * self.missed);
        let noise = 1.0 + MIXTURE_NOISE * random.sample::<f64, _>(StandardNormal);
        let lambda = inputs.air * inputs.false_air / seen.max(1e-9) * noise;
        self.sensor.step(lambda, inputs.delay_s, dt);
    }

    fn control(&mut self, inputs: Inputs, dt: f64) {
        match inputs.mode {
            Loop::Closed => {
                let rich = self.sensor.volts() > 0.45;
                self.trims.close(rich, inputs.delay_s, inputs.learns, dt);
            }
            _ => self.trims.open(),
        }
    }
}
