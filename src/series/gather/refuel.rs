//! Refuelling during a recording, and how far the fuel trims moved with it.
//!
//! A tank is filled at a standstill that lasts more than a minute. So each such stop is examined: was the gauge,
//! averaged over its swing, higher once the car drove again? The seconds of the stop itself belong to neither side.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::{
            estimate::{slow_variance, usual},
            operation::Mean,
        },
        label::{
            Label,
            region::{ByRegion, Region, STANDING_KMH},
        },
        summary::{Moved, Refuelling},
        tank::SWING,
        timeline::{moment::Moment, quantity::Quantity},
    },
};

/// Shortest stop in which a tank is filled, s (common practice: 35 to 50 L a minute, and the walk to the till).
const STAND_S: u64 = 60;
/// Seconds of driving over which the gauge is averaged (assumed).
const GAUGE_S: f64 = 30.0;
/// Seconds of recording from which a side counts (assumed).
const LEAST_S: f64 = 20.0;

/// Fuel trims of one side.
#[derive(Debug, Clone, Default)]
struct Side(ByBank<ByRegion<(f64, f64)>>);

impl Side {
    fn push(&mut self, bank: Bank, region: Region, y: f64) {
        let (seconds, sum) = &mut self.0[bank][region];
        *seconds += 1.0;
        *sum += y;
    }

    fn take_in(&mut self, other: &mut Self) {
        for (bank, regions) in std::mem::take(other).0 {
            for (region, (more_seconds, more)) in regions {
                let (seconds, sum) = &mut self.0[bank][region];
                *seconds += more_seconds;
                *sum += more;
            }
        }
    }
}

/// State of the car as far as refuelling goes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
enum Doing {
    #[default]
    Drives,
    /// The car is at a standstill, for this many seconds.
    Stands(u64),
    /// The car drives again after a long stop; the gauge is averaged.
    DrivesAgain,
}

/// Watches the gauge at every long stop, until the car was refuelled.
#[derive(Debug, Clone, Default)]
pub struct RefuellingWatch {
    doing: Doing,
    last_second: Option<u64>,
    /// Mean gauge level of the latest driving, percent.
    gauge_pct: Option<f64>,
    again_pct: Mean,
    again_s: f64,
    filled: Option<(f64, f64)>,
    before: Side,
    stand: Side,
    again: Side,
    after: Side,
}

impl RefuellingWatch {
    /// Takes a moment, whatever its label.
    pub fn moment(&mut self, moment: &Moment, label: Label) {
        let since = self.last_second.map_or(1, |last| moment.second - last);
        self.last_second = Some(moment.second);
        if self.filled.is_some() {
            return;
        }
        let speed = moment.get(Quantity::VehicleSpeed);
        let stands = match speed {
            Some(speed) => speed < STANDING_KMH,
            None => label == Label::EngineOff || since > STAND_S,
        };
        let level = moment.get(Quantity::FuelLevel);
        match (self.doing, stands) {
            (Doing::Drives, true) => self.doing = Doing::Stands(since),
            (Doing::Stands(seconds), true) => self.doing = Doing::Stands(seconds + since),
            (Doing::Stands(seconds), false) if seconds + since >= STAND_S => {
                self.doing = Doing::DrivesAgain;
                (self.again_pct, self.again_s) = (Mean::default(), 0.0);
            }
            (Doing::Stands(_), false) => {
                self.before.take_in(&mut self.stand);
                self.doing = Doing::Drives;
            }
            (Doing::DrivesAgain, true) => self.decide(Doing::Stands(since)),
            (Doing::DrivesAgain, false) => {
                self.again_pct.push(level);
                self.again_s += f64::from(u8::from(level.is_some()));
                if self.again_s >= GAUGE_S {
                    self.decide(Doing::Drives);
                }
            }
            (Doing::Drives, false) => {
                if let Some(level) = level {
                    let before = self.gauge_pct.unwrap_or(level);
                    self.gauge_pct = Some(before + (level - before) / GAUGE_S);
                }
            }
        }
    }

    /// Compares the gauge before and after a stop; if the car stops again before the gauge is averaged, the level
    /// counts as unchanged.
    fn decide(&mut self, next: Doing) {
        let now = self.again_pct.get().filter(|_| self.again_s >= GAUGE_S);
        if let Some((before, now)) = self.gauge_pct.zip(now)
            && now - before >= SWING
        {
            self.filled = Some((before, now));
            self.after.take_in(&mut self.again);
            self.stand = Side::default();
        } else {
            self.before.take_in(&mut self.stand);
            self.before.take_in(&mut self.again);
        }
        self.doing = next;
    }

    /// Takes one second of one bank that counts, after its moment.
    pub fn push(&mut self, bank: Bank, region: Region, y: f64) {
        let side = match (self.filled, self.doing) {
            (Some(_), _) => &mut self.after,
            (None, Doing::Drives) => &mut self.before,
            (None, Doing::Stands(_)) => &mut self.stand,
            (None, Doing::DrivesAgain) => &mut self.again,
        };
        side.push(bank, region, y);
    }

    /// The refuelling with its movements; `None` where there was none.
    pub fn summary(&self) -> Option<Refuelling> {
        let (from_pct, to_pct) = self.filled?;
        let mut moved = Vec::new();
        for (bank, regions) in self.before.0 {
            for (region, (before_s, before)) in regions {
                let (after_s, after) = self.after.0[bank][region];
                if before_s < LEAST_S || after_s < LEAST_S {
                    continue;
                }
                let variance =
                    |seconds: f64| usual(Some(region)) / seconds + slow_variance(seconds);
                moved.push(Moved {
                    bank: bank.number(),
                    region,
                    by_log: after / after_s - before / before_s,
                    std_error_log: (variance(before_s) + variance(after_s)).sqrt(),
                    after_share: after_s / (before_s + after_s),
                });
            }
        }
        Some(Refuelling {
            from_pct,
            to_pct,
            moved,
        })
    }
}
