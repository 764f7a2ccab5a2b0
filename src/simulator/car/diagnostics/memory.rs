//! What the engine controller remembers between trips: codes, freeze frame, check-engine light, counts since clearing; and the rules
//! by which it sets codes.

use crate::simulator::car::{fleet::CarSpec, trip::Trip};

use super::{current_data::Snapshot, trouble_codes};

/// Total fuel trim above which a bank is called lean, percent (thresholds run from 20 to 45 % by manufacturer;
/// assumed).
const LEAN_PCT: f64 = 22.0;
/// Total fuel trim below which a bank is called rich, percent (assumed).
const RICH_PCT: f64 = -20.0;
/// Time constant of the smoothing of the total fuel trim, s (assumed).
const CORRECTION_S: f64 = 25.0;
/// Revolutions of a misfire window (13 CCR 1968.2 (e)(3)).
const WINDOW_REV: f64 = 1000.0;
/// Share of firings in a misfire window that is too much, 0 to 1 (1–3 % is usual).
const MISFIRE_SHARE: f64 = 0.02;
/// Share of the counted misfires above which a cylinder is named (13 CCR 1968.2 (e)(3.1.3)).
const NAMED_SHARE: f64 = 0.10;
/// Above this share in one cylinder no code for several cylinders is set.
const ALONE_SHARE: f64 = 0.90;
/// Time after which a broken injector circuit is called so, s.
const CIRCUIT_S: f64 = 4.0;

/// The memory of one engine controller.
#[derive(Debug, Clone)]
pub struct Memory {
    stored: Vec<u16>,
    pending: Vec<u16>,
    permanent: Vec<u16>,
    freeze: Option<(u16, Snapshot)>,
    first_trip: bool,
    warm_ups: u8,
    distance_km: f64,
    minutes: f64,
    lamp_km: f64,
    lamp_minutes: f64,
    fuel_trims: Vec<f64>,
    window_rev: f64,
    window: Vec<u32>,
    cylinders: f64,
    dead: Vec<u8>,
    running_s: f64,
}

/// What a second of running showed.
#[derive(Debug, Clone, Copy)]
pub struct SecondRecord<'a> {
    /// Length, s.
    pub dt: f64,
    /// Revolutions turned.
    pub revolutions: f64,
    /// Misfired cylinders, once a misfire.
    pub misfires: &'a [u8],
    /// Distance driven, km.
    pub km: f64,
    /// Whether trims are under closed-loop control.
    pub closed: bool,
}

impl Memory {
    /// Memory as earlier trips left it. `dead` names cylinders whose injector circuit is broken.
    pub fn new(spec: &CarSpec, trip: &Trip, dead: Vec<u8>) -> Self {
        let past = if trip.cleared {
            0.0
        } else {
            // trips on one tank have the same past
            1.0 + (trip.period % 17) as f64
        };
        Self {
            stored: Vec::new(),
            pending: Vec::new(),
            permanent: Vec::new(),
            freeze: None,
            first_trip: trip.cleared,
            warm_ups: (past * 12.0) as u8,
            distance_km: past * 310.0,
            minutes: past * 420.0,
            lamp_km: 0.0,
            lamp_minutes: 0.0,
            fuel_trims: vec![0.0; spec.banks.len()],
            window_rev: 0.0,
            window: vec![0; spec.cylinder_count()],
            cylinders: spec.cylinder_count() as f64,
            dead,
            running_s: 0.0,
        }
    }

    /// Clears codes, freeze frame and counts (service 04); permanent codes stay.
    pub fn clear(&mut self) {
        (self.stored, self.pending, self.freeze) = (Vec::new(), Vec::new(), None);
        (self.warm_ups, self.distance_km, self.minutes) = (0, 0.0, 0.0);
        (self.lamp_km, self.lamp_minutes) = (0.0, 0.0);
        self.first_trip = true;
        self.window_rev = 0.0;
        self.window.iter_mut().for_each(|count| *count = 0);
        self.fuel_trims
            .iter_mut()
            .for_each(|fuel_trim| *fuel_trim = 0.0);
        self.running_s = 0.0;
    }

    /// Confirmed codes.
    pub fn stored(&self) -> &[u16] {
        &self.stored
    }

