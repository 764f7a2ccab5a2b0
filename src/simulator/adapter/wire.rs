//! How messages look on each bus and how long they take there.
//!
//! Times in µs, by ISO 9141-2, ISO 14230-2/-4 and SAE J1850 (from memory).

use crate::simulator::bus::{Bus, BusFamily};

/// A byte of ten bits at 10 400 baud.
const KLINE_BYTE_US: u64 = 962;
/// Silence between two bytes of the tester (P4: 5 to 20 ms), µs.
const KLINE_TESTER_GAP_US: u64 = 5_000;
/// Silence between two bytes of a controller (P1: up to 20 ms), µs.
const KLINE_CONTROLLER_GAP_US: u64 = 1_000;
/// Shortest silence before an answer, also after another controller's (P2), µs.
const KLINE_BEFORE_ANSWER_US: u64 = 25_000;
/// Shortest silence before the next request (P3), µs.
const KLINE_BEFORE_REQUEST_US: u64 = 55_000;
/// Time of a byte on J1850 with variable pulse width, µs: bits average 96 µs.
const VPW_BYTE_US: u64 = 8 * 96;
/// Time of beginning and end of a J1850 message with variable pulse width, and of the silence between two, µs.
const VPW_ENDS_US: u64 = 200 + 280;
/// Time of a byte on J1850 with pulse width modulation, µs: bits take 24 µs.
const PWM_BYTE_US: u64 = 8 * 24;
/// Time of beginning and end of a J1850 message with pulse width modulation, and of the silence between two, µs.
const PWM_ENDS_US: u64 = 48 + 72;
const J1850_GAP_US: u64 = 300;
/// A short request on CAN with what the adapter needs to send it.
const CAN_REQUEST_US: u64 = 500;
/// Silence before waking, the address 33 at 5 baud, then synchronisation, key bytes and their confirmation.
const SLOW_WAKE_US: u64 = 300_000 + 2_000_000 + 145_000;
/// Silence before waking, a pulse of 25 ms low and 25 ms high, then the start of communication and its answer.
const FAST_WAKE_US: u64 = 300_000 + 50_000 + 70_000;
/// Time until a controller that does not answer the slow wake-up is given up, µs: W1 is up to 300 ms.
const SLOW_WAKE_FAILS_US: u64 = 300_000 + 2_000_000 + 300_000;
/// Time until a controller that does not answer the fast wake-up is given up, µs: P2 is up to 50 ms.
const FAST_WAKE_FAILS_US: u64 = 300_000 + 50_000 + 25_000 + 100_000;
/// What a search spends on all CAN buses together, and on each J1850 bus.
const CAN_SEARCH_US: u64 = 350_000;
const J1850_SEARCH_US: u64 = 250_000;

/// How a bus is woken, where it must be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Waking {
    /// An address byte at 5 baud.
    Slow,
    /// A short pulse, then a message.
    Fast,
}

/// How a bus is woken; `None` when it is always awake.
pub const fn waking(bus: Bus) -> Option<Waking> {
    match bus {
        Bus::Iso9141 | Bus::Iso14230Slow => Some(Waking::Slow),
        Bus::Iso14230Fast => Some(Waking::Fast),
        _ => None,
    }
}

impl Waking {
    /// How long it takes.
    pub const fn length_us(self) -> u64 {
        match self {
            Self::Slow => SLOW_WAKE_US,
            Self::Fast => FAST_WAKE_US,
        }
    }

    /// How long it takes to see that nobody wakes.
    pub const fn failure_us(self) -> u64 {
        match self {
            Self::Slow => SLOW_WAKE_FAILS_US,
            Self::Fast => FAST_WAKE_FAILS_US,
        }
    }
}

/// How long a search takes until this bus is found: CAN first, then J1850, then K-line woken fast, then at 5 baud.
pub const fn search_us(bus: Bus) -> u64 {
    match bus {
        Bus::Can11At500 | Bus::Can29At500 | Bus::Can11At250 | Bus::Can29At250 => CAN_SEARCH_US,
        Bus::J1850Pwm => CAN_SEARCH_US + J1850_SEARCH_US,
        Bus::J1850Vpw => CAN_SEARCH_US + 2 * J1850_SEARCH_US,
        Bus::Iso14230Fast => CAN_SEARCH_US + 2 * J1850_SEARCH_US + FAST_WAKE_US,
        Bus::Iso9141 | Bus::Iso14230Slow => {
            CAN_SEARCH_US + 2 * J1850_SEARCH_US + FAST_WAKE_FAILS_US + SLOW_WAKE_US
        }
    }
}

/// How long a search takes that finds nothing.
pub const SEARCH_FAILS_US: u64 =
    CAN_SEARCH_US + 2 * J1850_SEARCH_US + FAST_WAKE_FAILS_US + SLOW_WAKE_FAILS_US;

