//! Loggers and ports: what is asked, how fast, and what the car leaves out.

use pintle::{
    simulator::car::fleet::CarSpec,
    vehicle::{AirMetering, Injection},
};

use super::dice::Dice;

/// What the car's misfire counters are worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Counters {
    /// The car has none, or the logger does not ask.
    Absent,
    /// They count.
    Live,
    /// They answer and never move.
    NeverMove,
    /// Only the average of the last ten driving cycles is told.
    OnlyAverages,
}

/// How a car is recorded.
#[derive(Debug, Clone)]
pub struct Logger {
    /// Asked in every round.
    pub fast: Vec<u8>,
    /// Asked in every `slow_rounds`th round.
    pub slow: Vec<u8>,
    pub slow_rounds: u64,
    /// From one answer to the next, µs, and how many parameters an answer holds.
    pub gap_us: u64,
    pub together: usize,
    /// Least length of a round, µs.
    pub round_us: u64,
    pub counters: Counters,
    /// Counters are asked for in every so many-th round.
    pub counter_rounds: u64,
    pub asks_codes: bool,
}

/// The logger of one car; it stays the same on every trip.
pub fn logger(spec: &CarSpec, dice: &mut Dice) -> Logger {
    let pace = dice.weighed(&[(0.5, 0), (0.33, 1), (0.12, 2), (0.05, 3)]);
    let gap_ms = match pace {
        0 => dice.between(15.0, 40.0),
        1 => dice.between(40.0, 120.0),
        2 => dice.between(150.0, 350.0),
        _ => dice.between(1000.0, 2000.0),
    };
    let very_slow = pace == 3;
    let mut fast = vec![0x0C, 0x06, 0x07, 0x04, 0x0D];
    if spec.banks.len() > 1 {
        fast.extend([0x08, 0x09]);
    }
    let mut slow = vec![0x05];
    if !very_slow {
        // newer engines have both sensors
        let also = dice.chance(0.4);
        let flow = spec.air_metering == AirMetering::Maf || dice.chance(0.15);
        let pressure = spec.air_metering == AirMetering::Map || also;
        fast.extend(flow.then_some(0x10));
        fast.extend(pressure.then_some(0x0B));
        for (pid, share) in [
            (0x03, 0.85),
            (0x44, 0.7),
            (0x2E, 0.7),
            (0x33, 0.75),
            (0x2F, 0.65),
            (0x52, 0.25),
            (0x0F, 0.9),
            (0x1F, 0.9),
            (0x0E, 0.7),
            (0x11, 0.8),
            (0x30, 0.6),
            (0x31, 0.6),
            (0x43, 0.5),
            (0x4E, 0.5),
            (0x51, 0.5),
        ] {
            if dice.chance(share) {
                slow.push(pid);
            }
        }
    }
    Logger {
        fast,
        slow,
        slow_rounds: if very_slow { 6 } else { 5 },
        gap_us: (1000.0 * gap_ms) as u64,
        together: if pace == 0 { 6 } else { 1 },
        round_us: 250_000,
        counters: dice.weighed(&[
            (0.30, Counters::Absent),
            (0.55, Counters::Live),
            (0.09, Counters::NeverMove),
            (0.06, Counters::OnlyAverages),
        ]),
        counter_rounds: if very_slow { 12 } else { 15 },
        asks_codes: dice.chance(0.7),
    }
}

/// A recording that asks for everything the car has, as fast as a CAN bus carries it; how many cars have what is assumed.
#[allow(dead_code)] // one of the benches does without
pub fn whole(spec: &CarSpec, dice: &mut Dice) -> Logger {
    let mut fast = vec![0x0C, 0x06, 0x07, 0x04, 0x0D];
    if spec.banks.len() > 1 {
        fast.extend([0x08, 0x09]);
    }
    let also = dice.chance(0.4);
    fast.extend((spec.air_metering == AirMetering::Maf).then_some(0x10));
    fast.extend((spec.air_metering == AirMetering::Map || also).then_some(0x0B));
    let mut slow = vec![0x05, 0x03, 0x0F, 0x11];
    for (pid, share) in [
        (0x44, 0.85),
        (0x2E, 0.85),
        (0x33, 0.95),
        (0x2F, 0.80),
        (0x52, 0.10),
        (0x1F, 0.95),
        (0x0E, 0.95),
        (0x30, 0.9),
        (0x31, 0.9),
        (0x43, 0.85),
        (0x4E, 0.5),
        (0x51, 0.6),
    ] {
        if dice.chance(share) {
            slow.push(pid);
        }
    }
    Logger {
        fast,
        slow,
        slow_rounds: 5,
        gap_us: (1000.0 * dice.between(15.0, 60.0)) as u64,
        together: 6,
        round_us: 250_000,
        counters: dice.weighed(&[
            (0.15, Counters::Absent),
            (0.75, Counters::Live),
            (0.06, Counters::NeverMove),
            (0.04, Counters::OnlyAverages),
        ]),
        counter_rounds: 12,
        asks_codes: true,
    }
}

impl Logger {
    /// With the rail's pressure, as far as the car tells it and the logger is not a very slow one: few port injections have
    /// a sensor there, nearly every direct one (assumption). `asked` is the share of loggers that ask for what there is.
    #[allow(dead_code)] // one of the benches does without
    pub fn with_rail(mut self, spec: &CarSpec, asked: f64, dice: &mut Dice) -> Self {
        let reported: &[(u8, f64)] = match spec.injection {
            Injection::Port => &[(0x0A, 0.16), (0x22, 0.08), (0x23, 0.10), (0x59, 0.04)],
            Injection::Direct => &[(0x0A, 0.12), (0x23, 0.80), (0x59, 0.30), (0x6D, 0.40)],
        };
        for (pid, share) in reported {
            if dice.chance(asked * share) && self.slow.len() > 1 {
                self.slow.push(*pid);
            }
        }
        self
    }
}
