//! The car on the road and its driver: gears, resistances, the right foot. Turns a schedule into engine commands.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

use crate::simulator::car::{
    engine::{Command, Engine},
    fleet::CarSpec,
    trip::{Driving, Trip},
};

/// Losses from crankshaft to wheels.
const DRIVELINE: f64 = 0.92;
/// Torque of the air-conditioning compressor for each litre of the engine, Nm.
const COMPRESSOR_NM: f64 = 4.0;
/// Standard deviation of a road's slope, percent: no road is even (assumed).
const HUMP_PCT: f64 = 0.5;
/// Time that a hump of the road lasts, s (assumed).
const HUMP_S: f64 = 12.0;
/// Shortest time between gear changes, s.
const SHIFT_S: f64 = 1.8;

/// Speed, gear and the driver's state.
#[derive(Debug, Clone)]
pub struct Road {
    spec: CarSpec,
    /// Road speed, km/h.
    pub speed_km_h: f64,
    /// Distance driven, km.
    pub distance_km: f64,
    gear: usize,
    since_shift_s: f64,
    grade_pct: f64,
    hump_pct: f64,
    random: Pcg64Mcg,
    compressor: Option<Compressor>,
}

/// The compressor cycling by its thermostat.
#[derive(Debug, Clone)]
struct Compressor {
    random: Pcg64Mcg,
    running: bool,
    change_s: f64,
}

impl Compressor {
    fn step(&mut self, dt: f64) -> bool {
        self.change_s -= dt;
        if self.change_s < 0.0 {
            self.running = !self.running;
            self.change_s = self.random.random_range(14.0..38.0);
        }
        self.running
    }
}

impl Road {
    /// Standing at the beginning of a trip.
    pub fn new(spec: &CarSpec, trip: &Trip) -> Self {
        let compressor = trip.compressor.then(|| Compressor {
            random: Pcg64Mcg::seed_from_u64(trip.seed ^ 0x636f_6f6c),
            running: false,
            change_s: 20.0,
        });
        Self {
            spec: *spec,
            speed_km_h: 0.0,
            distance_km: 0.0,
            gear: 0,
            since_shift_s: 0.0,
            grade_pct: 0.0,
            hump_pct: 0.0,
            random: Pcg64Mcg::seed_from_u64(trip.seed ^ 0x726f_6164),
            compressor,
        }
    }

    /// What the engine is to do now.
    pub fn command(&mut self, driving: Driving, engine: &Engine, dt: f64) -> Command {
        let cooling = self.compressor.as_mut().is_some_and(|c| c.step(dt));
        let load_nm = if cooling {
            COMPRESSOR_NM * self.spec.displacement_l
        } else {
            0.0
        };
        let bump = if cooling { 60.0 } else { 0.0 };
        let standing = self.speed_km_h < 2.0;
        match driving {
            Driving::Parked => {
                self.speed_km_h = 0.0;
                Command::Off
            }
            Driving::Idle if standing => self.stand(engine.idle_target() + bump, load_nm, true),
            Driving::Hold { rpm } if standing => self.stand(rpm, load_nm, false),
            Driving::Idle | Driving::Hold { .. } => self.drive(0.0, 0.0, engine, dt),
            Driving::Road { km_h, grade_pct } => self.drive(km_h, grade_pct, engine, dt),
        }
    }

    fn stand(&mut self, target_rpm: f64, load_nm: f64, idle: bool) -> Command {
        (self.speed_km_h, self.gear) = (0.0, 0);
        Command::Free {
            target_rpm,
            load_nm,
            idle,
        }
    }

    fn ratio(&self) -> f64 {
        let ratios = self.spec.rpm_per_km_h;
        ratios.get(self.gear).copied().unwrap_or(ratios[4])
    }

    /// Torque at the crankshaft that gives 1 N at the wheels, N m (road metres a crankshaft radian).
    fn metres_per_radian(&self) -> f64 {
        (1.0 / 3.6) / (self.ratio() * std::f64::consts::TAU / 60.0)
    }

    /// Rolling, air and slope, N.
    fn resistance(&self) -> f64 {
        let weight = self.spec.mass_kg * 9.81;
        let metres_per_s = self.speed_km_h / 3.6;
        let rolling = if self.speed_km_h > 0.5 {
            0.012 * weight
        } else {
            0.0
        };
        rolling
            + 0.42 * metres_per_s * metres_per_s
            + weight * (self.grade_pct + self.hump_pct) / 100.0
    }

    fn drive(&mut self, km_h: f64, grade_pct: f64, engine: &Engine, dt: f64) -> Command {
        self.grade_pct += (grade_pct - self.grade_pct) * dt / 3.0;
        let kick: f64 = self.random.sample(StandardNormal);
        self.hump_pct +=
            -self.hump_pct * dt / HUMP_S + HUMP_PCT * (2.0 * dt / HUMP_S).sqrt() * kick;
        let behind = (km_h - self.speed_km_h) / 3.6;
        let acceleration = (0.25 * behind).clamp(-1.8, 1.0);
        let force = self.resistance() + self.spec.mass_kg * acceleration;
        let rpm = self.engine_rpm(engine);
        let wanted = force * self.metres_per_radian() / DRIVELINE;
        self.shift(wanted, engine, dt);
        let least = engine.braking_nm(rpm);
        Command::Coupled {
            rpm,
            torque_nm: wanted.clamp(least, engine.greatest_nm(rpm)),
        }
    }

    fn engine_rpm(&self, engine: &Engine) -> f64 {
        let slipping = engine.idle_target() + if self.speed_km_h < 12.0 { 300.0 } else { 0.0 };
        (self.speed_km_h * self.ratio()).max(slipping)
    }

    /// Up when the engine turns fast for what is asked, down when it labours.
    fn shift(&mut self, wanted_nm: f64, engine: &Engine, dt: f64) {
        self.since_shift_s += dt;
        if self.since_shift_s < SHIFT_S {
            return;
        }
        let rpm = self.speed_km_h * self.ratio();
        let asked = (wanted_nm / engine.greatest_nm(rpm.max(1000.0))).clamp(0.0, 1.2);
        let next = self.spec.rpm_per_km_h.get(self.gear + 1);
        let up = next.is_some_and(|ratio| self.speed_km_h * ratio > 1350.0 + 2000.0 * asked);
        let down = self.gear > 0 && rpm < 1050.0 + 1450.0 * asked;
        if up || down {
            self.gear = if up { self.gear + 1 } else { self.gear - 1 };
            self.since_shift_s = 0.0;
        }
    }

    /// Moves the car by what the engine gave; the driver brakes where the engine does not hold back enough.
    pub fn roll(&mut self, driving: Driving, command: Command, torque_nm: f64, dt: f64) {
        let Command::Coupled { .. } = command else {
            return;
        };
        let target = match driving {
            Driving::Road { km_h, .. } => km_h,
            _ => 0.0,
        };
        let force = torque_nm * DRIVELINE / self.metres_per_radian() - self.resistance();
        let rolling = force / self.spec.mass_kg;
        let over = (target - self.speed_km_h) / 3.6;
        let acceleration = match () {
            () if target <= 0.0 => rolling.min((0.35 * over).clamp(-1.8, -0.5)),
            () if over < -0.8 => rolling.min((0.35 * over).max(-1.8)),
            () => rolling,
        };
        self.speed_km_h = (self.speed_km_h + 3.6 * acceleration * dt).max(0.0);
        self.distance_km += self.speed_km_h / 3600.0 * dt;
    }
}
