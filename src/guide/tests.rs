//! Guided runs as a technician goes through them.

mod cars;
mod earlier;
mod keys;
mod places;
mod words;

use pintle_protocol::{Item, Pid};

use super::*;
use crate::series::{Builder, Observation, summary::Summary};

/// How a made-up car runs for a while.
#[derive(Debug, Clone, Copy)]
struct Held {
    rpm: f64,
    km_h: f64,
    load: f64,
    coolant: f64,
    /// Fuel system status of SAE J1979: 1 open and cold, 2 closed, 4 open by load or overrun.
    status: f64,
    short: f64,
}

/// A warm idle.
const IDLE: Held = Held {
    rpm: 750.0,
    km_h: 0.0,
    load: 25.0,
    coolant: 90.0,
    status: 2.0,
    short: 1.0,
};
/// 2500 rpm without load.
const RAISED: Held = Held {
    rpm: 2500.0,
    load: 28.0,
    ..IDLE
};
/// A light cruise.
const CRUISE: Held = Held {
    rpm: 2200.0,
    km_h: 70.0,
    load: 35.0,
    ..IDLE
};
/// A pull under load.
const PULL: Held = Held {
    rpm: 2600.0,
    km_h: 80.0,
    load: 70.0,
    ..IDLE
};

/// A car on a guided run, read once a second.
struct Guided {
    builder: Builder,
    run: Run,
    second: u64,
}

impl Guided {
    fn new(before: &[Summary]) -> Self {
        Self {
            builder: Builder::keeping_course(),
            run: Run::new(before),
            second: 0,
        }
    }

    /// Warm, and at this step.
    fn at(title: &str) -> Self {
        let mut guided = Self::new(&[]);
        guided.hold(10, IDLE);
        while guided.guidance().title != title {
            guided.run.skip();
        }
        guided
    }

    fn hold(&mut self, seconds: u64, held: Held) -> &mut Self {
        self.moving(seconds, |_| held)
    }

    fn moving(&mut self, seconds: u64, held: impl Fn(u64) -> Held) -> &mut Self {
        for _ in 0..seconds {
            for (item, value) in readings(self.second, held(self.second)) {
                let t_us = self.second * 1_000_000;
                self.builder.push(Observation { t_us, item, value });
                self.follow();
            }
            self.second += 1;
        }
        self
    }

    fn follow(&mut self) {
        let running = self.builder.running();
        for second in self.builder.drain_course() {
            self.run.advance(&second, &running);
        }
    }

    fn guidance(&self) -> Guidance {
        self.run.guidance()
    }

    fn words(&self) -> String {
        self.guidance().feedback.to_string()
    }

    fn counted(&self) -> f64 {
        self.guidance().progress.counted_seconds
    }
}

/// No sensor of a running engine says the same to the bit every second.
fn readings(second: u64, held: Held) -> [(Item, f64); 7] {
    let live = if second.is_multiple_of(2) { 0.2 } else { -0.2 };
    [
        (Pid::ENGINE_SPEED, held.rpm * (1.0 + live / 100.0)),
        (Pid::VEHICLE_SPEED, held.km_h),
        (Pid::LOAD, held.load + live),
        (Pid::COOLANT, held.coolant),
        (Pid::FUEL_SYSTEM, held.status),
        (Pid::SHORT_TRIM_BANK_1, held.short * (1.0 + live)),
        (Pid::LONG_TRIM_BANK_1, 3.0),
    ]
    .map(|(pid, value)| (Item::current(pid), value))
}

/// A capture in which each of these was held for so long.
fn capture(held: &[(u64, Held)]) -> Summary {
    let mut guided = Guided::new(&[]);
    for (seconds, held) in held {
        guided.hold(*seconds, *held);
    }
    guided.builder.finish()
}
