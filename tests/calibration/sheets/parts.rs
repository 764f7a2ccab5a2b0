//! What lies on the bench: injectors, coils, seats and rail as they truly are.

use pintle::{
    cause::Cause,
    simulator::car::{fault::Fault, nature::Regulator, trip::Trip},
    vehicle::Injection,
};

use crate::{case::DrawnCar, dice::Dice};

/// Air at warm idle for each litre, g/s; petrol as the trade has it: 14.7 by mass, 0.745 g/mL.
const IDLE_AIR_G_PER_S_L: [f64; 2] = [1.3, 2.0];
const AIR_FOR_FUEL: f64 = 14.7;
const PETROL_G_PER_ML: f64 = 0.745;
/// A drop of petrol, mL.
const DROP_ML: [f64; 2] = [0.02, 0.05];
/// Flow for each litre at idle, light cruise and under load against light cruise's, where a pressure error is stated.
const FLOW_AT_IDLE: f64 = 0.23;
const FLOW_LOADED: f64 = 2.0;

/// One car's parts.
pub struct Parts {
    pub direct: bool,
    pub injectors: Vec<Injector>,
    pub rail: Rail,
}

/// One injector and its cylinder.
pub struct Injector {
    pub cylinder: u8,
    /// What it gives against nominal when a bench drives it.
    pub flow: f64,
    /// Coil at 20 °C; infinite for an open one.
    pub coil_ohms: f64,
    /// Whether the needle moves in the car, and whether the drive pulse arrives.
    pub moves: bool,
    pub pulse: bool,
    /// Drops a minute on the bench.
    pub drops_per_minute: f64,
    /// Work of its cylinder at idle against a sound one's.
    pub work: f64,
}

/// Pressures as they truly are, kPa.
pub struct Rail {
    pub pump_running: f64,
    /// What the manifold's vacuum takes at idle, where the regulator follows it.
    pub vacuum: f64,
    pub loaded: f64,
    /// Left after ten minutes, as a share.
    pub left: f64,
}

/// How an injector came to be dead.
#[derive(Clone, Copy, PartialEq)]
enum Dead {
    Open,
    Shorted,
    /// Only when hot: on the bench it is sound.
    WhenHot,
    /// Wiring, plug or driver: the injector is sound.
    Wiring,
    Stuck,
}

const WAYS_TO_DIE: [(f64, Dead); 5] = [
    (0.35, Dead::Open),
    (0.07, Dead::Shorted),
    (0.08, Dead::WhenHot),
    (0.27, Dead::Wiring),
    (0.23, Dead::Stuck),
];

impl Parts {
    pub fn of(car: &DrawnCar, dice: &mut Dice) -> Self {
        let faults: Vec<Fault> = car.faults.concat();
        let driven = car.driven(&Trip::warm(0));
        let failing = driven.steady().failing;
        let flows = driven.injector_flows();
        let banks = car.spec.banks;
        let [low, high] = car.spec.coil_ohms;
        let coil = dice.between(low, high);
        let litres = car.spec.displacement_l / flows.len() as f64;
        let idle_air = litres * dice.between(IDLE_AIR_G_PER_S_L[0], IDLE_AIR_G_PER_S_L[1]);
        let idle_ml_per_minute = 60.0 * idle_air / AIR_FOR_FUEL / PETROL_G_PER_ML;
        let compression_felt = dice.between(0.4, 1.2);
        let mut escaped_ml = 0.0;
        let one = |(number, flow): &(u8, f64)| {
            let here = |cause: Cause| {
                let meant = |fault: &&Fault| (fault.cause, fault.place) == (cause, Some(*number));
                faults
                    .iter()
                    .find(meant)
                    .map(|fault| fault.severity / 100.0)
            };
            let bank = banks.iter().find(|bank| bank.contains(number)).unwrap();
            let others = flows.iter().filter(|(other, _)| bank.contains(other));
            let mean = others.map(|(_, flow)| flow).sum::<f64>() / bank.len() as f64;
            let fails = failing.iter().find(|(other, _)| other == number);
            let fails = fails.map_or(0.0, |(_, at)| at[0]);
            let compression = here(Cause::CompressionLow).unwrap_or(0.0) * compression_felt;
            // the correction has brought the bank's mean right; a lean charge works in step with its fuel
            let fuel = (flow / mean.max(0.02)).min(1.03);
            let work = (1.0 - fails) * fuel * (1.0 - compression).max(0.0);
            let mut injector = Injector {
                cylinder: *number,
                flow: *flow,
                coil_ohms: coil * (1.0 + dice.normal(0.012)),
                moves: true,
                pulse: true,
                drops_per_minute: weeping(dice),
                work: work * (1.0 + dice.normal(0.08)),
            };
            if dice.chance(0.01) {
                injector.coil_ohms *= dice.log_between(0.75, 1.35);
            }
            if let Some(drip) = here(Cause::InjectorLeaking) {
                let ml = drip * idle_ml_per_minute;
                escaped_ml += 10.0 * ml;
                // some drip only when hot, or shut late and are tight when shut
                let on_bench = if dice.chance(0.12) {
                    0.0
                } else {
                    dice.log_between(0.3, 1.3)
                };
                injector.drops_per_minute = on_bench * ml / dice.between(DROP_ML[0], DROP_ML[1]);
            }
            if here(Cause::InjectorDead).is_some() {
                injector.dies(car, dice);
            }
            injector
        };
        let injectors = flows.iter().map(one).collect();
        Self {
            direct: car.spec.injection == Injection::Direct,
            injectors,
            rail: Rail::of(car, &faults, escaped_ml, dice),
        }
    }
}