/// Time that a request with this many bytes of data takes.
pub const fn request_us(bus: Bus, data: usize) -> u64 {
    let bytes = data as u64 + 4;
    match bus.family() {
        BusFamily::Can11 | BusFamily::Can29 => CAN_REQUEST_US,
        BusFamily::Kline => bytes * KLINE_BYTE_US + (bytes - 1) * KLINE_TESTER_GAP_US,
        BusFamily::J1850 => j1850_us(bus, bytes),
    }
}

/// Time that an answer on a bus before CAN takes, from its first to its last of `bytes` bytes.
pub const fn answer_us(bus: Bus, bytes: usize) -> u64 {
    let bytes = bytes as u64;
    match bus.family() {
        BusFamily::J1850 => j1850_us(bus, bytes),
        _ => bytes * (KLINE_BYTE_US + KLINE_CONTROLLER_GAP_US) - KLINE_CONTROLLER_GAP_US,
    }
}

const fn j1850_us(bus: Bus, bytes: u64) -> u64 {
    match bus {
        Bus::J1850Pwm => PWM_ENDS_US + bytes * PWM_BYTE_US,
        _ => VPW_ENDS_US + bytes * VPW_BYTE_US,
    }
}

/// Shortest silence before an answer.
pub const fn before_answer_us(bus: Bus) -> u64 {
    match bus.family() {
        BusFamily::Can11 | BusFamily::Can29 => 0,
        BusFamily::Kline => KLINE_BEFORE_ANSWER_US,
        BusFamily::J1850 => J1850_GAP_US,
    }
}

/// Shortest silence before a request.
pub const fn before_request_us(bus: Bus) -> u64 {
    match bus.family() {
        BusFamily::Can11 | BusFamily::Can29 => 0,
        BusFamily::Kline => KLINE_BEFORE_REQUEST_US,
        BusFamily::J1850 => J1850_GAP_US,
    }
}

/// Header of a request to all controllers with this many bytes of data (SAE J1979).
pub fn request_header(bus: Bus, data: usize) -> Vec<u8> {
    match bus {
        Bus::Can11At500 | Bus::Can11At250 => vec![0x07, 0xDF],
        Bus::Can29At500 | Bus::Can29At250 => vec![0x18, 0xDB, 0x33, 0xF1],
        Bus::Iso14230Slow | Bus::Iso14230Fast => vec![0xC0 | data as u8, 0x33, 0xF1],
        Bus::Iso9141 | Bus::J1850Vpw => vec![0x68, 0x6A, 0xF1],
        Bus::J1850Pwm => vec![0x61, 0x6A, 0xF1],
    }
}

/// Header of an answer with this many bytes of data on a bus before CAN (SAE J1979).
pub const fn answer_header(bus: Bus, from: u8, data: usize) -> [u8; 3] {
    match bus {
        Bus::Iso14230Slow | Bus::Iso14230Fast => [0x80 | data as u8, 0xF1, from],
        Bus::J1850Pwm => [0x41, 0x6B, from],
        _ => [0x48, 0x6B, from],
    }
}

/// What follows the data of an answer on a bus before CAN: the sum of all bytes, or the CRC; with pulse width
/// modulation also the byte with which the tester acknowledges in the same frame.
pub fn answer_end(bus: Bus, frame: &[u8]) -> Vec<u8> {
    match bus {
        Bus::J1850Pwm => vec![crc(frame), 0xF1],
        Bus::J1850Vpw => vec![crc(frame)],
        _ => vec![frame.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte))],
    }
}

/// SAE J1850: remainder by x⁸ + x⁴ + x³ + x² + 1, all bits one at the start, complemented at the end.
fn crc(bytes: &[u8]) -> u8 {
    let bits = bytes
        .iter()
        .flat_map(|byte| (0..8).rev().map(move |bit| byte >> bit & 1));
    let mut register = 0xFF_u8;
    for bit in bits {
        let out = register >> 7 ^ bit;
        register <<= 1;
        if out == 1 {
            register ^= 0x1D;
        }
    }
    !register
}

#[cfg(test)]
mod tests {
    use super::*;

    // A frame printed in many places (from memory): 48 6B 10 41 00 BE 3E B8 11 has the check byte FA.
    #[test]
    fn check_bytes_are_those_of_the_standards() {
        let frame = [0x48, 0x6B, 0x10, 0x41, 0x00, 0xBE, 0x3E, 0xB8, 0x11];
        assert_eq!(answer_end(Bus::J1850Vpw, &frame), [0xFA]);
        // 48 + 6B + 10 + 41 + 00 + BE + 3E + B8 + 11 = 2C9
        assert_eq!(answer_end(Bus::Iso9141, &frame), [0xC9]);
    }

    // ISO 9141-2: six bytes at 10 400 baud and five pauses of 5 ms.
    #[test]
    fn a_kline_request_takes_about_thirty_milliseconds() {
        assert_eq!(request_us(Bus::Iso9141, 2), 6 * 962 + 5 * 5_000);
        assert!((7_000..15_000).contains(&answer_us(Bus::Iso9141, 7)));
        assert!(answer_us(Bus::J1850Pwm, 12) < answer_us(Bus::J1850Vpw, 11) / 3);
    }
}
