//! Words for the bit-coded and enumerated parameters of service 01 (SAE J1979, Appendix B).

/// Status of one fuel system (PID 03): the bits of its byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FuelSystem {
    /// Not running, or this fuel system does not exist.
    Off,
    /// Open loop: conditions for closed loop not yet met.
    OpenLoopNotReady,
    /// Closed loop on the oxygen sensors.
    ClosedLoop,
    /// Open loop because of driving conditions (power, overrun).
    OpenLoopDriving,
    /// Open loop because of a fault.
    OpenLoopFault,
    /// Closed loop with a fault, for example with one sensor only.
    ClosedLoopFault,
    /// A combination the standard does not define, kept as it came.
    Other(u8),
}

impl FuelSystem {
    /// From the byte of PID 03.
    pub const fn from_byte(byte: u8) -> Self {
        match byte {
            0 => Self::Off,
            0x01 => Self::OpenLoopNotReady,
            0x02 => Self::ClosedLoop,
            0x04 => Self::OpenLoopDriving,
            0x08 => Self::OpenLoopFault,
            0x10 => Self::ClosedLoopFault,
            other => Self::Other(other),
        }
    }

    /// Whether the mixture is under control of an oxygen sensor.
    pub const fn is_closed(self) -> bool {
        matches!(self, Self::ClosedLoop | Self::ClosedLoopFault)
    }
}

/// Words for one byte of PID 03.
pub fn fuel_system(raw: u32) -> String {
    match FuelSystem::from_byte(raw as u8) {
        FuelSystem::Off => "off".to_owned(),
        FuelSystem::OpenLoopNotReady => "open loop, not ready yet".to_owned(),
        FuelSystem::ClosedLoop => "closed loop".to_owned(),
        FuelSystem::OpenLoopDriving => "open loop, driving conditions".to_owned(),
        FuelSystem::OpenLoopFault => "open loop, fault".to_owned(),
        FuelSystem::ClosedLoopFault => "closed loop, fault".to_owned(),
        FuelSystem::Other(byte) => format!("undefined ({byte:02X})"),
    }
}

/// Words for PID 01 and 41, byte A: lamp and number of codes.
pub fn lamp_and_count(raw: u32) -> String {
    let lamp = if raw & 0x80 != 0 {
        "lamp on"
    } else {
        "lamp off"
    };
    format!("{lamp}, {} codes", raw & 0x7F)
}

const CONTINUOUS: [&str; 3] = ["misfire", "fuel system", "components"];
const SPARK: [&str; 8] = [
    "catalyst",
    "heated catalyst",
    "evaporative system",
    "secondary air",
    "gasoline particulate filter",
    "oxygen sensor",
    "oxygen sensor heater",
    "exhaust gas recirculation",
];
const COMPRESSION: [&str; 8] = [
    "NMHC catalyst",
    "NOx aftertreatment",
    "",
    "boost pressure",
    "",
    "exhaust gas sensor",
    "particulate filter",
    "exhaust gas recirculation",
];

/// Words for bytes B, C, D of PID 01 and 41: which monitors have run, which are still open.
pub fn readiness(raw: u32) -> String {
    let [_, b, supported, open] = raw.to_be_bytes();
    let names = if b & 0x08 != 0 { COMPRESSION } else { SPARK };
    let continuous = (0..3)
        .filter(|bit| b >> bit & 1 == 1)
        .map(|bit| (bit, b >> (bit + 4) & 1));
    let others = (0..8)
        .filter(|bit| supported >> bit & 1 == 1)
        .map(|bit| (bit, open >> bit & 1));
    let word = |name: &str, open| format!("{name} {}", if open == 1 { "open" } else { "complete" });
    let mut words: Vec<String> = continuous
        .filter_map(|(bit, open)| CONTINUOUS.get(bit).map(|name| word(name, open)))
        .collect();
    words.extend(others.filter_map(|(bit, open)| names.get(bit).map(|name| word(name, open))));
    words.join(", ")
}

