//! The engine controller's modes: open or closed loop, mixture wanted, fuel cut, purge.

use super::nature::Purging;

/// How the mixture is controlled, with the code that PID 03 gives it (SAE J1979).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loop {
    /// Engine off: no status.
    Off = 0,
    /// Open, not yet ready for closed loop.
    OpenNotReady = 1,
    /// Closed on the oxygen sensor.
    Closed = 2,
    /// Open because of driving: full power, overrun.
    OpenDriving = 4,
}

/// What the modes are decided by.
#[derive(Debug, Clone, Copy)]
pub struct Situation {
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Manifold pressure against the barometer.
    pub manifold_ratio: f64,
    /// 0 at working temperature, 1 at about 0 °C.
    pub cold: f64,
    /// Foot off with the car pushing the engine.
    pub overrun: bool,
    /// Standing or rolling with the foot off.
    pub idle: bool,
}

/// State of the controller that is not per bank.
#[derive(Debug, Clone)]
pub struct Controller {
    /// Seconds since the start.
    pub run_time_s: f64,
    /// Mode of mixture control.
    pub mode: Loop,
    /// Wanted air over fuel against the right ratio.
    pub lambda: f64,
    /// Injectors off in overrun.
    pub fuel_cut: bool,
    /// Commanded purge, 0 to 1.
    pub purge: f64,
    purging: Purging,
    high_load_s: f64,
    closed_s: f64,
}

/// Longest time the wanted purge takes to follow, s.
const PURGE_S: f64 = 4.0;

impl Controller {
    /// Before the start.
    pub const fn at_rest(purging: Purging) -> Self {
        Self {
            purging,
            run_time_s: 0.0,
            mode: Loop::Off,
            lambda: 1.0,
            fuel_cut: false,
            purge: 0.0,
            high_load_s: 0.0,
            closed_s: 0.0,
        }
    }

    /// Decides the modes for the next `dt` seconds of a running engine.
    pub fn step(&mut self, now: Situation, dt: f64) {
        self.run_time_s += dt;
        let resume = if self.fuel_cut { 1250.0 } else { 1600.0 };
        self.fuel_cut = now.overrun && now.rpm > resume && self.run_time_s > 5.0;
        self.high_load_s = if now.manifold_ratio > 0.86 {
            self.high_load_s + dt
        } else {
            0.0
        };
        let ready = self.run_time_s > 15.0 + 40.0 * now.cold;
        let power = self.high_load_s > 0.6;
        self.mode = match () {
            () if self.fuel_cut || power => Loop::OpenDriving,
            () if ready => Loop::Closed,
            () => Loop::OpenNotReady,
        };
        self.lambda = match () {
            () if self.fuel_cut => 2.0,
            () if power => 0.88,
            () if ready => 1.0,
            () => 1.0 - 0.03 - 0.12 * now.cold,
        };
        self.closed_s = if self.mode == Loop::Closed {
            self.closed_s + dt
        } else {
            self.closed_s
        };
        self.step_purge(now, dt);
    }

    /// Purge runs on a warm engine in closed loop and pauses now and then so that trims can be learned without it.
    fn step_purge(&mut self, now: Situation, dt: f64) {
        let pausing = self.closed_s % self.purging.period_s < self.purging.pause_s;
        let wanted = match self.mode {
            Loop::Closed if now.cold < 0.15 && !pausing => {
                if now.idle {
                    self.purging.idle
                } else {
                    self.purging.driving
                }
            }
            _ => 0.0,
        };
        self.purge += (wanted - self.purge) * dt / PURGE_S;
        if self.fuel_cut {
            self.purge = 0.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::engine::nature::Nature;

    /// A warm engine at cruise, in closed loop.
    const CRUISE: Situation = Situation {
        rpm: 2000.0,
        manifold_ratio: 0.5,
        cold: 0.0,
        overrun: false,
        idle: false,
    };

    fn run(controller: &mut Controller, now: Situation, seconds: f64) -> Loop {
        for _ in 0..(seconds / 0.02) as usize {
            controller.step(now, 0.02);
        }
        controller.mode
    }

    #[test]
    fn modes_follow_warming_power_and_overrun() {
        let mut controller = Controller::at_rest(Nature::USUAL.purging);
        assert_eq!(run(&mut controller, CRUISE, 5.0), Loop::OpenNotReady);
        assert!(controller.lambda < 1.0);
        assert_eq!(run(&mut controller, CRUISE, 20.0), Loop::Closed);
        assert_eq!(controller.lambda, 1.0);
        let pull = Situation {
            manifold_ratio: 0.95,
            ..CRUISE
        };
        assert_eq!(run(&mut controller, pull, 2.0), Loop::OpenDriving);
        assert!(controller.lambda < 0.95);
        let overrun = Situation {
            overrun: true,
            manifold_ratio: 0.2,
            ..CRUISE
        };
        assert_eq!(run(&mut controller, overrun, 1.0), Loop::OpenDriving);
        assert!(controller.fuel_cut);
        let slow = Situation {
            rpm: 1100.0,
            ..overrun
        };
        assert_eq!(run(&mut controller, slow, 1.0), Loop::Closed);
    }
}
