//! Freeze frame of a misfire code: reported, never judged, as one moment says little.

use pintle_protocol::{Pid, dtc::TroubleCode, service::current_data};
use serde::{Deserialize, Serialize};

/// Codes of misfire: P0300 (several cylinders) to P0312 (ISO 15031-6).
const MISFIRES: std::ops::RangeInclusive<u16> = 0x0300..=0x0312;

/// The freeze frame of a misfire code; `None` for each value that the car did not store.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MisfireFrame {
    /// The code, as in `P0301`.
    pub code: String,
    /// Engine speed, rpm.
    pub engine_rpm: Option<f64>,
    /// Calculated load, percent.
    pub load_pct: Option<f64>,
    /// Vehicle speed, km/h.
    pub speed_km_h: Option<f64>,
    /// Coolant temperature, °C.
    pub coolant_c: Option<f64>,
}

impl MisfireFrame {
    /// A frame of this code, still empty.
    pub fn of(code: TroubleCode) -> Self {
        Self {
            code: code.to_string(),
            ..Self::default()
        }
    }

    /// Takes the data bytes of a parameter.
    pub fn take(&mut self, pid: Pid, data: &[u8]) {
        let place = match pid {
            Pid(0x0C) => &mut self.engine_rpm,
            Pid(0x04) => &mut self.load_pct,
            Pid(0x0D) => &mut self.speed_km_h,
            Pid(0x05) => &mut self.coolant_c,
            _ => return,
        };
        current_data::numbers_of(pid, data, |_, value| *place = Some(value));
    }
}

/// Cylinder whose misfires a code reports, from 1: P0301 to P0312, whose last two digits are decimal (SAE J2012).
pub const fn misfiring_cylinder(code: TroubleCode) -> Option<u8> {
    match code.0 {
        0x0301..=0x0309 => Some((code.0 - 0x0300) as u8),
        0x0310..=0x0312 => Some((code.0 - 0x0310) as u8 + 10),
        _ => None,
    }
}

/// Whether a code reports misfires.
pub fn is_misfire(code: TroubleCode) -> bool {
    MISFIRES.contains(&code.0)
}
