//! Service 01 values as bytes.

use crate::simulator::car::{
    engine::{BankReadings, SensorReadings},
    fleet::CarSpec,
};

use super::{is_mask, support_mask};

/// Values of the engine controller at one moment.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// Readings of the engine.
    pub engine: SensorReadings,
    /// Road speed, km/h.
    pub speed_km_h: f64,
    /// Fuel in the tank, percent.
    pub fuel_level_pct: f64,
    /// Supply voltage, V.
    pub volts: f64,
    /// Confirmed codes.
    pub codes: u8,
    /// Whether the check-engine light is on.
    pub lamp: bool,
    /// Distance and minutes with the check-engine light on.
    pub with_lamp: (f64, f64),
    /// Warm-ups, distance (km) and minutes since codes were cleared.
    pub since_clear: (u8, f64, f64),
    /// Code that caused the freeze frame, if there is one.
    pub frozen_code: Option<u16>,
}

/// Parameters that every engine controller of the fleet supports; the masks come by themselves.
const COMMON: [u8; 15] = [
    0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x11, 0x13, 0x14, 0x15, 0x1C,
];
/// What those have beside them that were made for CAN.
const SINCE_CAN: [u8; 20] = [
    0x02, 0x1F, 0x21, 0x2E, 0x2F, 0x30, 0x31, 0x33, 0x41, 0x42, 0x43, 0x44, 0x45, 0x46, 0x47, 0x49,
    0x4A, 0x4C, 0x4E, 0x51,
];

/// Parameters of the transmission controller.
pub const TRANSMISSION: [u8; 4] = [0x01, 0x0C, 0x0D, 0x42];

/// Parameters that the car's engine controller supports.
pub fn supported(spec: &CarSpec) -> impl Iterator<Item = u8> + use<'_> {
    let since_can = SINCE_CAN.into_iter().filter(|_| spec.bus.is_can());
    COMMON
        .into_iter()
        .chain(since_can)
        .chain(spec.more_pids.iter().copied())
}

/// The data bytes of one parameter, `None` when the controller does not have it.
pub fn encode(pid: u8, spec: &CarSpec, now: &Snapshot) -> Option<Vec<u8>> {
    if is_mask(pid) {
        return mask(pid, || supported(spec));
    }
    supported(spec)
        .any(|item| item == pid)
        .then(|| value(pid, now))?
}

/// The data bytes of one parameter of the transmission controller.
pub fn encode_transmission(pid: u8, now: &Snapshot) -> Option<Vec<u8>> {
    match pid {
        mask_pid if is_mask(mask_pid) => mask(pid, || TRANSMISSION.into_iter()),
        0x01 => Some(vec![0, 0, 0, 0]),
        pid if TRANSMISSION.contains(&pid) => value(pid, now),
        _ => None,
    }
}

fn mask<I: Iterator<Item = u8>>(pid: u8, items: impl Fn() -> I) -> Option<Vec<u8>> {
    let reaches = pid == 0 || items().any(|item| item > pid);
    reaches.then(|| support_mask(pid, items()).to_vec())
}

