//! A car watched through its diagnostic answers at a logger's rhythm, without the bytes of an adapter in between.
//!
//! The few answers needed are decoded here by hand from the text of SAE J1979.

use pintle::{
    observation::Observation,
    series::{
        Builder,
        summary::{CodeList, CodeSeen, Summary},
    },
    simulator::car::Car,
};
use pintle_protocol::{Item, Pid, dtc::TroubleCode};

use super::loggers::{Counters, Logger};

/// What a whole trip amounts to.
pub fn watched(car: Car, logger: &Logger) -> Summary {
    let end_us = car.trip().duration_us();
    let mut watcher = Watcher {
        car,
        builder: Builder::new(),
        t_us: 0,
    };
    let mut round = 0;
    while watcher.t_us < end_us {
        let start_us = watcher.t_us;
        watcher.ask_all(&logger.fast, logger);
        if round % logger.slow_rounds == 0 {
            watcher.ask_all(&logger.slow, logger);
        }
        if round % logger.counter_rounds == 0 && logger.counters != Counters::Absent {
            watcher.ask_counters(logger);
        }
        watcher.t_us = watcher.t_us.max(start_us + logger.round_us);
        round += 1;
    }
    if logger.asks_codes {
        watcher.ask_codes(0x03, CodeList::Stored);
        watcher.ask_codes(0x07, CodeList::Pending);
        watcher.ask_frame();
    }
    watcher.builder.finish()
}

struct Watcher {
    car: Car,
    builder: Builder,
    t_us: u64,
}

impl Watcher {
    fn engine_answer(&mut self, request: &[u8]) -> Vec<u8> {
        let answers = self.car.answer(request).into_iter();
        answers
            .map(|answer| answer.payload)
            .next()
            .unwrap_or_default()
    }

    fn push(&mut self, item: Item, value: f64) {
        let t_us = self.t_us;
        self.builder.push(Observation { t_us, item, value });
    }

    fn ask_all(&mut self, pids: &[u8], logger: &Logger) {
        for pids in pids.chunks(logger.together) {
            self.t_us += logger.gap_us;
            self.car.advance_to(self.t_us);
            let answer = self.engine_answer(&[&[0x01], pids].concat());
            let mut rest = answer.get(1..).unwrap_or_default();
            while let [pid, data @ ..] = rest {
                let (data, after) = data.split_at(length(*pid));
                self.read(*pid, data);
                rest = after;
            }
        }
    }

    fn read(&mut self, pid: u8, data: &[u8]) {
        self.push(Item::current(Pid(pid)), value(pid, data));
        match pid {
            0x03 => self.push(Item::part(Pid(pid), 1), f64::from(data[1])),
            0x6D => {
                let actual = f64::from(u16::from_be_bytes([data[3], data[4]]));
                self.push(Item::part(Pid(pid), 1), 10.0 * actual);
            }
            _ => {}
        }
    }

    /// Records of nine bytes: monitor, test, unit, value, limits. Test 0C counts this driving cycle, 0B is the average
    /// of ten.
    fn ask_counters(&mut self, logger: &Logger) {
        let cylinders = self.car.spec().cylinder_count() as u8;
        for monitor in 0xA2..0xA2 + cylinders {
            self.t_us += logger.gap_us;
            self.car.advance_to(self.t_us);
            let answer = self.engine_answer(&[0x06, monitor]);
            for record in answer.get(1..).unwrap_or_default().chunks_exact(9) {
                let reported = match logger.counters {
                    Counters::OnlyAverages => record[1] == 0x0B,
                    _ => true,
                };
                let moves = logger.counters != Counters::NeverMove;
                let value = u16::from_be_bytes([record[3], record[4]]);
                if reported {
                    let value = if moves { f64::from(value) } else { 0.0 };
                    self.push(Item::monitor(record[0], record[1]), value);
                }
            }
        }
    }

    /// The frame's code first (parameter 02), then its values.
    fn ask_frame(&mut self) {
        let answer = self.engine_answer(&[0x02, 0x02, 0x00]);
        let Some([high, low]) = answer.get(3..5) else {
            return;
        };
        let Some(code) = TroubleCode::from_bytes([*high, *low]) else {
            return;
        };
        self.builder.push_frozen_code(code);
        for pid in FRAME {
            let answer = self.engine_answer(&[0x02, pid, 0x00]);
            if let Some(data) = answer.get(3..) {
                self.builder.push_frozen_value(Pid(pid), data);
            }
        }
    }

    fn ask_codes(&mut self, service: u8, list: CodeList) {
        let answer = self.engine_answer(&[service]);
        self.builder.push_codes_asked();
        for code in answer.get(2..).unwrap_or_default().chunks_exact(2) {
            let code = TroubleCode(u16::from_be_bytes([code[0], code[1]]));
            self.builder.push_code(CodeSeen { code, list });
        }
    }
}

/// What the freeze frame is asked for: speed, load, road speed, coolant.
const FRAME: [u8; 4] = [0x0C, 0x04, 0x0D, 0x05];

/// Data bytes of a parameter (SAE J1979).
const fn length(pid: u8) -> usize {
    match pid {
        0x03 | 0x0C | 0x10 | 0x1F | 0x22 | 0x23 | 0x31 | 0x43 | 0x44 | 0x4E | 0x59 => 2,
        0x6D => 6,
        _ => 1,
    }
}

/// The value of a parameter by its formula in SAE J1979.
fn value(pid: u8, data: &[u8]) -> f64 {
    let a = f64::from(data[0]);
    let word = || a * 256.0 + f64::from(data[1]);
    match pid {
        0x04 | 0x11 | 0x2E | 0x2F | 0x52 => a * 100.0 / 255.0,
        0x05 | 0x0F => a - 40.0,
        0x06..=0x09 => a * 100.0 / 128.0 - 100.0,
        0x0A => a * 3.0,
        0x0C => word() / 4.0,
        0x0E => a / 2.0 - 64.0,
        0x10 => word() / 100.0,
        0x1F | 0x31 | 0x4E => word(),
        0x22 => word() * 0.079,
        0x23 | 0x59 => word() * 10.0,
        0x43 => word() * 100.0 / 255.0,
        0x44 => word() / 32768.0,
        0x6D => 10.0 * (f64::from(data[1]) * 256.0 + f64::from(data[2])),
        _ => a,
    }
}