    /// Codes of this or the last driving cycle.
    pub fn pending(&self) -> &[u16] {
        &self.pending
    }

    /// Codes that clearing leaves.
    pub fn permanent(&self) -> &[u16] {
        &self.permanent
    }

    /// The freeze frame and its code.
    pub const fn freeze(&self) -> Option<&(u16, Snapshot)> {
        self.freeze.as_ref()
    }

    /// Warm-ups, distance (km) and minutes since clearing.
    pub const fn since_clear(&self) -> (u8, f64, f64) {
        (self.warm_ups, self.distance_km, self.minutes)
    }

    /// Distance (km) and minutes with the check-engine light on.
    pub const fn with_lamp(&self) -> (f64, f64) {
        (self.lamp_km, self.lamp_minutes)
    }

    /// A cold engine has come to working temperature.
    pub fn warmed_up(&mut self) {
        self.warm_ups = self.warm_ups.saturating_add(1);
    }

    /// Takes in what a second of running showed, and sets the codes that are due. `now` gives what is frozen.
    pub fn second(&mut self, second: SecondRecord<'_>, now: impl Fn() -> Snapshot) {
        self.running_s += second.dt;
        self.minutes += second.dt / 60.0;
        self.distance_km += second.km;
        if !self.stored.is_empty() {
            self.lamp_km += second.km;
            self.lamp_minutes += second.dt / 60.0;
        }
        let mut due = Vec::new();
        if second.closed {
            due.extend(self.mixture_codes(&now(), second.dt));
        }
        self.window_rev += second.revolutions;
        self.count(second.misfires);
        if self.window_rev >= WINDOW_REV {
            due.extend(self.misfire_codes());
        }
        if self.running_s > CIRCUIT_S {
            due.extend(
                self.dead
                    .iter()
                    .map(|cylinder| trouble_codes::injector_circuit(*cylinder)),
            );
        }
        for code in due {
            self.set(code, &now);
        }
    }

    fn mixture_codes(&mut self, now: &Snapshot, dt: f64) -> Vec<u16> {
        let mut due = Vec::new();
        let banks = self
            .fuel_trims
            .iter_mut()
            .zip(&now.engine.banks)
            .enumerate();
        for (index, (smoothed, bank)) in banks {
            let total = (1.0 + bank.short_pct / 100.0) * (1.0 + bank.long_pct / 100.0) - 1.0;
            *smoothed += (100.0 * total - *smoothed) * (dt / CORRECTION_S).min(1.0);
            if *smoothed > LEAN_PCT {
                due.push(trouble_codes::lean(index));
            } else if *smoothed < RICH_PCT {
                due.push(trouble_codes::rich(index));
            }
        }
        due
    }

    fn count(&mut self, misfires: &[u8]) {
        for number in misfires {
            if let Some(count) = self.window.get_mut(usize::from(*number).wrapping_sub(1)) {
                *count += 1;
            }
        }
    }

    /// Judges a full window and starts the next.
    fn misfire_codes(&mut self) -> Vec<u16> {
        let all = f64::from(self.window.iter().sum::<u32>());
        let firings = self.window_rev / 2.0 * self.cylinders;
        let mut due = Vec::new();
        if all > MISFIRE_SHARE * firings {
            let share = |count: &u32| f64::from(*count) / all;
            if !self.window.iter().any(|count| share(count) > ALONE_SHARE) {
                due.push(trouble_codes::MISFIRE_SEVERAL);
            }
            let named = (1..)
                .zip(&self.window)
                .filter(|(_, count)| share(count) > NAMED_SHARE);
            due.extend(named.map(|(number, _)| trouble_codes::misfire(number)));
        }
        self.window_rev = 0.0;
        self.window.iter_mut().for_each(|count| *count = 0);
        due
    }

    /// Two driving cycles confirm a code; a fault that has been there a while was pending before this trip.
    fn set(&mut self, code: u16, now: &impl Fn() -> Snapshot) {
        if !self.pending.contains(&code) {
            self.pending.push(code);
        }
        if self.first_trip || self.stored.contains(&code) {
            return;
        }
        self.stored.push(code);
        self.permanent.push(code);
        if self.freeze.is_none() {
            self.freeze = Some((code, now()));
        }
    }
}