/// Words for PID 12: where secondary air goes.
pub fn secondary_air(raw: u32) -> String {
    let text = match raw {
        1 => "upstream of the catalyst",
        2 => "downstream of the catalyst",
        4 => "to the outside or off",
        8 => "pump on for diagnosis",
        _ => return format!("undefined ({raw:02X})"),
    };
    text.to_owned()
}

fn set_bits(raw: u32, name: impl Fn(u32) -> String) -> String {
    let names: Vec<String> = (0..8).filter(|bit| raw >> bit & 1 == 1).map(name).collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

/// Words for PID 13: oxygen sensors of two banks with four sensors each.
pub fn sensors_two_banks(raw: u32) -> String {
    set_bits(raw, |bit| {
        format!("bank {} sensor {}", bit / 4 + 1, bit % 4 + 1)
    })
}

/// Words for PID 1D: oxygen sensors of four banks with two sensors each.
pub fn sensors_four_banks(raw: u32) -> String {
    set_bits(raw, |bit| {
        format!("bank {} sensor {}", bit / 2 + 1, bit % 2 + 1)
    })
}

/// Words for PID 1C: which diagnostic regulation the car was built to.
pub fn regulation(raw: u32) -> String {
    let text = match raw {
        1 => "OBD II (California)",
        2 => "OBD (US federal)",
        3 => "OBD and OBD II",
        4 => "OBD I",
        5 => "none",
        6 => "EOBD",
        7 => "EOBD and OBD II",
        8 => "EOBD and OBD",
        9 => "EOBD, OBD and OBD II",
        10 => "JOBD",
        11 => "JOBD and OBD II",
        12 => "JOBD and EOBD",
        13 => "JOBD, EOBD and OBD II",
        17 => "EMD",
        18 => "EMD+",
        19 => "HD OBD-C",
        20 => "HD OBD",
        21 => "WWH OBD",
        23 => "HD EOBD-I",
        24 => "HD EOBD-I N",
        25 => "HD EOBD-II",
        26 => "HD EOBD-II N",
        28 => "OBDBr-1",
        29 => "OBDBr-2",
        30 => "KOBD",
        31 => "IOBD I",
        32 => "IOBD II",
        33 => "HD EOBD-VI",
        34 => "OBD, OBD II and HD OBD",
        35 => "OBDBr-3",
        _ => return format!("code {raw}"),
    };
    text.to_owned()
}

/// Words for PID 1E: power take-off.
pub fn power_take_off(raw: u32) -> String {
    if raw & 1 == 1 {
        "power take-off active"
    } else {
        "power take-off off"
    }
    .to_owned()
}

const FUELS: [&str; 24] = [
    "not available",
    "petrol",
    "methanol",
    "ethanol",
    "diesel",
    "LPG",
    "CNG",
    "propane",
    "electric",
    "bifuel, on petrol",
    "bifuel, on methanol",
    "bifuel, on ethanol",
    "bifuel, on LPG",
    "bifuel, on CNG",
    "bifuel, on propane",
    "bifuel, on electricity",
    "bifuel, electric and combustion",
    "hybrid petrol",
    "hybrid ethanol",
    "hybrid diesel",
    "hybrid electric",
    "hybrid, electric and combustion",
    "hybrid regenerative",
    "bifuel, on diesel",
];

/// Words for PID 51: type of fuel.
pub fn fuel_type(raw: u32) -> String {
    let known = FUELS.get(raw as usize);
    known.map_or_else(|| format!("code {raw}"), |name| (*name).to_owned())
}

/// Words for PID 65, byte B: state of auxiliary inputs.
pub fn auxiliary(raw: u32) -> String {
    let names = [
        "power take-off",
        "automatic in gear",
        "manual in gear",
        "glow plug lamp",
    ];
    set_bits(raw, |bit| {
        names
            .get(bit as usize)
            .map_or_else(|| format!("bit {bit}"), |name| (*name).to_owned())
    })
}

/// Words for a code that has no list here: its raw number in hex.
pub fn raw_hex(raw: u32) -> String {
    format!("{raw:X}")
}