/// A seat that nobody complains of: tight as a rule.
fn weeping(dice: &mut Dice) -> f64 {
    match dice.weighed(&[(0.91, 0), (0.06, 1), (0.03, 2)]) {
        0 => 0.0,
        1 => dice.log_between(0.05, 1.0),
        _ => dice.log_between(1.0, 5.0),
    }
}

impl Injector {
    fn dies(&mut self, car: &DrawnCar, dice: &mut Dice) {
        let sound = 1.0 + dice.normal(car.nature.parts.injector_spread);
        let way = dice.weighed(&WAYS_TO_DIE);
        self.flow = match way {
            Dead::WhenHot | Dead::Wiring => sound,
            _ => 0.0,
        };
        self.coil_ohms = match way {
            Dead::Open => f64::INFINITY,
            Dead::Shorted => dice.between(0.1, 0.8),
            _ => self.coil_ohms,
        };
        self.pulse = way != Dead::Wiring;
        self.moves = match way {
            Dead::WhenHot => true,
            // the coil pulls and something in it still sounds
            Dead::Stuck => dice.chance(0.2),
            _ => false,
        };
    }
}

impl Rail {
    fn of(car: &DrawnCar, faults: &[Fault], escaped_ml: f64, dice: &mut Dice) -> Self {
        let size = |cause: Cause| {
            let meant = faults.iter().find(|fault| fault.cause == cause);
            meant.map_or(0.0, |fault| fault.severity / 100.0)
        };
        let (low, high) = (size(Cause::FuelPressureLow), size(Cause::FuelPressureHigh));
        // a weak pump falls further as more is asked of it
        let physics = &car.nature.faults;
        let ratio = |flow: f64| {
            let grows = physics.pump_growth * flow.powf(physics.pump_power).min(2.5);
            (1.0 + high - low * (1.0 - physics.pump_growth + grows)).max(0.04)
        };
        let sag = dice.between(0.0, 0.03);
        let [least, most] = car.spec.rail_kpa;
        let rail = car.nature.rail;
        let set = least + rail.set * (most - least);
        let (at_idle, loaded, vacuum) = match (car.spec.injection, rail.regulator) {
            (Injection::Direct, _) => (4_500.0, 4_500.0 + dice.between(5_000.0, 13_500.0), 0.0),
            (_, Regulator::Fixed) => (set, set, 0.0),
            (_, Regulator::FollowsManifold) => (set, set, dice.between(50.0, 68.0)),
            (_, Regulator::Moved) => (0.92 * set, dice.between(0.98, 1.08) * set, 0.0),
        };
        Self {
            pump_running: at_idle * ratio(FLOW_AT_IDLE),
            vacuum,
            loaded: loaded * ratio(FLOW_LOADED) * (1.0 - sag),
            left: left(low > 0.0, escaped_ml, dice),
        }
    }
}

/// Share of the pressure after ten minutes: what pump valve and regulator hold, what heat adds, what a drip lets out.
fn left(pressure_low: bool, escaped_ml: f64, dice: &mut Dice) -> f64 {
    let holds = if pressure_low { 0.45 } else { 0.70 };
    let held = if dice.chance(holds) {
        dice.between(0.88, 1.0)
    } else {
        dice.between(0.0, 0.9)
    };
    let heat = if dice.chance(0.3) {
        dice.between(1.0, 1.2)
    } else {
        1.0
    };
    // fuel that leaves a rail and its hose before the pressure has fallen to a third, mL
    let gives = dice.log_between(0.5, 5.0);
    (held * heat * (-escaped_ml / gives).exp()).min(1.25)
}