fn value(pid: u8, now: &Snapshot) -> Option<Vec<u8>> {
    let engine = &now.engine;
    let bank = |index: usize| engine.banks.get(index);
    Some(match pid {
        0x01 => monitor_status(now),
        0x02 => now.frozen_code.unwrap_or(0).to_be_bytes().to_vec(),
        0x03 => {
            let status = engine.mode as u8;
            vec![status, if engine.banks.len() > 1 { status } else { 0 }]
        }
        0x04 => vec![percent(engine.load_pct)],
        0x05 => vec![celsius(engine.coolant_c)],
        0x06 => vec![trim(bank(0)?.short_pct)],
        0x07 => vec![trim(bank(0)?.long_pct)],
        0x08 => vec![trim(bank(1)?.short_pct)],
        0x09 => vec![trim(bank(1)?.long_pct)],
        0x0A => vec![byte(engine.rail.low_kpa / 3.0)],
        0x0B => vec![byte(engine.manifold_kpa)],
        0x0C => word(engine.rpm * 4.0),
        0x0D => vec![byte(now.speed_km_h)],
        0x0E => vec![byte((engine.spark_deg + 64.0) * 2.0)],
        0x0F => vec![celsius(engine.intake_c)],
        0x10 => word(engine.air_g_per_s * 100.0),
        0x11 => vec![percent(engine.throttle_pct)],
        0x13 => vec![if engine.banks.len() > 1 { 0x33 } else { 0x03 }],
        0x14 => front_sensor(bank(0)?),
        0x18 => front_sensor(bank(1)?),
        0x15 | 0x19 => vec![byte(0.68 / 0.005), 0xFF],
        0x1C => vec![0x06],
        0x1F => word(engine.run_time_s),
        0x21 => word(now.with_lamp.0),
        0x22 => {
            let vacuum = engine.barometer_kpa - engine.manifold_kpa;
            word((engine.rail.gauge_kpa + vacuum) / 0.079)
        }
        0x23 => word(engine.rail.gauge_kpa / 10.0),
        0x2E => vec![percent(engine.purge_pct)],
        0x2F => vec![percent(now.fuel_level_pct)],
        0x30 => vec![now.since_clear.0],
        0x31 => word(now.since_clear.1),
        0x33 => vec![byte(engine.barometer_kpa)],
        0x41 => vec![0x00, 0x07, 0x65, 0x00],
        0x42 => word(now.volts * 1000.0),
        0x43 => word(engine.absolute_load_pct * 255.0 / 100.0),
        0x44 => word(engine.lambda * 32768.0),
        0x45 => vec![percent(engine.throttle_pct - 12.0)],
        0x46 => vec![celsius(engine.ambient_c)],
        0x47 => vec![percent(engine.throttle_pct + 0.4)],
        0x49 => vec![percent(15.0 + (engine.throttle_pct - 12.0).max(0.0))],
        0x4A => vec![percent(7.5 + (engine.throttle_pct - 12.0).max(0.0) / 2.0)],
        0x4C => vec![percent(engine.throttle_pct - 11.5)],
        0x4D => word(now.with_lamp.1),
        0x4E => word(now.since_clear.2),
        0x51 => vec![0x01],
        0x52 => vec![percent(engine.ethanol_pct)],
        0x59 => word((engine.rail.gauge_kpa + engine.barometer_kpa) / 10.0),
        0x6D => rail_control(engine),
        _ => return None,
    })
}

/// PID 01: check-engine light and count; misfire, fuel system and components watched and ready; catalyst, evaporation, oxygen
/// sensors and their heaters watched, complete unless codes were cleared lately.
fn monitor_status(now: &Snapshot) -> Vec<u8> {
    let lamp = if now.lamp { 0x80 } else { 0x00 };
    let watched = 0b0110_0101;
    let incomplete = if now.since_clear.0 < 2 { watched } else { 0 };
    vec![lamp | now.codes.min(0x7F), 0x07, watched, incomplete]
}

fn front_sensor(bank: &BankReadings) -> Vec<u8> {
    vec![byte(bank.volts / 0.005), trim(bank.short_pct)]
}

/// PID 6D with one rail: which quantities there are (commanded and actual pressure), both in steps of 10 kPa, and the
/// temperature, which there is not.
fn rail_control(engine: &SensorReadings) -> Vec<u8> {
    let pressure = |kpa: f64| word(kpa / 10.0);
    [
        vec![0b0000_0011],
        pressure(engine.rail.commanded_kpa),
        pressure(engine.rail.gauge_kpa),
        vec![0],
    ]
    .concat()
}

/// Rounded and held inside one byte.
fn byte(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

fn word(value: f64) -> Vec<u8> {
    (value.round().clamp(0.0, 65535.0) as u16)
        .to_be_bytes()
        .to_vec()
}

/// 0 to 100 % over 255 steps.
fn percent(value: f64) -> u8 {
    byte(value * 255.0 / 100.0)
}

/// −40 to 215 °C.
fn celsius(value: f64) -> u8 {
    byte(value + 40.0)
}

/// −100 to +99.2 % in steps of 1/128.
fn trim(percent: f64) -> u8 {
    byte(percent * 128.0 / 100.0 + 128.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked values from the scalings of SAE J1979 (from memory): trim 0x80 is 0 %, 0x8C is +9.4 %; 0x7B is 83 °C;
    /// 1726 rpm is 1AF8.
    #[test]
    fn values_take_the_standard_form() {
        assert_eq!((trim(0.0), trim(9.375), trim(-100.0)), (0x80, 0x8C, 0x00));
        assert_eq!(celsius(83.0), 0x7B);
        assert_eq!(word(1726.0 * 4.0), [0x1A, 0xF8]);
        assert_eq!((percent(100.0), percent(-3.0)), (0xFF, 0x00));
    }
}
