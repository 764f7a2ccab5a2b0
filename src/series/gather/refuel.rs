//! Fuel filled in while a recording ran, and how far the corrections moved with it.
//!
//! A tank is filled at a stand, and not within a minute. So each such stand is looked at: did the gauge, averaged over its
//! swing, stand higher once the car drove again? The seconds of the stand itself belong to neither side.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::estimate::{slow_variance, usual},
        gather::operation::Mean,
        label::Label,
        label::region::{ByRegion, Region, STANDING_KMH},
        summary::{Filling, Moved},
        tank::SWING,
        timeline::moment::Moment,
        timeline::quantity::Quantity,
    },
};

/// Nobody fills a tank faster, s (common practice: 35 to 50 L a minute, and the walk to the till).
const STAND_S: u64 = 60;
/// The gauge is averaged over so many seconds of driving.
const GAUGE_S: f64 = 30.0;
/// A side counts from so many seconds on.
const LEAST_S: f64 = 20.0;

/// Corrections of one side.
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

/// What the car does, as far as filling goes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
enum Doing {
    #[default]
    Drives,
    /// For so many seconds.
    Stands(u64),
    /// Drives again after a long stand; the gauge is read.
    DrivesAgain,
}

/// Watches the gauge at every long stand, until fuel was filled in.
#[derive(Debug, Clone, Default)]
pub struct FillingWatch {
    doing: Doing,
    last_second: Option<u64>,
    /// The gauge as it was driven with last, averaged, percent.
    gauge_pct: Option<f64>,
    again_pct: Mean,
    again_s: f64,
    filled: Option<(f64, f64)>,
    before: Side,
    stand: Side,
    again: Side,
    after: Side,
}

impl FillingWatch {
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

    /// The gauge was read after a stand, or the car stands again before it could be: the same as if it had not risen.
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

    /// What is known of a filling.
    pub fn summary(&self) -> Option<Filling> {
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
        Some(Filling {
            from_pct,
            to_pct,
            moved,
        })
    }
}
